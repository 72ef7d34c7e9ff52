//! How well an open value would have to be known to be settled, and whether any measurement can settle it.

use crate::figure::{bare_figure, figure, limit_figure};
use crate::reason::{Finding, Reason, Value};
use celltriage_measure::estimate::{Estimates, FrontEnd, Quantity};
use serde::Serialize;

/// How well the same value would have to be known to be settled.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Needed {
    /// What it would then be.
    pub finding: Finding,
    /// Largest standard uncertainty for that, in the unit of the value.
    pub standard_uncertainty: f64,
    /// The standard uncertainty that it has towards that side.
    #[serde(skip)]
    has: f64,
}

/// Says how well an open value would have to be known: it is settled on the side of the limit where it lies.
pub fn needed(reason: &Reason) -> Option<Needed> {
    let (Finding::Inconclusive, Some(zones)) = (reason.finding, reason.conformity.as_ref()) else {
        return None;
    };
    let Some(Value::Number(value)) = reason.value else { return None };
    let Some(Value::Number(limit)) = reason.limit else { return None };
    let doubtful = zones.doubtful.unwrap_or(limit);
    // How far the value is inside the passing and the failing side; at most one of them is positive.
    let (inside, outside) = match zones.accept {
        [Some(_), None] => (value - doubtful, limit - value),
        _ => (doubtful - value, value - limit),
    };
    let beyond = zones.reject.iter().flatten().map(|bound| (bound - limit).abs()).fold(0.0, f64::max);
    let with = |distance: f64, guard: f64, finding| Needed {
        finding,
        standard_uncertainty: distance / zones.coverage_factor,
        has: guard / zones.coverage_factor,
    };
    let needed = match (inside > 0.0, outside > 0.0) {
        (true, _) => Some(with(inside, zones.guard_band, Finding::Pass)),
        (_, true) => Some(with(outside, beyond, Finding::Fail)),
        _ => None,
    };
    // What is known well enough is open for another reason than its doubt.
    needed.filter(|needed| needed.has > needed.standard_uncertainty)
}

/// Says what no measurement settles of a value that the policy's doubtful range holds; `settle` is what the policy says would
/// settle it. Nothing where the value lies outside.
pub(super) fn left_open(reason: &Reason, settle: Option<&str>) -> Option<String> {
    let zones = reason.conformity.as_ref().filter(|_| reason.finding == Finding::Inconclusive)?;
    let (Some(Value::Number(value)), Some(Value::Number(limit))) = (&reason.value, &reason.limit) else {
        return None;
    };
    let doubtful = zones.doubtful?;
    let range = doubtful.min(*limit)..=doubtful.max(*limit);
    if !range.contains(value) {
        return None;
    }
    let unit = reason.unit.as_deref().unwrap_or_default();
    let told = format!("{} to {}", bare_figure(*range.start(), unit), limit_figure(*range.end(), unit));
    Some(match settle {
        Some(settle) if !zones.interval.iter().all(|end| range.contains(end)) => format!(
            "From {told} the policy leaves it open, however well it is known. Whether it lies outside, a better measurement \
             may tell: {settle}"
        ),
        _ => format!(
            "It lies within {told}, where the policy leaves it open: no measurement of it settles that, and the cell stays \
             undecided."
        ),
    })
}

/// Says why no repetition settles an open capacity: a discharge repeated on such a fixture has the same gain of the
/// current channel, which no repetition narrows.
pub(super) fn out_of_reach(reason: &Reason, estimates: &Estimates) -> Option<String> {
    let needed = needed(reason)?;
    let (Some(Quantity::CapacityFraction), Some(Value::Number(value))) = (reason.quantity, &reason.value)
    else {
        return None;
    };
    // That of the fixture that counted, with its calibration.
    let gain = estimates.gain_of_count().unwrap_or(FrontEnd::fixture().current_gain) * value;
    (needed.standard_uncertainty < gain).then(|| {
        format!(
            "Another discharge on such a fixture does not settle it: the gain of its current channel alone is known to \
             U = {}. One calibrated better would; else the cell stays undecided.",
            figure(2.0 * gain, "1")
        )
    })
}

impl Needed {
    /// Says it in one sentence; `unit` is that of the value.
    pub fn in_words(&self, unit: &str) -> String {
        let word = if self.finding == Finding::Pass { "pass" } else { "fail" };
        format!(
            "The same value would {word} if it were known to U = {} or better; it is known to {} (k = 2).",
            figure(2.0 * self.standard_uncertainty, unit),
            figure(2.0 * self.has, unit)
        )
    }
}
