//! Capacity concluded from a part of a discharge between two long rests: an estimate, never called a capacity.
//!
//! Q = charge counted / (state of charge before - after), both from settled voltages in the class's table. Only where
//! the part is at least three quarters of the range and both ends rested for an hour. Even a perfect measurement then
//! misses an aged cell by -3 to +4.6 %, since lost lithium bends the curve (DFN cell with a fifth of its lithium gone,
//! read by its own table when new); on half ranges it would be 18 % and more, so these give no number.
//!
//! What both ends share enters the budget once, with its net effect: gain and offset of the voltage channel, the table
//! itself (its error is that of the whole window), a charge limit next to the table's. Relaxation (it falls before and
//! rises after), temperature (its effect changes sign along the charge) and an untold chemistry (most at mid charge, so
//! the two ends differ) are told end by end.

use super::capacity::refuse_unlikely;
use super::current_steps::CurrentSteps;
use super::holes::holes;
use super::jump::JUMP_WITHIN;
use super::line_fit::Line;
use super::measurement::Measurement;
use super::open_circuit::{Curve, curve};
use super::rest_voltage::{JUMP, last, unrelaxed};
use super::{Conditions, Estimate, Quantity};
use crate::segment::Kind;
use crate::si::{AmpHours, SECONDS_PER_HOUR, Seconds, Volts};
use crate::trace::Steps;
use crate::uncertainty::{Input, Measurand};

/// Least part of the range.
const LEAST_WINDOW: f64 = 0.75;
/// Both ends must have rested this long.
const LONG_REST: Seconds = Seconds(3600.0);
/// Standard uncertainty of another cell's table on a wide window (tables of five phones in public Linux kernels crossed: sd 1.0 to 3.6 %
/// for 95 to 15 % and 90 to 20 %).
const TABLE_SHARE: f64 = 0.025;
/// Half-width of what ageing does to a wide window: -3 % (90 to 20 %) to +4.6 % (100 to 10 %).
const AGEING_SHARE: f64 = 0.046;
/// What the load of 0.2 It takes off the voltage near empty, in V: 0.34 Ohm Ah of the class, once to twice that in a cell out
/// of a device, times 1.4 below 5 % of charge (the same tables). The table runs down to the end voltage at rest; a
/// discharge ends before. How well that is known, as a share.
const LAST_DROP: f64 = 0.13;
const LAST_DROP_SHARE: f64 = 0.35;
/// Rows of a rest's end that give its voltage.
const END_ROWS: usize = 60;
/// A rest that would still move by more than this in as long a time again does not rest (judged: after an hour cells out of
/// devices relax by 5 to 15 mV per factor e of the time).
const MOST_TO_COME: Volts = Volts(0.02);
/// Share of a rest whose slope is its drift at the end, as for a rest voltage.
const LATE_SHARE: f64 = 0.5;
/// Charge that may lie in holes, as a share of what was counted.
const MOST_IN_HOLES: f64 = 0.01;

/// One end of the part.
struct PartEnd {
    segment: usize,
    voltage: Line,
    charge: f64,
    slope: f64,
    relaxation_v: f64,
    temperature_v: f64,
    temperature: Option<f64>,
}

/// The charge between both ends, as it was counted.
struct Count {
    taken: f64,
    moved: f64,
    hours: f64,
}

/// Estimates the capacity from the widest part between two long rests.
pub(super) fn capacity_from_part(m: &Measurement<'_>, steps: &CurrentSteps) -> Result<Estimate, String> {
    let curve = curve(m.nameplate)?;
    let long = |index: &usize| {
        m.segments.get(*index).is_some_and(|s| s.kind == Kind::Rest && s.duration() >= LONG_REST)
    };
    let (mut ends, mut why) = (Vec::new(), None);
    for index in (0..m.segments.len()).filter(long) {
        match end(m, &curve, index) {
            Ok(end) => ends.push(end),
            Err(this) => why = Some(this),
        }
    }
    let widest = ends
        .iter()
        .enumerate()
        .flat_map(|(index, before)| ends.iter().skip(index + 1).map(move |after| (before, after)))
        .max_by(|a, b| (a.0.charge - a.1.charge).total_cmp(&(b.0.charge - b.1.charge)));
    let Some((before, after)) = widest else {
        let needs = "needs a rest of at least an hour before and after a discharge";
        return Err(why.unwrap_or_else(|| needs.to_owned()));
    };
    let window = before.charge - after.charge;
    if window < LEAST_WINDOW {
        return Err(format!(
            "the discharge between two long rests goes from {:.0} to {:.0} % of charge; at least three quarters of the \
             range are needed, less says nothing about an aged cell",
            before.charge * 100.0,
            after.charge * 100.0
        ));
    }
    let count = count(m, steps, before.segment, after.segment)?;
    let budget = measurand(m, &curve, before, after, &count).budget();
    refuse_unlikely(m, AmpHours(budget.value))?;
    let method =
        "charge counted between two long rests over the change of state of charge by the class's table";
    let mut estimate = Estimate::of(Quantity::CapacityFromPart, budget, method);
    estimate.conditions = Conditions {
        current_a: Some(count.taken / count.hours),
        second_current_a: None,
        duration_s: Some(count.hours * SECONDS_PER_HOUR),
        temperature_c: before.temperature,
        rest_voltage_v: Some(before.voltage.value),
        ..Conditions::default()
    };
    estimate.warnings.push("an estimate, not a capacity: only a full discharge counts it".to_owned());
    Ok(estimate)
}

