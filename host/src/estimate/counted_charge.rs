//! Charge that flowed over the whole trace, positive taken out of the cell.
//!
//! The fixture's own counter where there is one (it also counts between samples), else the trapezoid of current over
//! time.

use super::measurement::Measurement;
use super::{Conditions, Estimate, Quantity};
use crate::si::{AmpHours, SECONDS_PER_HOUR};
use crate::trace::NoteKind;

/// Count and trapezoid may differ by this share, or by this charge, before it is said.
const AGREEMENT: f64 = 0.01;
const AGREEMENT_FLOOR: AmpHours = AmpHours(1e-4);

/// Estimates the charge.
pub(super) fn counted_charge(m: &Measurement<'_>) -> Result<Estimate, String> {
    let points = &m.trace.points;
    if points.len() < 2 {
        return Err("the trace has fewer than two rows".to_owned());
    }
    let mut trapezoid = AmpHours(0.0);
    let mut moved = AmpHours(0.0);
    for two in points.windows(2) {
        let [before, after] = two else { continue };
        let step = (before.current + after.current) / 2.0 * (after.time - before.time);
        trapezoid += step;
        moved += step.abs();
    }
    let counter = m.trace.run.as_ref().and_then(|run| run.counted_charge);
    let (charge, method) = match counter {
        Some(counter) => (counter, "the fixture's charge counter"),
        None => (trapezoid, "trapezoid of current over time"),
    };
    let hours = m.trace.duration().0 / SECONDS_PER_HOUR;
    let deviation = (moved.0 * m.front_end.current_gain).hypot(m.front_end.current_offset.0 * hours);
    let mut estimate = Estimate::new(Quantity::CountedCharge, charge.0, deviation, method);
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
