//! One thing that cannot follow from what an earlier decision says of a cell: what, where it stands, both figures and why.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What contradicts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Contradicted {
    /// The label.
    Label,
    /// The thickness.
    Thickness,
    /// A resistance.
    Resistance,
    /// The counted capacity.
    Capacity,
    /// The rest voltage.
    RestVoltage,
}

impl Contradicted {
    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Label => "label",
            Self::Thickness => "thickness",
            Self::Resistance => "resistance",
            Self::Capacity => "capacity",
            Self::RestVoltage => "rest voltage",
        }
    }
}

/// One thing that cannot follow from what an earlier decision says of the cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Contradiction {
    /// What.
    pub what: Contradicted,
    /// The entry of the earlier decision.
    pub entry: u32,
    /// Its day.
    pub on: Date,
    /// As it was there, in words with unit and doubt.
    pub before: String,
    /// As it is now.
    pub now: String,
    /// Why the one cannot follow from the other.
    pub because: String,
}

impl Contradiction {
    /// Says it in one line.
    pub fn words(&self) -> String {
        let Self { entry, on, before, now, because, .. } = self;
        format!("{before} on {on} (entry {entry}), {now} now: {because}")
    }
}
