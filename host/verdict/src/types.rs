//! The words of a verdict: fates, states of a cell, dangers.
//!
//! The names in JSON are part of the contract in `host/JSON.md` and never change.

use serde::{Deserialize, Serialize};
use std::fmt;

/// What becomes of the cell, in the order of severity. What is not known to be better is quarantine.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fate {
    /// May serve again: every mandatory criterion passed on measured evidence.
    Reuse,
    /// Nothing found against it, and not enough known for it.
    Undecided,
    /// At the end of its life, by measurement.
    Recycle,
    /// Damaged, defective, or suspected of it: kept apart.
    #[default]
    Quarantine,
}

impl Fate {
    /// All fates, the mildest first.
    pub const ALL: [Fate; 4] = [Fate::Reuse, Fate::Undecided, Fate::Recycle, Fate::Quarantine];

    /// Returns the name in JSON and on the page.
    pub const fn key(self) -> &'static str {
        match self {
            Fate::Reuse => "reuse",
            Fate::Undecided => "undecided",
            Fate::Recycle => "recycle",
            Fate::Quarantine => "quarantine",
        }
    }
}

impl fmt::Display for Fate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.key())
    }
}

/// How the law may look at the cell: a hint for the assessor, who decides. In the order of severity; what is not
/// known counts as damaged (UN Model Regulations, special provision 376: "cannot be diagnosed").
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CellState {
    /// Every sign checked and none found, no suspicion in the measurement.
    Intact,
    /// Not looked at, or not diagnosed: to be handled as damaged.
    #[default]
    Unknown,
    /// Signs of damage or defect.
    DamagedOrDefective,
    /// The casing is open.
    CasingBreached,
    /// Reacting, or likely to: heat, gas, smoke.
    Critical,
}

impl CellState {
    /// All states, the mildest first.
    pub const ALL: [CellState; 5] = [
        CellState::Intact,
        CellState::Unknown,
        CellState::DamagedOrDefective,
        CellState::CasingBreached,
        CellState::Critical,
    ];

    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            CellState::Intact => "no sign of damage",
            CellState::Unknown => "condition unknown, to be handled as damaged",
            CellState::DamagedOrDefective => "damaged or defective",
            CellState::CasingBreached => "casing open",
            CellState::Critical => "critical: may react at any time",
        }
    }
}

/// What kind of danger a failed criterion points to; cautions are chosen by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hazard {
    /// Heat, gas, smoke, noise now.
    ActiveNow,
    /// Electrolyte outside the cell.
    Leaking,
    /// Casing open.
    CasingOpen,
    /// Gas inside.
    Swollen,
    /// Bent, dented, discoloured.
    Deformed,
    /// A history that harms cells.
    Misused,
    /// No working protection.
    Unprotected,
    /// Named faulty by its maker.
    Recalled,
    /// Charged above its limit.
    OverCharged,
    /// Discharged so far that copper may have dissolved.
    DeeplyDischarged,
    /// Its own voltage is not seen at its connector: it may be full, empty or ruined.
    VoltageHidden,
    /// Warm without a load, or too warm under it.
    Warming,
    /// Loses charge inside.
    InternalShort,
    /// The fixture itself may be at fault.
    Fixture,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_told_is_the_worst_case() {
        assert_eq!(Fate::default(), Fate::Quarantine);
        assert_eq!(CellState::default(), CellState::Unknown);
        assert!(Fate::default() >= Fate::Recycle && CellState::Unknown > CellState::Intact);
    }

    #[test]
    fn fates_are_ordered_by_severity_and_named_as_in_json() {
        assert!(
            Fate::Quarantine > Fate::Recycle
                && Fate::Recycle > Fate::Undecided
                && Fate::Undecided > Fate::Reuse
        );
        for fate in Fate::ALL {
            assert_eq!(serde_json::to_value(fate).unwrap(), fate.key());
        }
    }
}
