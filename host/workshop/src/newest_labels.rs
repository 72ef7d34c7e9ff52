//! With which label each model was assessed last, as the book keeps it beside the model's cells.

use celltriage_measure::nameplate::Nameplate;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A label that was used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UsedLabel {
    /// The entry of the assessment.
    pub entry: u32,
    /// When that was.
    pub at: Timestamp,
    /// Of which cell.
    pub cell: String,
    /// The label.
    pub nameplate: Nameplate,
}

/// The newest label by sort (whether simulated) and model.
pub(crate) type NewestLabels = BTreeMap<(bool, String), UsedLabel>;
