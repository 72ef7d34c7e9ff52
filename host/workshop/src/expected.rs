//! What is expected of the book: how far it had come at a time, as it was noted elsewhere, compared with the book today.
//!
//! Only this shows that the last entries were cut off or that a chain was computed again. Every checkpoint of a file counts: one
//! that does not fit, is of another book, or is not signed as it should be, is told, never passed over.

use crate::checkpoints::read_all;
use crate::fault::Result;
use crate::keeping_fault::KeepingFault;
use crate::shop::Workshop;
use celltriage_book::{BookFault, Checkpoint, Digest, Key};
use jiff::Timestamp;
use std::path::{Path, PathBuf};

/// What is expected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Expected {
    /// The bench of this book had written so many entries, the last one with this digest.
    Head {
        /// How many.
        entries: u32,
        /// The digest.
        digest: Digest,
    },
    /// The book still holds what it held at these checkpoints.
    Checkpoints {
        /// Where they are noted.
        file: PathBuf,
        /// The checkpoints; there is one at least.
        all: Vec<Checkpoint>,
    },
}

/// One expectation beside the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Compared {
    /// When it was noted, where it says so.
    pub at: Option<Timestamp>,
    /// Entries that it covers, of all chains.
    pub entries: u64,
    /// The key whose signature it bears.
    pub signer: Option<Key>,
    /// What does not fit.
    pub faults: Vec<BookFault>,
}

impl Expected {
    /// Reads what was given: `NUMBER:DIGEST`, or the name of a file of checkpoints.
    ///
    /// # Errors
    /// It is neither, or the file cannot be read.
    pub fn read(given: &str) -> Result<Self> {
        let file = Path::new(given);
        if let Some((number, digest)) = given.split_once(':')
            && !file.exists()
        {
            return match (number.parse(), digest.parse()) {
                (Ok(entries @ 1..), Ok(digest)) => Ok(Self::Head { entries, digest }),
                _ => Err(KeepingFault::NotExpected { given: given.to_owned() }.into()),
            };
        }
        let text = std::fs::read_to_string(file).map_err(KeepingFault::on("read", file))?;
        let all = read_all(&text, file)?;
        if all.is_empty() {
            return Err(KeepingFault::NoCheckpoint { file: file.to_owned() }.into());
        }
        Ok(Self::Checkpoints { file: file.to_owned(), all })
    }
}

impl Workshop<'_> {
    /// Compares the book with what is expected of it; what does not fit is in what it returns.
    ///
    /// # Errors
    /// [`KeepingFault::NeverSigned`], or the book cannot be read.
    pub fn compare(&self, expected: &Expected, signed_by: Option<Key>) -> Result<Vec<Compared>> {
        match expected {
            Expected::Head { .. } if signed_by.is_some() => Err(KeepingFault::NeverSigned.into()),
            Expected::Head { entries, digest } => {
                let held = self.book.held_at(*entries, *digest)?;
                Ok(vec![Compared {
                    at: None,
                    entries: held.entries.into(),
                    signer: None,
                    faults: held.faults,
                }])
            }
            Expected::Checkpoints { all, .. } => {
                all.iter().map(|one| self.compared(one, signed_by)).collect()
            }
        }
    }

    fn compared(&self, checkpoint: &Checkpoint, signed_by: Option<Key>) -> Result<Compared> {
        let mut held = self.book.held(checkpoint)?;
        let signer = checkpoint.signer();
        let wrong = match (&checkpoint.signed, signer, signed_by) {
            (None, _, Some(_)) => Some("it is not signed".to_owned()),
            (Some(_), None, _) => {
                Some("its signature does not fit: it was changed after it was signed".to_owned())
            }
            (_, Some(signer), Some(key)) if signer != key => {
                Some(format!("it is signed with another key, {signer}"))
            }
            _ => None,
        };
        let entries: u64 = checkpoint.chains.iter().map(|chain| u64::from(chain.entries)).sum();
        if entries == 0 {
            // A line that was taken out must not read as one that holds.
            let what = "it covers no entry, so it shows nothing".to_owned();
            held.faults.push(BookFault { entry: None, what });
        }
        held.faults.extend(wrong.map(|what| BookFault { entry: None, what }));
        Ok(Compared { at: Some(checkpoint.at), entries, signer, faults: held.faults })
    }
}
