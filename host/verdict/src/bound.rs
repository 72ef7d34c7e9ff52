//! A capacity that is known to be some charge or more: it can pass, and never fail.
//!
//! Input: a criterion's number, its reason as far as it is known, and the evidence; output: the reason of a limit that is kept in any
//! case. A discharge that ended early says nothing against a cell, so where the bound is not enough, the capacity stays not measured.

use crate::criterion::NumberLimit;
use crate::evidence::Evidence;
use crate::figure::figure;
use crate::judge::judge;
use crate::limit::Limit;
use crate::measurand::Measurand;
use crate::reason::{Finding, Reason, Value};
use crate::words;
use celltriage_measure::estimate::{Estimate, Quantity};

/// Returns the lower bound of the capacity, where nothing better is known.
pub(super) fn lower_bound<'a>(evidence: &Evidence<'a>) -> Option<&'a Estimate> {
    let whole = evidence.estimates.get(Quantity::CapacityFraction);
    evidence.estimates.get(Quantity::CapacityFractionAtLeast).filter(|_| whole.is_none())
}

/// Judges a number that is not known itself by its lower bound: it passes, or stays as it is.
pub(super) fn pass_by_bound(reason: &mut Reason, number: &NumberLimit, evidence: &Evidence<'_>) {
    let limit = number.for_label(evidence.nameplate);
    let is_capacity = number.measurand == Measurand::Estimate(Quantity::CapacityFraction);
    let (true, Limit::AtLeast { .. }, Some(_)) = (is_capacity, limit, lower_bound(evidence)) else { return };
    let bound = Quantity::CapacityFractionAtLeast;
    let Ok(found) = Measurand::Estimate(bound).look_up(evidence) else { return };
    let (measured, unit) = (found.measured, number.measurand.unit());
    match judge(limit, &measured, number.guard) {
        Some((Finding::Pass, conformity)) => {
            reason.quantity = Some(bound);
            reason.value = Some(Value::Number(measured.value));
            reason.standard_uncertainty = Some(measured.standard_uncertainty);
            reason.conformity = Some(conformity);
            reason.finding = Finding::Pass;
            reason.text = format!("At least {}", words::passed(measured, limit, unit));
        }
        Some(_) => {
            let counted = figure(measured.value, unit);
            reason.text.push_str(&format!(" At least {counted} were counted, which does not show it."));
        }
        None => {}
    }
}
