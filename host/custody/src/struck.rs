//! How an entry of the book was struck: by whom, when, why.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// How an entry was struck.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Struck {
    /// What the struck entry is about.
    pub subject: String,
    /// The entry that strikes it.
    pub entry: u32,
    /// Who struck it.
    pub by: String,
    /// On what day.
    pub on: Date,
    /// Why.
    pub because: String,
}

impl Struck {
    /// Says it in one line.
    pub fn words(&self) -> String {
        format!("STRUCK by {} on {} (entry {}): {}", self.by, self.on, self.entry, self.because)
    }
}
