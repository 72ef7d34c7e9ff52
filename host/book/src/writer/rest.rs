//! What a book has not taken by the end: bytes and entries, and why.

use std::path::PathBuf;

use jiff::Timestamp;

use crate::NewEntry;

/// What a book has not taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Rest {
    /// The book.
    pub book: PathBuf,
    /// Why it did not take it.
    pub why: String,
    /// The cell.
    pub cell: String,
    /// When its recording was begun.
    pub began: Timestamp,
    /// So many bytes of the recording are in the book and no longer in memory; `bytes` goes on from there.
    pub from: u64,
    /// The recording, as far as memory has it.
    pub bytes: Vec<u8>,
    /// Entries that are not in the book, in their order.
    pub entries: Vec<RestEntry>,
    /// Frames that are nowhere: more than memory is kept for.
    pub lost_frames: u64,
}

/// An entry that is not in the book.
#[derive(Clone, Debug, PartialEq)]
pub struct RestEntry {
    /// The entry.
    pub entry: NewEntry,
    /// Whether the recording belongs to it.
    pub finishes: bool,
}

impl Rest {
    /// Makes the rest that is one entry and no recording.
    pub fn entry(book: PathBuf, why: String, entry: NewEntry) -> Self {
        let (cell, began) = (entry.subject.name.clone(), entry.at);
        let entries = vec![RestEntry { entry, finishes: false }];
        Self { book, why, cell, began, from: 0, bytes: Vec::new(), entries, lost_frames: 0 }
    }

    /// Returns when the last of it happened.
    pub fn at(&self) -> Timestamp {
        self.entries.last().map_or(self.began, |last| last.entry.at)
    }
}
