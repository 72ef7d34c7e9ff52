//! What cannot be concluded where the connector does not show the cell's own voltage.
//!
//! A protection circuit that has switched off, a broken lead and an empty cell all read about nothing. A criterion of the
//! policy that `hides` numbers takes them out of the decision then: they count as not measured, which is never better.

use crate::criterion::{Consequence, Criterion, Subject};
use crate::evidence::trip_key;
use crate::judged::Judged;
use crate::limit::Limit;
use crate::measurand::Measurand;
use crate::policy::Policy;
use crate::reason::{Finding, Verdict};
use crate::types::Hazard;
use celltriage_measure::estimate::{Estimates, Quantity};
use celltriage_protocol::event::TripCause;

/// What a criterion says of a number that was taken at a connector which does not show the cell.
const NOT_ITS_OWN: &str = "Not measured: what the connector shows is not known to be the cell's own voltage.";
/// What follows from a rest voltage only if that is the cell's own.
const OF_THE_CELL: [Quantity; 5] = [
    Quantity::RestDrift,
    Quantity::SettledVoltage,
    Quantity::StateOfCharge,
    Quantity::SelfDischarge,
    Quantity::SelfDischargePerMonth,
];
/// Trips at a voltage near zero, before a load and under it.
const LOW_TRIPS: [TripCause; 2] = [TripCause::VoltageLow, TripCause::VoltageFloor];

/// Takes what is hidden out of the decision.
pub(super) fn hide(policy: &Policy, judged: &mut [Judged<'_>]) {
    let open = |one: &Judged<'_>| matches!(one.reason.finding, Finding::Fail | Finding::Inconclusive);
    let hiding: Vec<&Criterion> = policy
        .criteria
        .iter()
        .filter(|criterion| {
            !criterion.hides.is_empty()
                && judged.iter().any(|one| one.reason.criterion == criterion.id && open(one))
        })
        .collect();
    let is_hidden = |one: &Judged<'_>| {
        let hidden = |criterion: &&Criterion| {
            one.reason.criterion != criterion.id
                && one
                    .reason
                    .quantity
                    .is_some_and(|quantity| criterion.hides.contains(&Measurand::Estimate(quantity)))
        };
        hiding.iter().any(hidden)
    };
    for one in judged.iter_mut().filter(|one| is_hidden(one)) {
        let reason = &mut one.reason;
        (reason.finding, reason.value) = (Finding::Missing, None);
        (reason.standard_uncertainty, reason.conformity) = (None, None);
        (reason.made_from, reason.settle) = (None, None);
        reason.budget.clear();
        reason.text = NOT_ITS_OWN.to_owned();
        one.settle_acts.clear();
    }
}

/// Takes out of the estimates what a connector that does not show the cell would say of it; what it reads stays.
pub fn take_out_what_is_hidden(verdict: &Verdict, estimates: &mut Estimates) {
    let hidden = verdict.reasons.iter().any(|reason| {
        reason.hazard == Some(Hazard::VoltageHidden)
            && reason.quantity == Some(Quantity::RestVoltage)
            && matches!(reason.finding, Finding::Fail | Finding::Inconclusive)
    });
    for quantity in OF_THE_CELL.into_iter().filter(|_| hidden) {
        if estimates.measured.remove(&quantity).is_some() {
            estimates.put(quantity, Err("the connector does not show the cell's own voltage".to_owned()));
        }
    }
}

/// Returns what a trip at a voltage near zero means: the same as such a rest voltage, and nothing about the cell.
pub(super) fn consequence_of_trip<'a>(
    policy: &'a Policy,
    cause: &str,
    volts: f64,
) -> Option<&'a Consequence> {
    if !LOW_TRIPS.map(trip_key).contains(&cause) {
        return None;
    }
    let below = |criterion: &&Criterion| match &criterion.subject {
        Subject::Number(number) if !criterion.hides.is_empty() && number.relative_to.is_none() => {
            matches!(number.limit, Limit::AtLeast { limit, .. } if volts < limit)
        }
        _ => false,
    };
    policy.criteria.iter().find(below).map(|criterion| &criterion.consequence)
}
