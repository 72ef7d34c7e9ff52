//! Voltage without load at the end of a rest, and how fast it still drifts there.
//!
//! Takes the last rest before the first load. The value is a line through the rest's last part, seen at its end.
//! Its uncertainty holds noise, gain, offset and what relaxation may still bring: real cells relax for hours, and the
//! slower the longer they have rested, so what is still to come is about drift times rest so far (the time constant of
//! diffusion grows with the rest: J. Power Sources 253 (2014) 412), and never less than [`unrelaxed`] says.

use super::measurement::{Measurement, SLOPE_SHARE};
use super::{Conditions, Estimate, Quantity};
use crate::segment::{Kind, Segment};
use crate::si::{SECONDS_PER_HOUR, Seconds, Volts};
use crate::uncertainty::{Input, Measurand};

/// Line of the budget for what relaxation may still bring.
pub(super) const TO_COME: &str = "relaxation still to come";
/// Shorter rests are not used.
const SHORTEST: Seconds = Seconds(5.0);
/// A drift needs a little longer.
const SHORTEST_FOR_DRIFT: Seconds = Seconds(10.0);
/// Share of the rest that counts as its end.
const END_SHARE: f64 = 0.2;
/// The end is never longer than this.
const LONGEST_END: Seconds = Seconds(60.0);
/// The part over which the drift is taken.
const DRIFT_SHARE: f64 = 0.5;
/// How far a voltage channel and its leads wander within minutes (common practice for 20-bit converters).
const WANDER: Volts = Volts(20e-6);
/// Relaxation cannot bring more than this after a rest of minutes (common practice).
const MOST_RELAXATION: Volts = Volts(0.05);
/// A resting voltage that moves by this much within [`RECOVERY`] is a contact that moved, or a current nobody measured.
pub(super) const JUMP: Volts = Volts(5e-3);
/// For this long after a load, or from the first row on, the cell itself may recover fast.
const RECOVERY: Seconds = Seconds(1.0);
/// What a rest right after a load may still be off by (DFN model: 15 mV after 10 s, 5 mV after 60 s; real cells more).
const AFTER_LOAD: Volts = Volts(0.01);
/// No cell rests below this, whatever was done to it.
const LOWEST: Volts = Volts(-0.5);
/// A rest that common practice calls settled.
pub(super) const SETTLED: Seconds = Seconds(1800.0);

/// Returns what relaxation typically still brings after a rest (common practice: 1 to 3 mV after half an hour, about
/// 1 mV after two to four hours).
pub(super) fn unrelaxed(rested: Seconds) -> Volts {
    match rested.0 {
        rested if rested < SETTLED.0 => Volts(3e-3),
        rested if rested < 7200.0 => Volts(1.5e-3),
        _ => Volts(1e-3),
    }
}

/// A rest that was picked, with what must be said about it.
struct Picked {
    index: usize,
    follows_load: bool,
    warning: Option<String>,
}

/// Estimates the voltage without load.
pub(super) fn rest_voltage(m: &Measurement<'_>) -> Result<Estimate, String> {
    let picked = pick(m)?;
    let segment = rest(m, picked.index)?;
    let at = segment.end.time;
    let rested = segment.duration();
    if picked.follows_load && picked.warning.is_some() && rested < SETTLED {
        return Err(format!(
            "the only usable rest follows a load or a charge and lasts {:.0} s; at least {} s, or a rest before the load",
            rested.0, SETTLED.0
        ));
    }
    let span = Seconds((rested.0 * END_SHARE).min(LONGEST_END.0));
    let range = m.between(m.body(picked.index), at - span, at);
    let range = if range.len() < 3 { last(m.body(picked.index), 3) } else { range };
    let body = m.body(picked.index);
    let line =
        m.end_line(body, range.clone(), at, span * SLOPE_SHARE).ok_or("the rest has no usable rows")?;

    let settled = m.between(m.body(picked.index), segment.start.time + RECOVERY, at);
    if let Some(jump) = m.jump(settled, JUMP, RECOVERY) {
        return Err(format!(
            "the voltage jumps at {:.3} s of the rest without a current; check the leads",
            jump.0
        ));
    }
    m.refuse_stuck(m.body(picked.index))?;
    let voltage = Volts(line.value);
    if voltage < LOWEST {
        return Err(format!("the voltage at rest reads {:.3} V: the leads are swapped", voltage.0));
    }
    let drift = (line.slope.abs() - 2.0 * line.slope_deviation).max(0.0);
    let to_come = Volts((drift * rested.0).min(MOST_RELAXATION.0)).0.max(unrelaxed(rested).0);
    let to_come = if picked.follows_load { to_come.max(AFTER_LOAD.0) } else { to_come };
    let inputs = [
        Input::new("voltage as read", "V", voltage.0, line.value_deviation)
            .with_degrees_of_freedom(line.degrees_of_freedom),
        m.front_end.voltage_gain_error(),
        m.front_end.voltage_offset_error(),
        Input::new(TO_COME, "V", 0.0, to_come),
    ];
    let budget =
        Measurand::new(inputs, |[read, gain, offset, to_come]| read * (1.0 + gain) + offset + to_come)
            .budget();
    let method = "line through the end of the last rest before the first load";
    let mut estimate = Estimate::of(Quantity::RestVoltage, budget, method);
    estimate.conditions = Conditions {
        duration_s: Some(rested.0),
        temperature_c: m.cell_temperature(range).map(|cell| cell.0),
        ..Conditions::default()
    };
    if rested.0 < SETTLED.0 {
        let text = format!("rested {:.0} s only: real cells still relax by millivolts for hours", rested.0);
        estimate.warnings.push(text);
    }
    estimate.warnings.extend(picked.warning);
    Ok(estimate)
}

