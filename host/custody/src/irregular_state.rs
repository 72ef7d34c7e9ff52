//! An irregularity as it stands: what happened, which rules it breaks, and what put it right.

use crate::event::Irregularity;
use crate::summary::happened;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// An irregularity as it stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Irregular {
    /// Who wrote it down.
    pub by: String,
    /// The day on which it happened.
    pub on: Date,
    /// What happened.
    pub told: Irregularity,
    /// All that it concerns, by name.
    pub concerns: BTreeSet<String>,
    /// What put it right.
    pub remedied: Option<Remedied>,
}

/// What put an irregularity right.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remedied {
    /// The entry that says so.
    pub entry: u32,
    /// Who wrote it down.
    pub by: String,
    /// On what day.
    pub on: Date,
    /// What was done.
    pub done: String,
}

impl Irregular {
    /// Returns whether nothing has put it right yet.
    pub const fn is_open(&self) -> bool {
        self.remedied.is_none()
    }

    /// Says what happened.
    pub fn happened(&self) -> String {
        happened(&self.told, self.on)
    }

    /// Says what happened, which rules it breaks and what is done about it.
    pub fn words(&self) -> String {
        let breaks = self.told.breaks.join("; ");
        format!(
            "{}; against the rule: {breaks}; what is done about it: {}",
            self.happened(),
            self.told.action
        )
    }
}
