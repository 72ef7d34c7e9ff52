//! What a verification has found.

use super::super::{Digest, Problem};

/// What a verification found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verification {
    /// The number of entries read.
    pub entries: u32,
    /// The digest of the last entry; `None` in a book without entries.
    pub last: Option<Digest>,
    /// How many bytes of text, attachments and recordings were hashed.
    pub bytes: u64,
    /// What does not fit, by entry; empty where all fits.
    pub faults: Vec<BookFault>,
}

/// Something that does not fit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BookFault {
    /// The entry concerned; `None` for the file as a whole.
    pub entry: Option<i64>,
    /// What does not fit.
    pub what: String,
}

impl Verification {
    /// Says whether nothing was found.
    pub fn passed(&self) -> bool {
        self.faults.is_empty()
    }

    /// Returns the lowest number of an entry with a fault.
    pub fn first_bad_entry(&self) -> Option<i64> {
        self.faults.iter().filter_map(|fault| fault.entry).min()
    }

    /// Takes in a problem that is a finding; any other means that the check could not be made.
    pub(super) fn say(&mut self, problem: Problem) -> Result<(), Problem> {
        match problem {
            Problem::Corrupt { detail } => self.fault(None, detail),
            // A definition that was changed makes a request fail that was always understood.
            Problem::Storage(error) => self.fault(None, format!("SQLite reports: {error}")),
            other => return Err(other),
        }
        Ok(())
    }

    /// Takes in what another look has found.
    pub(super) fn add(&mut self, other: Self) {
        self.entries = self.entries.saturating_add(other.entries);
        self.last = other.last.or(self.last);
        self.bytes = self.bytes.saturating_add(other.bytes);
        self.faults.extend(other.faults);
    }

    pub(super) fn fault(&mut self, entry: Option<i64>, what: impl Into<String>) {
        self.faults.push(BookFault { entry, what: what.into() });
    }
}