/// Returns the capacity as a function of everything it rests on.
fn measurand(
    m: &Measurement<'_>,
    curve: &Curve,
    before: &PartEnd,
    after: &PartEnd,
    count: &Count,
) -> Measurand<18, impl Fn([f64; 18]) -> f64> {
    let read = |name: &'static str, end: &PartEnd| {
        Input::new(name, "V", end.voltage.value, end.voltage.value_deviation)
            .with_degrees_of_freedom(end.voltage.degrees_of_freedom)
    };
    let left = curve.charge_at(m.nameplate.end_of_discharge_v + LAST_DROP);
    let volts = |name: &'static str, deviation: f64| Input::new(name, "V", 0.0, deviation);
    let inputs = [
        Input::new("charge as counted", "Ah", count.taken, 0.0),
        m.front_end.current_gain_error(),
        m.front_end.current_offset_error(),
        m.front_end.voltage_gain_error(),
        m.front_end.voltage_offset_error(),
        volts("class next to the label's", curve.other_class_v),
        read("voltage before as read", before),
        volts("relaxation before", before.relaxation_v),
        volts("temperature before", before.temperature_v),
        volts("chemistry not told, before", curve.chemistry_v),
        read("voltage after as read", after),
        volts("relaxation after", after.relaxation_v),
        volts("temperature after", after.temperature_v),
        volts("chemistry not told, after", curve.chemistry_v),
        Input::new("another cell's table", "1", 0.0, TABLE_SHARE),
        Input::rectangular("ageing bends the curve", "1", 0.0, AGEING_SHARE),
        Input::new("left at the end voltage", "1", left, LAST_DROP_SHARE * left),
        m.front_end.clock_error(),
    ];
    let (moved, hours) = (count.moved, count.hours);
    let [(v1, c1, m1), (v2, c2, m2)] = [before, after].map(|end| (end.voltage.value, end.charge, end.slope));
    let function = move |[
        taken,
        gain_i,
        offset_i,
        gain,
        offset,
        class,
        u1,
        r1,
        t1,
        x1,
        u2,
        r2,
        t2,
        x2,
        table,
        ageing,
        left,
        clock,
    ]: [f64; 18]| {
        // Tables of neighbouring classes lie apart in step with the charge: 37 mV at 90 %, 1 mV at 20 %.
        let charge = |u: f64, v: f64, c: f64, slope: f64, own: f64| {
            c + (u * (1.0 + gain) - v + offset + class * c + own) / slope
        };
        let window = charge(u1, v1, c1, m1, r1 + t1 + x1) - charge(u2, v2, c2, m2, r2 + t2 + x2);
        (taken + moved * (gain_i + clock) + offset_i * hours) / window * (1.0 + table + ageing) * (1.0 - left)
    };
    Measurand::new(inputs, function)
}

/// Tells an end from its rest, or why the rest cannot be trusted.
fn end(m: &Measurement<'_>, curve: &Curve, segment: usize) -> Result<PartEnd, String> {
    let rest = m.segments.get(segment).ok_or("the rest lies outside the trace")?;
    let (body, at, rested) = (m.body(segment), rest.end.time, rest.duration());
    // Once a share of the rest has passed, no cell moves by millivolts within as much.
    let within = rested * JUMP_WITHIN;
    let settled = m.between(body.clone(), rest.start.time + within, at);
    if let Some(jump) = m.jump(settled, JUMP, within) {
        return Err(format!(
            "the voltage jumps at {:.1} s of a rest without a current; check the leads",
            jump.0
        ));
    }
    m.refuse_stuck(body.clone())?;
    let rows = last(body.clone(), END_ROWS);
    let voltage = m.voltage_at(rows.clone(), at).ok_or("the rest has no usable rows")?;
    // Relaxation goes on with the logarithm of time, so what is to come is about what the drift makes of as long a rest.
    let late = m.between(body, at - rested * LATE_SHARE, at);
    let drift = m.voltage_at(late, at).map_or(0.0, |line| line.slope.abs() - 2.0 * line.slope_deviation);
    let to_come = drift * rested.0;
    if to_come > MOST_TO_COME.0 {
        return Err(format!(
            "the voltage still drifts by {:.0} mV/h at {:.0} s, at the end of a long rest: more than a cell that rests does",
            drift * SECONDS_PER_HOUR * 1e3,
            at.0
        ));
    }
    let temperature = m.cell_temperature(rows).map(|cell| cell.0);
    let slope = curve.slope_at(voltage.value).0;
    if slope <= 0.0 {
        return Err("the class's table does not rise at the rest voltage".to_owned());
    }
    Ok(PartEnd {
        segment,
        voltage,
        charge: curve.charge_at(voltage.value),
        slope,
        relaxation_v: to_come.max(unrelaxed(rested).0),
        temperature_v: curve.temperature_v(temperature),
        temperature,
    })
}

/// Counts the charge between the ends of two rests, what moved in either direction, and the hours it took.
fn count(m: &Measurement<'_>, steps: &CurrentSteps, before: usize, after: usize) -> Result<Count, String> {
    let (Some(first), Some(end)) = (m.segments.get(before), m.segments.get(after)) else {
        return Err("the rests lie outside the trace".to_owned());
    };
    steps.refuse_unanswered(first.end.time, end.end.time)?;
    let rows = first.last..end.first + 1;
    let between: Steps = m.gather(rows.clone());
    let (counted, moved) = (between.charged().0, between.moved().0);
    let missing = holes(&m.trace.points, rows);
    let in_holes: f64 = missing.iter().map(|[a, b]| a.charge_until(b).abs().0).sum();
    if in_holes > MOST_IN_HOLES * moved {
        return Err("rows are missing during the discharge; what flowed meanwhile is not known".to_owned());
    }
    let hours = (end.start.time - first.end.time).0 / SECONDS_PER_HOUR;
    if counted <= 0.0 || hours <= 0.0 {
        return Err("no charge was taken out between the rests".to_owned());
    }
    Ok(Count { taken: counted, moved, hours })
}
