//! What ends a finding by the rule of its kind: temperatures that were looked at, and a person's word that it is ended.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// A look at a cell's temperature, wherever it lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TemperatureLook {
    /// The cell.
    pub cell: String,
    /// When.
    pub at: Timestamp,
    /// Temperature of its surface in degC.
    pub temperature_c: f64,
    /// Temperature of the air in degC.
    pub air_c: f64,
}

/// A finding ended by the rule of its kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FindingReleased {
    /// The cell.
    pub cell: String,
    /// The entry that says what was found.
    pub entry: u32,
    /// Why.
    pub because: String,
}
