//! Charge that flowed over the whole trace, positive taken out of the cell.
//!
//! The fixture's own counter where there is one (it also counts between samples), else the trapezoid of current over
//! time.

use super::measurement::Measurement;
use super::{Conditions, Estimate, Quantity};
use crate::si::{AmpHours, Amps, SECONDS_PER_HOUR, Seconds};
use crate::trace::NoteKind;
use crate::uncertainty::{Input, Measurand};

/// Count and trapezoid may differ by this share, or by this charge, before it is said.
const AGREEMENT: f64 = 0.01;
const AGREEMENT_FLOOR: AmpHours = AmpHours(1e-4);
/// Rows this many times further apart than those beside leave a hole.
const HOLE: f64 = 8.0;

/// Estimates the charge.
pub(super) fn counted_charge(m: &Measurement<'_>) -> Result<Estimate, String> {
    let points = &m.trace.points;
    if points.len() < 2 {
        return Err("the trace has fewer than two rows".to_owned());
    }
    let mut trapezoid = AmpHours(0.0);
    let mut moved = AmpHours(0.0);
    let mut in_holes = AmpHours(0.0);
    let largest = Amps(points.iter().map(|point| point.current.abs().0).fold(0.0, f64::max));
    let span = |index: usize| match points.get(index..index.saturating_add(2)) {
        Some([before, after]) => after.time - before.time,
        _ => Seconds(0.0),
    };
    for (index, two) in points.windows(2).enumerate() {
        let [before, after] = two else { continue };
        let step = before.charge_until(after);
        trapezoid += step;
        moved += step.abs();
        // In a hole any current of this trace may have flowed.
        let beside = span(index.wrapping_sub(1)).0.max(span(index + 1).0);
        if beside > 0.0 && span(index).0 > HOLE * beside {
            in_holes += largest * span(index);
        }
    }
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
    ];
    // A wrong gain also spoils what flowed in and out again.
    let budget = Measurand::new(inputs, |[charge, gain, offset, holes]| {
        charge + moved.0 * gain + offset * hours + holes
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
