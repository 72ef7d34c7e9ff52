//! What the book knows of a cell from before, as far as a new decision may use it: plain data, kept with the decision so
//! that it can be recomputed. The estimates are handed this and read no book.

use crate::case_file::CaseFile;
use crate::health::Sibling;
use crate::same_cell::Earlier;
use celltriage_measure::estimate::{Estimates, Quantity, Visit};
use celltriage_verdict::{KnownFinding, LabelOfModel, Lifetime};
use jiff::ZonedDateTime;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What is known from before.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct History {
    /// Now, as the clock on the wall shows it; nothing for a trace of unknown time.
    #[serde(default)]
    pub now: Option<ZonedDateTime>,
    /// Earlier visits of the same cell, the oldest first.
    #[serde(default)]
    pub visits: Vec<Visit>,
    /// Other cells of the same model, each as last known.
    #[serde(default)]
    pub siblings: Vec<Sibling>,
    /// What stands on the labels of other cells of the model, by rated capacity.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labels_of_model: Vec<LabelOfModel>,
    /// What was found of the cell before, and stands.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub known: Vec<KnownFinding>,
    /// What else the book knows of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub case_file: Option<CaseFile>,
    /// What is recorded of its life, where anything is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifetime: Option<Lifetime>,
    /// Earlier decisions on the same cell, as far as this one can be compared with them, the oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub earlier: Vec<Earlier>,
    /// Since what day the book has the cell in the container it lies in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lies_since: Option<Date>,
}

/// Makes a visit from its estimates.
pub fn made(
    at: ZonedDateTime,
    estimates: &Estimates,
    rested_h: Option<f64>,
    fixture: Option<String>,
) -> Visit {
    let rest = estimates.get(Quantity::RestVoltage);
    let rest =
        rest.and_then(|rest| rest.conditions.temperature_c.map(|temperature| (rest.value, temperature)));
    let taken_ah = estimates.get(Quantity::CountedCharge).map(|charge| charge.value);
    Visit { at, rest, rested_h, taken_ah, fixture, charged: false }
}

/// Names a fixture with its calibration: only readings of one and the same share their errors.
pub fn fixture_name(fixture: Option<&str>, calibration: Option<u32>) -> Option<String> {
    fixture.map(|fixture| format!("{fixture}, calibration {}", calibration.unwrap_or_default()))
}
