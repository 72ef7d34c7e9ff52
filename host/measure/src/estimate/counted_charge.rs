//! Charge that flowed over the whole trace, positive taken out of the cell.
//!
//! The fixture's own counter where there is one (it also counts between samples), else the trapezoid of current over
//! time.

use super::current_steps::CurrentSteps;
use super::holes::holes;
use super::measurement::Measurement;
use super::{Conditions, Estimate, Quantity};
use crate::si::{AmpHours, Amps, SECONDS_PER_HOUR, Seconds};
use crate::trace::{Currents, NoteKind, Steps};
use crate::uncertainty::{Input, Measurand};

/// Count and trapezoid may differ by this share, or by this charge, before it is said.
const AGREEMENT: f64 = 0.01;
const AGREEMENT_FLOOR: AmpHours = AmpHours(1e-4);

/// Estimates the charge.
pub(super) fn counted_charge(m: &Measurement<'_>, steps: &CurrentSteps) -> Result<Estimate, String> {
    let points = &m.trace.points;
    if points.len() < 2 {
        return Err("the trace has fewer than two rows".to_owned());
    }
    steps.refuse_unanswered(Seconds(f64::NEG_INFINITY), Seconds(f64::INFINITY))?;
    let (ways, currents): (Steps, Currents) = (m.gather(0..points.len()), m.gather(0..points.len()));
    let (trapezoid, moved) = (ways.charged(), ways.moved());
    // In a hole any current of this trace may have flowed.
    let missing: f64 = holes(points, 0..points.len()).iter().map(|[a, b]| (b.time - a.time).0).sum();
    let in_holes = Amps(currents.extent.high.max(-currents.extent.low)) * Seconds(missing);
    let counter = m.trace.run.as_ref().and_then(|run| run.counted_charge);
    let (charge, method) = match counter {
        Some(counter) => (counter, "the fixture's charge counter"),
        None => (trapezoid, "trapezoid of current over time"),
    };
    let stood_still = m.trace.notes.iter().any(|note| note.kind == NoteKind::Frozen);
    if counter.is_none() && stood_still {
        return Err(
            "a converter stood still for a part of the trace; what flowed meanwhile is not known".to_owned()
        );
    }
    let moments = if counter.is_some() { 0.0 } else { moments_of_steps(m) };
    let hours = m.trace.duration().0 / SECONDS_PER_HOUR;
    let inputs = [
        Input::new("charge as counted", "Ah", charge.0, 0.0),
        m.front_end.current_gain_error(),
        m.front_end.current_offset_error(),
        Input::rectangular(
            "rows that are missing",
            "Ah",
            0.0,
            if counter.is_some() { 0.0 } else { in_holes.0 },
        ),
        Input::new("moments of the steps", "Ah", 0.0, moments),
        // The counter keeps a time of its own.
        if counter.is_some() { m.front_end.counter_clock_error() } else { m.front_end.clock_error() },
    ];
    // A wrong gain or clock also spoils what flowed in and out again.
    let budget = Measurand::new(inputs, |[charge, gain, offset, holes, steps, clock]| {
        charge + moved.0 * (gain + clock) + offset * hours + holes + steps
    })
    .budget();
    let mut estimate = Estimate::of(Quantity::CountedCharge, budget, method);
    estimate.conditions = Conditions { duration_s: Some(m.trace.duration().0), ..Conditions::default() };
    if (charge - trapezoid).abs().0 > (AGREEMENT * moved.0).max(AGREEMENT_FLOOR.0) {
        estimate.warnings.push(format!("the samples alone give {:.4} Ah", trapezoid.0));
    }
    if m.trace.notes.iter().any(|note| note.kind == NoteKind::Gap) {
        estimate
            .warnings
            .push("rows are missing; what flowed meanwhile is taken from the rows beside".to_owned());
    }
    Ok(estimate)
}

/// Returns the standard uncertainty in Ah that comes from where between two rows the current stepped: anywhere, and the
/// trapezoid supposes the middle.
fn moments_of_steps(m: &Measurement<'_>) -> f64 {
    let steps = m.segments.windows(2).filter_map(|two| match two {
        [before, after] if after.start.is_step => {
            Some((after.current - before.current).0 * after.start.half_width.0)
        }
        _ => None,
    });
    (steps.map(|moved| moved * moved).sum::<f64>() / 3.0).sqrt() / SECONDS_PER_HOUR
}
