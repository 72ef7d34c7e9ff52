//! What can go wrong when custody is read from a book or written into it.

use crate::refusal::Refusal;
use celltriage_book::BookError;

/// A refusal, or a fault of the book; nothing was written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CustodyError {
    /// The event does not fit what the book holds.
    #[error("{0}; nothing was written")]
    Refused(#[from] Refusal),
    /// The book.
    #[error(transparent)]
    Book(#[from] BookError),
    /// A later celltriage wrote an event.
    #[error("entry {entry} uses format {found}; this version reads up to {known}")]
    NewerEvent {
        /// Number of the entry.
        entry: u32,
        /// Format of its event.
        found: u32,
        /// The newest format known here.
        known: u32,
    },
    /// Others write faster than this event can be checked.
    #[error("{book}: other programs write to it without a break; nothing was written")]
    Overtaken {
        /// The book's file.
        book: String,
    },
    /// The book has nothing about the cell.
    #[error("{book} knows no cell {cell}")]
    NoSuchCell {
        /// The book's file.
        book: String,
        /// The cell.
        cell: String,
    },
}
