//! Voltage drop over current at a stated time after the current rose from rest: 100 ms, 1 s, 10 s.
//!
//! Each is *measured at that time*, from rows around it: never a fitted "R0", never a model carried past the end of a
//! pulse or across a hole in the rows. (A 2 s pulse fitted with one RC pair misses the resistance at 10 s by 4 mOhm of
//! 64 on the DFN model; that is why.) Of several pulses the one with the largest current that reaches the time is used.

use super::measurement::Measurement;
use super::rest_voltage::last;
use super::{Conditions, Estimate, Quantity};
use crate::segment::{Kind, Segment};
use crate::si::{Ohms, Seconds, Volts};
use std::ops::Range;

/// Rows within this share of the time are rows around it.
const AROUND: f64 = 0.1;
/// Where there are fewer than this, the share is doubled.
const ENOUGH_ROWS: usize = 5;
const WIDER: f64 = 0.2;
/// Currents are told apart by this share of It.
const SAME_PULSE: f64 = 0.05;
/// A lone row must be this close.
const LONE: f64 = 0.05;
/// The moment of the step must be known to this share of the time.
const EDGE_SHARE: f64 = 0.2;
/// Shortest rest that tells the voltage before the load.
const SHORTEST_REST: Seconds = Seconds(1.0);
/// The part of the rest that its voltage is taken from.
const REST_SHARE: f64 = 0.2;
const LONGEST_REST_PART: Seconds = Seconds(10.0);
/// Rows may be missing for this share of the time on the way to it; beyond, nobody knows what the current did.
const LONGEST_PAUSE: f64 = 0.2;
/// A jump of the voltage by this share of the drop is a contact that moved, not the cell.
const JUMP_SHARE: f64 = 0.1;
/// Shortest share of the time in which the cell itself could move so far, once that share has passed.
const JUMP_WITHIN: f64 = 0.1;
/// Shortest time in which the end of a rest could move so far.
const REST_JUMP_WITHIN: Seconds = Seconds(1.0);
/// A resistance below this many standard uncertainties is not told from none.
const LEAST_SIGNIFICANCE: f64 = 3.0;

/// Estimates the resistance at the time that belongs to a quantity.
pub(super) fn resistance_at(
    m: &Measurement<'_>,
    quantity: Quantity,
    after: Seconds,
) -> Result<Estimate, String> {
    let is_load = |index: &usize| m.segments.get(*index).is_some_and(|segment| segment.kind == Kind::Load);
    let mut pulses: Vec<(usize, usize)> =
        (0..m.segments.len()).filter(is_load).filter_map(|load| Some((m.rest_before(load)?, load))).collect();
    if pulses.is_empty() {
        return Err("the trace has no load that rises from a rest".to_owned());
    }
    // Pulses of nearly one current count as equal, and the first of them is used.
    let step = SAME_PULSE * m.unit_current().0;
    let current =
        |load: usize| m.segments.get(load).map_or(0.0, |segment| (segment.current.0 / step).round());
    pulses.sort_by(|a, b| current(b.1).total_cmp(&current(a.1)));
    let mut why = String::new();
    for (rest, load) in pulses {
        match from_pulse(m, rest, load, quantity, after) {
            Ok(estimate) => return Ok(estimate),
            // The first refusal is that of the largest pulse, the one people will ask about.
            Err(this) if why.is_empty() => why = this,
            Err(_) => {}
        }
    }
    Err(why)
}

