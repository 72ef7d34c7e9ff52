//! When a value beyond its limit is no failure: after too short a rest, of a cell that cools, at too high a current, with what the
//! leads may add to a resistance.
//!
//! Input: a criterion's number and the evidence; output: why its failure does not count. What the policy does not ask, or
//! what nobody knows, lets the failure count; only an unknown length of rest does not, since a voltage that still settles
//! falls on every sound cell.

use crate::criterion::NumberLimit;
use crate::evidence::Evidence;
use crate::measured::Measured;
use celltriage_measure::estimate::{Conditions, Quantity};
use celltriage_measure::si::SECONDS_PER_HOUR;

/// Why a failure does not count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum NotCounted {
    /// The cell had rested for less than this many seconds.
    RestedTooShort { wanted_s: f64 },
    /// The cell is seen to cool towards the air.
    Cools,
    /// Leads and clips may be in it: the cell has this or less.
    WithLeads,
    /// It was worked harder than the limit is for, both in multiples of It.
    TooFast { share: f64, up_to: f64 },
}

/// Returns why a failure of a number does not count; `None` where it does. `made_from` is the estimate behind a number that is
/// none itself.
pub(super) fn not_counted(
    number: &NumberLimit,
    made_from: Option<Quantity>,
    evidence: &Evidence<'_>,
) -> Option<NotCounted> {
    let conditions = conditions(number, made_from, evidence);
    if let Some(wanted_s) = longer_than(conditions, number.rest_s) {
        return Some(NotCounted::RestedTooShort { wanted_s });
    }
    if number.unless_cooling && conditions.is_some_and(|conditions| conditions.cools == Some(true)) {
        return Some(NotCounted::Cools);
    }
    if conditions.is_some_and(|conditions| conditions.with_leads == Some(true)) {
        return Some(NotCounted::WithLeads);
    }
    let current = conditions.and_then(|conditions| conditions.warming_current_a)?;
    let (share, up_to) = (current / evidence.nameplate.unit_current_a(), number.up_to_it?);
    (share.is_finite() && share > up_to).then_some(NotCounted::TooFast { share, up_to })
}

/// Returns the rest (s) before which a value that is not clear of its limit counts as not measured, where the rest was shorter.
pub(super) fn unclear_before(number: &NumberLimit, evidence: &Evidence<'_>) -> Option<f64> {
    longer_than(conditions(number, None, evidence), number.unclear_after_s)
}

/// Returns for how long (s) the cell lay since it was last charged or used, where a fall is no faster than what such a cell still
/// settles by: with the logarithm of that time, so the slower the longer it lay. Nothing where nobody told that time.
pub(super) fn settles_since(
    number: &NumberLimit,
    measured: &Measured,
    evidence: &Evidence<'_>,
) -> Option<f64> {
    let seen_s = conditions(number, None, evidence).and_then(|conditions| conditions.duration_s)?;
    let lay_s = (evidence.observations.rested_h? * SECONDS_PER_HOUR).max(seen_s);
    let fall_per_h = number.settling_v? / lay_s * SECONDS_PER_HOUR;
    (-measured.value <= fall_per_h).then_some(lay_s)
}

fn conditions<'a>(
    number: &NumberLimit,
    made_from: Option<Quantity>,
    evidence: &Evidence<'a>,
) -> Option<&'a Conditions> {
    let quantity = number.measurand.quantity().or(made_from)?;
    Some(&evidence.estimates.get(quantity)?.conditions)
}

/// Returns the rest that is wanted, where the rest is not known to have been as long.
fn longer_than(conditions: Option<&Conditions>, wanted_s: Option<f64>) -> Option<f64> {
    let rested = conditions.and_then(|conditions| conditions.duration_s);
    wanted_s.filter(|wanted| !rested.is_some_and(|rested| rested >= *wanted))
}
