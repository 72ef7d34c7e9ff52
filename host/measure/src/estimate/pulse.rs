//! Pulses that rise from rest: which rows tell the voltage at a time, what disturbs a pulse, how the rest drifts.

use super::jump::JUMP_WITHIN;
use super::line_fit::Line;
use super::measurement::{LEAST_SIGNIFICANCE, LONGEST_PAUSE, Measurement, SLOPE_SHARE};
use super::rest_voltage::last;
use crate::segment::{Kind, Segment};
use crate::si::{Amps, Seconds, Volts};
use std::ops::Range;

/// The part of the rest that its voltage is taken from.
const REST_SHARE: f64 = 0.2;
const LONGEST_REST_PART: Seconds = Seconds(10.0);
/// Rows within this share of the time are rows around it.
const AROUND: f64 = 0.1;
/// Where there are fewer than this, the share is doubled.
const ENOUGH_ROWS: usize = 5;
const WIDER: f64 = 0.2;
/// A lone row must be this close.
const LONE: f64 = 0.05;
/// Shortest time in which the end of a rest could move so far.
const REST_JUMP_WITHIN: Seconds = Seconds(1.0);
/// How well the law of relaxation tells the drift, as a share (judged).
const DRIFT_DOUBT: f64 = 0.3;

/// A load that rises from a rest, with what the end of that rest tells.
#[derive(Clone, Debug)]
pub(super) struct Pulse {
    /// Its segment.
    pub(super) load: usize,
    /// Segment of the rest before it.
    pub(super) rest: usize,
    /// Rows at the end of that rest.
    pub(super) rest_rows: Range<usize>,
    /// Their voltage, carried to where the current rose.
    pub(super) resting: Option<Line>,
    /// Their current with its standard uncertainty.
    pub(super) resting_current: Option<(Amps, Amps)>,
}

/// Returns the loads that rise from a rest.
pub(super) fn pulses(m: &Measurement<'_>) -> Vec<Pulse> {
    let is_load = |index: &usize| m.segments.get(*index).is_some_and(|segment| segment.kind == Kind::Load);
    (0..m.segments.len()).filter(is_load).filter_map(|load| pulse(m, load)).collect()
}

fn pulse(m: &Measurement<'_>, load: usize) -> Option<Pulse> {
    let rest = m.rest_before(load)?;
    let (before, edge) = (m.segments.get(rest)?, m.segments.get(load)?.start);
    let span = Seconds((before.duration().0 * REST_SHARE).min(LONGEST_REST_PART.0));
    let body = m.body(rest);
    let rows = m.between(body.clone(), edge.time - span, edge.time);
    let rest_rows = if rows.len() < 3 { last(body.clone(), 3) } else { rows };
    let resting = m.end_line(body, rest_rows.clone(), edge.time, span * SLOPE_SHARE);
    let resting_current = m.mean_current(rest_rows.clone());
    Some(Pulse { load, rest, rest_rows, resting, resting_current })
}

/// Returns by how much a rest would have fallen on if no load had come, and the standard uncertainty of that.
///
/// Relaxation slows down as it goes on: its slope falls about as one over the time rested (diffusion's time constant
/// grows with the rest: J. Power Sources 253 (2014) 412). A slope that cannot be distinguished from zero is not corrected.
pub(super) fn drift(resting: &Line, rested: Seconds, after: Seconds) -> (Volts, Volts) {
    let lasting = rested.0 * (after / rested).ln_1p();
    let unknown = resting.slope_deviation * lasting;
    if resting.slope.abs() < LEAST_SIGNIFICANCE * resting.slope_deviation {
        return (Volts(0.0), Volts(unknown));
    }
    let fall = -resting.slope * lasting;
    (Volts(fall), Volts(unknown.hypot(DRIFT_DOUBT * fall)))
}

/// Refuses a pulse with rows missing on the way, or a voltage that jumps without the current; returns a smaller jump.
pub(super) fn refuse_disturbed(
    m: &Measurement<'_>,
    rest: Range<usize>,
    load: Range<usize>,
    start: Seconds,
    drop: Volts,
    after: Seconds,
) -> Result<Volts, String> {
    m.refuse_stuck(rest.clone())?;
    let until = m.between(load.clone(), start, start + after).end;
    // One row further, so that a hole right at the time shows.
    let way = load.start..(until + 1).min(load.end);
    let pause = m.longest_pause(way.clone());
    if pause.0 > (LONGEST_PAUSE * after.0).max(4.0 * after.0 / way.len().max(1) as f64) {
        return Err(format!("no rows for {:.3} s on the way to {} s", pause.0, after.0));
    }
    let within = after * JUMP_WITHIN;
    let settled = m.between(load, start + within, start + after + within);
    let at_rest = m.refuse_jump(rest, drop, REST_JUMP_WITHIN)?;
    let loaded = m.refuse_jump(settled, drop, within)?;
    Ok(Volts(at_rest.0.hypot(loaded.0)))
}

/// Returns the rows around a time after the pulse's start.
pub(super) fn rows_around(
    m: &Measurement<'_>,
    load: usize,
    pulse: &Segment,
    after: Seconds,
) -> Result<Range<usize>, String> {
    let at = pulse.start.time + after;
    let body = m.body(load);
    let newest =
        body.clone().last().and_then(|row| m.trace.points.get(row)).map_or(pulse.start.time, |p| p.time);
    // The last row of a pulse of 10 s may carry a time a little below 10 s; half a row is not an extrapolation.
    let slack = (m.usual_period(load).0 / 2.0).min(LONE * after.0) + pulse.start.half_width.0;
    if (at - newest).0 > slack + 1e-6 {
        return Err(format!("ends after {:.3} s, before {} s", (newest - pulse.start.time).0, after.0));
    }
    let within = |share: f64| m.between(body.clone(), at - after * share, at + after * share);
    let near = within(AROUND);
    if near.len() >= ENOUGH_ROWS {
        return Ok(near);
    }
    let wide = within(WIDER);
    let time = |row: usize| m.trace.points.get(row).map_or(f64::INFINITY, |point| point.time.0);
    let before = wide.clone().any(|row| time(row) <= at.0 + 1e-6);
    let behind = wide.clone().any(|row| time(row) >= at.0 - slack - 1e-6);
    let lone = within(LONE);
    if before && behind && wide.len() >= 2 {
        Ok(wide)
    } else if !lone.is_empty() {
        Ok(lone)
    } else {
        Err(format!("has no rows near {} s to measure it from", after.0))
    }
}
