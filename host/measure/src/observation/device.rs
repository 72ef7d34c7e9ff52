//! What a device did with the cell in it, as a person tells it.
//!
//! Input: words of a person; output: [`DeviceSaid`], for the question whether the cell explains it. Nothing here takes part in a decision
//! about the cell.

use serde::{Deserialize, Serialize};

/// What the device did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DeviceDid {
    /// It became hot while it was charged.
    HotWhileCharging,
    /// It does not start.
    DoesNotStart,
    /// It shuts off under load.
    ShutsOff,
}

impl DeviceDid {
    /// All of them.
    pub const ALL: [DeviceDid; 3] =
        [DeviceDid::HotWhileCharging, DeviceDid::DoesNotStart, DeviceDid::ShutsOff];

    /// Returns it as the end of a sentence that begins with "the device".
    pub const fn words(self) -> &'static str {
        match self {
            DeviceDid::HotWhileCharging => "became hot while it was charged",
            DeviceDid::DoesNotStart => "does not start",
            DeviceDid::ShutsOff => "shuts off under load",
        }
    }
}

/// What a person tells of the device.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DeviceSaid {
    /// What it did.
    pub did: DeviceDid,
    /// The most current that it takes from the cell, or charges it with, in A, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_a: Option<f64>,
    /// Lowest voltage at the cell with which it runs, in V, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lowest_v: Option<f64>,
}

/// Currents (A) and voltages (V) that a device of one cell may have: wider than any (our choice); what lies outside is a slip.
const CURRENTS_A: std::ops::RangeInclusive<f64> = 0.001..=100.0;
/// See [`CURRENTS_A`].
const VOLTAGES_V: std::ops::RangeInclusive<f64> = 1.0..=5.0;

impl DeviceSaid {
    /// Refuses figures that no device has, such as mA for A.
    ///
    /// # Errors
    /// What is wrong, and what to write.
    pub fn checked(self) -> Result<Self, String> {
        if let Some(current) = self.current_a.filter(|current| !CURRENTS_A.contains(current)) {
            return Err(format!("the device's current of {current} A is none: write it in A, such as 1.8"));
        }
        if let Some(lowest) = self.lowest_v.filter(|lowest| !VOLTAGES_V.contains(lowest)) {
            return Err(format!(
                "the device's lowest voltage of {lowest} V is none of one cell: write it in V, such as 3.3"
            ));
        }
        Ok(self)
    }
}
