//! Remarks on entries of the book, and entries that no longer count.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::event::{Correction, Event};
use celltriage_custody::{PackRules, Refusal, Scope};

/// What is to be said of an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewCorrection {
    /// Number of the entry.
    pub entry: u32,
    /// What is right, and why.
    pub because: String,
    /// Whether the entry no longer counts.
    pub strike: bool,
}

impl Workshop<'_> {
    /// Checks that there is an entry that can be corrected.
    ///
    /// # Errors
    /// There is none of that number, or the book cannot be read.
    pub fn to_correct(&self, entry: u32) -> Result<()> {
        match self.book.head(entry)? {
            Some(_) => Ok(()),
            None => Err(Refusal::NoSuchEntry(entry).into()),
        }
    }

    /// Remarks on an entry, or strikes it.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn correct(&mut self, signer: &Signer, rules: &PackRules, new: &NewCorrection) -> Result<Entered> {
        let NewCorrection { entry, because, strike } = new;
        self.to_correct(*entry)?;
        self.enter(signer, rules, Scope::Entry(*entry), |state, _| {
            let not_of_custody = || Refusal::NotCorrectable {
                entry: *entry,
                why: "it is no event of a cell's custody".to_owned(),
            };
            let (of, subject) = state.entries.get(entry).cloned().ok_or_else(not_of_custody)?;
            let because = because.clone();
            Ok(Event::Correction(Correction { entry: *entry, of, subject, because, strike: *strike }))
        })
    }
}