/// Estimates the drift of the rest voltage; negative falls.
pub(super) fn rest_drift(m: &Measurement<'_>) -> Result<Estimate, String> {
    let picked = pick(m)?;
    let segment = rest(m, picked.index)?;
    if picked.follows_load && picked.warning.is_some() {
        return Err("the rest follows a load or a charge; what drifts there is recovery".to_owned());
    }
    let rested = segment.duration();
    if rested < SHORTEST_FOR_DRIFT {
        return Err(format!("rested {:.1} s; a drift needs at least {} s", rested.0, SHORTEST_FOR_DRIFT.0));
    }
    let span = rested * DRIFT_SHARE;
    let range = m.between(m.body(picked.index), segment.end.time - span, segment.end.time);
    let (body, at) = (m.body(picked.index), segment.end.time);
    let line =
        m.end_line(body, range.clone(), at, span * SLOPE_SHARE).ok_or("the rest has no usable rows")?;
    if line.used < 3 {
        return Err(format!("the second half of the rest has {} rows; a drift needs at least 3", line.used));
    }
    let wander = WANDER.0 / span.0;
    let inputs = [
        Input::new("slope as read", "V/s", line.slope, line.slope_deviation)
            .with_degrees_of_freedom(line.degrees_of_freedom),
        Input::new("wander of channel and leads", "V/s", 0.0, wander),
    ];
    let budget = Measurand::new(inputs, |[slope, wander]| (slope + wander) * SECONDS_PER_HOUR).budget();
    let method = "slope of a line through the second half of the rest";
    let mut estimate = Estimate::of(Quantity::RestDrift, budget, method);
    estimate.conditions = Conditions {
        duration_s: Some(rested.0),
        temperature_c: m.cell_temperature(range).map(|cell| cell.0),
        ..Conditions::default()
    };
    estimate.warnings.extend(picked.warning);
    Ok(estimate)
}

fn rest<'m>(m: &'m Measurement<'_>, index: usize) -> Result<&'m Segment, String> {
    m.segments.get(index).ok_or_else(|| "there is no rest".to_owned())
}

/// Picks the rest: directly before the first load if it can be, else the longest, and says so.
fn pick(m: &Measurement<'_>) -> Result<Picked, String> {
    let long_enough = |index: &usize| {
        m.segments.get(*index).is_some_and(|s| s.kind == Kind::Rest && s.duration() >= SHORTEST)
    };
    let moves = |index: &usize| m.segments.get(*index).is_some_and(|s| s.kind != Kind::Rest);
    let is_load = |index: &usize| m.segments.get(*index).is_some_and(|s| s.kind == Kind::Load);
    let first_load = (0..m.segments.len()).find(is_load);
    if let Some(index) = first_load.and_then(|load| m.rest_before(load)).filter(long_enough) {
        let follows_load = (0..index).any(|earlier| moves(&earlier));
        return Ok(Picked { index, follows_load, warning: None });
    }
    let mut rests = (0..m.segments.len()).filter(long_enough);
    let index = match first_load {
        None => rests.next_back(),
        Some(_) => {
            let length = |index: &usize| m.segments.get(*index).map_or(0.0, |segment| segment.duration().0);
            rests.max_by(|a, b| length(a).total_cmp(&length(b)))
        }
    };
    index.map(|index| {
        let follows_load = (0..index).any(|earlier| moves(&earlier));
        let text = "no rest directly before the first load; taken from a rest after a load or a charge, where the voltage is still recovering";
        let other = "taken from a rest that does not end at the first load";
        let warning = match (follows_load, first_load) {
            (true, _) => Some(text.to_owned()),
            (false, Some(_)) => Some(other.to_owned()),
            (false, None) => None,
        };
        Picked { index, follows_load, warning }
    })
    .ok_or_else(|| format!("the trace has no rest of at least {} s", SHORTEST.0))
}

/// Returns the last indices of a range.
pub(super) fn last(range: std::ops::Range<usize>, count: usize) -> std::ops::Range<usize> {
    range.end.saturating_sub(count).max(range.start)..range.end
}
