//! The legal state of a cell, apart from its fate: what waste law and carriage law would call it.
//!
//! A state is proposed from fate and condition; a person judges and signs it (see [`propose`](crate::propose)).
//! What is not known is [`LegalState::Unknown`], which counts as damaged: UN Model Regulations, special provision
//! 376, name a cell that cannot be diagnosed before carriage among the damaged or defective ones.

use celltriage_verdict::{CellState, Fate};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What the law would call a cell, the mildest first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LegalState {
    /// Kept for use, or still being judged with a reasonable expectation of use.
    NotWaste,
    /// To be discarded, every sign of damage looked for and not found.
    IntactWaste,
    /// Not looked at or not diagnosed: counts as damaged.
    #[default]
    Unknown,
    /// Damaged or defective, and not critical.
    DamagedOrDefective,
    /// Damaged with an open casing.
    CasingBreached,
    /// Liable to heat, burn, burst or give off gas.
    Critical,
}

impl LegalState {
    /// All states, the mildest first.
    pub const ALL: [LegalState; 6] = [
        LegalState::NotWaste,
        LegalState::IntactWaste,
        LegalState::Unknown,
        LegalState::DamagedOrDefective,
        LegalState::CasingBreached,
        LegalState::Critical,
    ];

    /// Returns the state that a fate and a condition point to; the worse of the two counts.
    pub const fn of(fate: Fate, condition: CellState) -> Self {
        match (condition, fate) {
            (CellState::Critical, _) => LegalState::Critical,
            (CellState::CasingBreached, _) => LegalState::CasingBreached,
            (CellState::DamagedOrDefective, _) => LegalState::DamagedOrDefective,
            (CellState::Unknown, _) => LegalState::Unknown,
            (CellState::Intact, Fate::Reuse | Fate::Undecided) => LegalState::NotWaste,
            (CellState::Intact, Fate::Recycle) => LegalState::IntactWaste,
            // Kept apart for a suspicion that no sign shows: it is not to travel as undamaged.
            (CellState::Intact, Fate::Quarantine) => LegalState::DamagedOrDefective,
        }
    }

    /// Returns whether the cell is handled, packed and labelled as damaged.
    pub fn counts_as_damaged(self) -> bool {
        self >= LegalState::Unknown
    }

    /// Returns the name in files and JSON.
    pub const fn key(self) -> &'static str {
        match self {
            LegalState::NotWaste => "not_waste",
            LegalState::IntactWaste => "intact_waste",
            LegalState::Unknown => "unknown",
            LegalState::DamagedOrDefective => "damaged_or_defective",
            LegalState::CasingBreached => "casing_breached",
            LegalState::Critical => "critical",
        }
    }

    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            LegalState::NotWaste => "not waste",
            LegalState::IntactWaste => "waste without damage",
            LegalState::Unknown => "unknown, to be treated as damaged",
            LegalState::DamagedOrDefective => "damaged or defective, not critical",
            LegalState::CasingBreached => "damaged, casing open",
            LegalState::Critical => "critical",
        }
    }

    /// Returns whether a rule written for `states` holds for this one; what is unknown also follows the rules for
    /// damaged cells, and never those for undamaged ones.
    pub(super) fn is_among(self, states: &[LegalState]) -> bool {
        states.contains(&self)
            || (self == LegalState::Unknown && states.contains(&LegalState::DamagedOrDefective))
    }
}

impl fmt::Display for LegalState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.words())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_known_counts_as_damaged() {
        assert_eq!(LegalState::default(), LegalState::Unknown);
        assert!(LegalState::Unknown.counts_as_damaged());
        assert!(LegalState::Unknown.is_among(&[LegalState::DamagedOrDefective]));
        assert!(!LegalState::Unknown.is_among(&[LegalState::IntactWaste, LegalState::NotWaste]));
        assert!(!LegalState::IntactWaste.counts_as_damaged() && !LegalState::NotWaste.counts_as_damaged());
    }

    #[test]
    fn the_condition_weighs_more_than_the_fate() {
        for fate in Fate::ALL {
            assert_eq!(LegalState::of(fate, CellState::Critical), LegalState::Critical);
            assert_eq!(LegalState::of(fate, CellState::Unknown), LegalState::Unknown);
            for condition in CellState::ALL.into_iter().filter(|one| *one != CellState::Intact) {
                assert!(LegalState::of(fate, condition).counts_as_damaged(), "{fate} {condition:?}");
            }
        }
        assert_eq!(LegalState::of(Fate::Recycle, CellState::Intact), LegalState::IntactWaste);
        assert_eq!(LegalState::of(Fate::Quarantine, CellState::Intact), LegalState::DamagedOrDefective);
        assert_eq!(LegalState::of(Fate::Undecided, CellState::Intact), LegalState::NotWaste);
    }

    #[test]
    fn names_in_json_are_the_keys() {
        for state in LegalState::ALL {
            assert_eq!(serde_json::to_value(state).unwrap(), state.key());
        }
    }
}
