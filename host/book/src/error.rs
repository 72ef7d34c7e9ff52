//! What can go wrong with a book: what happened, where, and what to do about it.
//!
//! Input: errors of the database and refusals of the book's own; output: one [`BookError`] that carries the path. An error always
//! means that nothing of the request was written: every request is one transaction.

use std::path::{Path, PathBuf};

use super::{RecordingNumber, Sort};

/// A problem and the book it concerns.
#[derive(Debug, thiserror::Error)]
#[error("book {}: {problem}", path.display())]
pub struct BookError {
    /// The file.
    pub path: PathBuf,
    /// What happened and what to do.
    pub problem: Problem,
}

/// What happened to a book, and in its words what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// Read only was asked for and there is nothing to read.
    #[error("there is no book here yet; check the path, or record a first cell to begin one")]
    Missing,
    /// The file is something else; it was not touched.
    #[error("this is not a book but {found}; nothing in it was changed; give another path")]
    NotABook {
        /// What it seems to be.
        found: String,
    },
    /// A later celltriage wrote it; it was not touched.
    #[error(
        "it uses format {version}; this version reads up to {known}: use a newer celltriage, nothing was changed"
    )]
    NewerVersion {
        /// The format number found.
        version: i64,
        /// The newest format number this program knows.
        known: i64,
    },
    /// An earlier celltriage wrote it and read only was asked for.
    #[error(
        "it has the older format {version}, now {known}; copy it to where it may be written and open it there once"
    )]
    OlderVersion {
        /// The format number found.
        version: i64,
        /// The format number needed.
        known: i64,
    },
    /// Another program holds the write lock for too long.
    #[error(
        "another program holds it locked; nothing was written; close that program or wait, then try again"
    )]
    Locked,
    /// No room.
    #[error("the disk is full; nothing was written and what is in the book stays; make room, then try again")]
    DiskFull,
    /// The file is damaged.
    #[error("it is damaged ({detail}); keep the file as it is, copy it, and fetch the last good backup")]
    Corrupt {
        /// What does not fit.
        detail: String,
    },
    /// Writing was asked of a book opened to read, or of a protected file.
    #[error("it can only be read; nothing was written; check the file's and its folder's permissions")]
    ReadOnly,
    /// The file or its folder cannot be opened.
    #[error(
        "it cannot be opened ({detail}); check that the folder exists on a local disk and may be written"
    )]
    CannotOpen {
        /// The system's or SQLite's words.
        detail: String,
    },
    /// A value that was drawn from the entries is not what was kept.
    #[error(
        "what it keeps of {key} ({fold}) is damaged; it is drawn from the entries again at the next write"
    )]
    KeptDamaged {
        /// The fold.
        fold: &'static str,
        /// Its key.
        key: String,
    },
    /// The book is of the other sort.
    #[error("it is a book of {} cells and takes no others; nothing was written; give another book", sort.word())]
    OtherSort {
        /// What it is for.
        sort: Sort,
    },
    /// The texts about persons in an entry cannot be blanked.
    #[error("entry {entry} is not blanked: {why}; nothing was changed")]
    NotBlanked {
        /// The entry.
        entry: u32,
        /// Why.
        why: &'static str,
    },
    /// Two files have continued one chain differently.
    #[error(
        "chain {chain} goes on differently in the other file from entry {entry} on: one of the two is a copy that was written to by itself; nothing was taken in"
    )]
    Forked {
        /// The chain.
        chain: String,
        /// The first entry that differs, by its number here.
        entry: u32,
    },
    /// A file is where a new one is to be.
    #[error("there is a file already; nothing was written over it; give another path")]
    InTheWay,
    /// The file could not be copied before its format was to be changed.
    #[error(
        "it has an older format and could not be copied first ({detail}); nothing was changed; make room beside it"
    )]
    NotCopied {
        /// Why.
        detail: String,
    },
    /// A text of the request does not fit the book.
    #[error("the {field} {what}; nothing was written; correct it and try again")]
    BadText {
        /// Which text.
        field: &'static str,
        /// What is wrong with it.
        what: &'static str,
    },
    /// A part of the request cannot be stored so that it can be read again.
    #[error("the {field} would not read back ({detail}); nothing was written")]
    NotStorable {
        /// Which part.
        field: &'static str,
        /// Why.
        detail: String,
    },
    /// No entry has this number.
    #[error("there is no entry {number} to correct; nothing was written; list the book to find the number")]
    UnknownEntry {
        /// The number asked for.
        number: u32,
    },
    /// What an entry holds is not what its kind says.
    #[error("entry {number} ({kind}) cannot be read: {detail}")]
    Unreadable {
        /// Number of the entry.
        number: u32,
        /// Its kind.
        kind: String,
        /// What does not fit.
        detail: String,
    },
    /// Another program wrote an entry since the book was read.
    #[error("another program wrote to it meanwhile; nothing was written; give the command again")]
    Grown,
    /// No recording has this number.
    #[error("there is no recording {number}; nothing was written; begin one first")]
    UnknownRecording {
        /// The number asked for.
        number: RecordingNumber,
    },
    /// The recording belongs to an entry already.
    #[error("recording {number} was finished by entry {entry}; nothing was written; begin another recording")]
    RecordingFinished {
        /// The number asked for.
        number: RecordingNumber,
        /// The entry that names it.
        entry: u32,
    },
    /// The recording was begun for another cell.
    #[error("recording {number} is of cell {cell_id}; nothing was written; check which cell is meant")]
    RecordingOfOtherCell {
        /// The number asked for.
        number: RecordingNumber,
        /// The cell it was begun for.
        cell_id: String,
    },
    /// A recording that came from another book goes on there, not here.
    #[error(
        "recording {number} was begun in another book and goes on only there; nothing was written; take that book in again when it has ended"
    )]
    RecordingOfOtherBook {
        /// Its number here.
        number: RecordingNumber,
    },
    /// The database keeps a rule of the book that a request would have broken.
    #[error(
        "the book does not take it ({rule}); nothing was written; this is a fault of the program: report it"
    )]
    Refused {
        /// The rule, in the database's words.
        rule: String,
    },
    /// The texts were blanked, but what the database had written of them before could not be cleared away.
    #[error(
        "the texts are blanked and entry {entry} says so, but traces of them may be left in the files beside the book ({detail}); give the command again when no other program has the book open"
    )]
    NotScrubbed {
        /// The entry that says that they were blanked.
        entry: u32,
        /// Why.
        detail: String,
    },
    /// Anything else SQLite reports.
    #[error("SQLite reports: {0}; nothing was written; check the disk, then try again")]
    Storage(#[source] rusqlite::Error),
}

impl Problem {
    /// Returns whether it comes from where the file lies, not from what is in it.
    pub(super) fn is_about_the_place(&self) -> bool {
        match self {
            Self::ReadOnly | Self::CannotOpen { .. } | Self::DiskFull => true,
            Self::Storage(error) => error.sqlite_error_code() == Some(rusqlite::ErrorCode::SystemIoFailure),
            _ => false,
        }
    }

    /// Returns the error with the path it concerns.
    pub(super) fn at(self, path: &Path) -> BookError {
        BookError { path: path.to_owned(), problem: self }
    }
}