fn from_pulse(
    m: &Measurement<'_>,
    rest: usize,
    load: usize,
    quantity: Quantity,
    after: Seconds,
) -> Result<Estimate, String> {
    let (Some(before), Some(pulse)) = (m.segments.get(rest), m.segments.get(load)) else {
        return Err("the pulse lies outside the trace".to_owned());
    };
    let edge = pulse.start;
    let told = format!("the pulse of {:.3} A", pulse.current.0);
    if before.duration() < SHORTEST_REST {
        return Err(format!(
            "{told} follows a rest of {:.2} s; at least {} s",
            before.duration().0,
            SHORTEST_REST.0
        ));
    }
    if edge.half_width.0 > EDGE_SHARE * after.0 {
        let text = format!(
            "{told} begins somewhere within {:.3} s; too vague for {} s",
            2.0 * edge.half_width.0,
            after.0
        );
        return Err(text);
    }
    let rows = rows_around(m, load, pulse, after).map_err(|why| format!("{told} {why}"))?;
    let line = m.voltage_at(rows.clone(), edge.time + after).ok_or("no usable rows")?;
    let (current, current_noise) = m.mean_current(rows.clone()).ok_or("no usable rows")?;

    let span = Seconds((before.duration().0 * REST_SHARE).min(LONGEST_REST_PART.0));
    let rest_rows = m.between(m.body(rest), edge.time - span, edge.time);
    let rest_rows = if rest_rows.len() < 3 { last(m.body(rest), 3) } else { rest_rows };
    let resting = m.voltage_at(rest_rows.clone(), edge.time).ok_or("the rest has no usable rows")?;

    let drop = Volts(resting.value - line.value);
    let body = m.body(load);
    refuse_disturbed(m, rest_rows, body, edge.time, drop, after).map_err(|why| format!("{told}: {why}"))?;
    let resistance = drop / current;
    // A rest that still drifts would have gone on drifting; so far the drop is uncertain.
    let drift = (resting.slope.abs() - 2.0 * resting.slope_deviation).max(0.0) * after.0;
    let timing = line.slope.abs() * edge.half_width.0 / 3f64.sqrt();
    let shares = [line.value_deviation, resting.value_deviation, drift, timing];
    let noise = Volts(shares.iter().map(|share| share * share).sum::<f64>().sqrt());
    let deviation: Ohms = m.front_end.of_resistance(resistance, current, noise, current_noise);
    if resistance.0 < LEAST_SIGNIFICANCE * deviation.0 {
        return Err(format!(
            "{told} does not lower the voltage clearly ({:+.2} mV)",
            (line.value - resting.value) * 1e3
        ));
    }
    let method =
        format!("voltage drop over current, measured {} s after the current rose from rest", after.0);
    let mut estimate = Estimate::new(quantity, resistance.0, deviation.0, &method);
    estimate.conditions = Conditions {
        current_a: Some(current.0),
        second_current_a: None,
        duration_s: Some(after.0),
        temperature_c: m.cell_temperature(rows).map(|cell| cell.0),
        rest_voltage_v: Some(resting.value),
    };
    if line.used < 3 {
        let rows = if line.used == 1 { "one row".to_owned() } else { format!("{} rows", line.used) };
        estimate.warnings.push(format!("only {rows} near {} s; the number rests on that", after.0));
    }
    if drift / current.0 > 0.02 * resistance.0 {
        estimate.warnings.push("the cell was still relaxing before the pulse".to_owned());
    }
    Ok(estimate)
}

/// Refuses a pulse with rows missing on the way, or a voltage that jumps without the current.
fn refuse_disturbed(
    m: &Measurement<'_>,
    rest: Range<usize>,
    load: Range<usize>,
    start: Seconds,
    drop: Volts,
    after: Seconds,
) -> Result<(), String> {
    let until = m.between(load.clone(), start, start + after).end;
    // One row further, so that a hole right at the time shows.
    let way = load.start..(until + 1).min(load.end);
    let pause = m.longest_pause(way.clone());
    if pause.0 > (LONGEST_PAUSE * after.0).max(4.0 * after.0 / way.len().max(1) as f64) {
        return Err(format!("no rows for {:.3} s on the way to {} s", pause.0, after.0));
    }
    let within = after * JUMP_WITHIN;
    let settled = m.between(load, start + within, start + after + within);
    let places = [(rest, REST_JUMP_WITHIN), (settled, within)];
    match places.into_iter().find_map(|(rows, within)| m.jump(rows, drop.abs() * JUMP_SHARE, within)) {
        Some(at) => {
            Err(format!("the voltage jumps at {:.3} s without the current; check the sense leads", at.0))
        }
        None => Ok(()),
    }
}

/// Returns the rows around a time after the pulse's start.
fn rows_around(
    m: &Measurement<'_>,
    load: usize,
    pulse: &Segment,
    after: Seconds,
) -> Result<Range<usize>, String> {
    let at = pulse.start.time + after;
    let body = m.body(load);
    let newest =
        body.clone().last().and_then(|row| m.trace.points.get(row)).map_or(pulse.start.time, |p| p.time);
    // The last row of a pulse of 10 s may carry a time a little below 10 s; half a row is no extrapolation.
    let slack = (m.usual_period(pulse).0 / 2.0).min(LONE * after.0) + pulse.start.half_width.0;
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
