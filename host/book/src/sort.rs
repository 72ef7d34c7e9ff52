//! Whether a book is of real cells or of simulated ones.

/// What a book is for; it never takes entries of the other sort.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// Real cells.
    Real,
    /// Cells of the simulated bench.
    Simulated,
    /// Both: begun by a program that did not keep them apart.
    Mixed,
}

impl Sort {
    /// Returns the word under which it is stored; it never changes.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Real => "real",
            Self::Simulated => "simulated",
            Self::Mixed => "mixed",
        }
    }

    /// Reads the stored word.
    pub(super) fn of_word(word: &str) -> Option<Self> {
        [Self::Real, Self::Simulated, Self::Mixed].into_iter().find(|sort| sort.word() == word)
    }

    /// Returns the sort of a book with entries about real cells, and about simulated ones.
    pub(super) const fn of_entries(real: bool, simulated: bool) -> Option<Self> {
        match (real, simulated) {
            (true, true) => Some(Self::Mixed),
            (true, false) => Some(Self::Real),
            (false, true) => Some(Self::Simulated),
            (false, false) => None,
        }
    }

    /// Returns whether a book of this sort takes an entry about a simulated cell, or about a real one.
    pub const fn takes(self, simulated: bool) -> bool {
        match self {
            Self::Real => !simulated,
            Self::Simulated => simulated,
            Self::Mixed => true,
        }
    }
}
