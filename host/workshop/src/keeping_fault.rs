//! Why a copy of the book, a checkpoint or a key is not made: data, which each face turns into words of its own.

use celltriage_book::{BookFault, Id, NotACheckpoint};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// A fault about what is kept of the book, in it or beside it.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum KeepingFault {
    /// A file lies where a new one is to be.
    #[error("{} is there already; nothing was written over it", file.display())]
    InTheWay {
        /// The file.
        file: PathBuf,
    },
    /// What is left of a book that is not there any more would be read into the new one.
    #[error("{} is left of a book that is not there any more; nothing was written", file.display())]
    LeftOver {
        /// The file.
        file: PathBuf,
    },
    /// The book of another bench is not as it was written.
    #[error("{} does not verify: {}; nothing was taken in", file.display(), first(faults))]
    NotVerified {
        /// The file.
        file: PathBuf,
        /// What does not fit.
        faults: Vec<BookFault>,
    },
    /// A checkpoint or a key would lie where whoever changes the book can change it too.
    #[error(
        "{} lies in the folder of the book: whoever can change the book can change it too, so it would prove nothing",
        file.display()
    )]
    BesideTheBook {
        /// The file.
        file: PathBuf,
    },
    /// A file of checkpoints holds something else.
    #[error("{}: {why}", file.display())]
    NotCheckpoints {
        /// The file.
        file: PathBuf,
        /// What is wrong with it.
        why: NotACheckpoint,
    },
    /// There is nothing yet that a checkpoint could cover.
    #[error("the book has no entry yet: a checkpoint of it would cover nothing; nothing was written")]
    NothingToNote,
    /// A file has no checkpoint in it.
    #[error("{} holds no checkpoint", file.display())]
    NoCheckpoint {
        /// The file.
        file: PathBuf,
    },
    /// A file of checkpoints is kept for another book.
    #[error("{} holds checkpoints of another book, {book}; nothing was written", file.display())]
    OfAnotherBook {
        /// The file.
        file: PathBuf,
        /// The other book.
        book: Id,
    },
    /// The book does not hold any more what it held at an earlier checkpoint.
    #[error("the book does not fit the checkpoints in {}: {what}; nothing was written", file.display())]
    NotHeld {
        /// The file.
        file: PathBuf,
        /// What does not fit.
        what: String,
    },
    /// What is expected of the book is neither a number with a digest nor a file.
    #[error("{given} is neither a file of checkpoints nor a number of entries, a colon and a digest")]
    NotExpected {
        /// What was given.
        given: String,
    },
    /// A digest bears no signature.
    #[error("a number of entries with a digest bears no signature; a file of checkpoints does")]
    NeverSigned,
    /// A file holds no key.
    #[error("{}: {why}", file.display())]
    NotAKey {
        /// The file.
        file: PathBuf,
        /// What is wrong with it.
        why: NotACheckpoint,
    },
    /// Nobody says why names are to be blanked.
    #[error("no reason is given; nothing was changed")]
    NoReason,
    /// The reason would write a text into the book that is to be blanked.
    #[error("the reason holds a text that is to be blanked in entry {entry}; nothing was changed")]
    ReasonNamesPerson {
        /// The entry.
        entry: u32,
    },
    /// The system refuses a file.
    #[error("cannot {doing} {}: {error}", file.display())]
    File {
        /// What was to be done: `read` or `write`.
        doing: &'static str,
        /// The file.
        file: PathBuf,
        /// What the system says.
        error: String,
    },
}

impl KeepingFault {
    /// Returns what turns an error of the system into a fault.
    pub(crate) fn on(doing: &'static str, file: &Path) -> impl Fn(std::io::Error) -> Self {
        move |error| Self::File { doing, file: file.to_owned(), error: error.to_string() }
    }
}

fn first(faults: &[BookFault]) -> &str {
    faults.first().map_or("", |fault| &fault.what)
}
