//! One piece of work on whatever keeps a recording and its entries.
//!
//! The trait is as small as it can be, so that a test can play a book that is locked, full, gone, slow or that hangs.

use jiff::Timestamp;

use crate::{BookError, Entry, NewEntry, RecordingNumber};

/// A piece of work: each is one request, all of it done or nothing.
#[derive(Clone, Debug, PartialEq)]
pub enum Work {
    /// Open the store.
    Open {
        /// The recording that was begun in it before, if any.
        recording: Option<RecordingNumber>,
    },
    /// Begin the recording.
    Begin {
        /// The cell.
        cell: String,
        /// When the measurement began.
        at: Timestamp,
    },
    /// Add bytes to the recording.
    Append {
        /// The recording.
        recording: RecordingNumber,
        /// The bytes.
        bytes: Vec<u8>,
    },
    /// Write an entry.
    Enter(Box<NewEntry>),
}

/// A piece of work that is done, and on the disk.
#[derive(Clone, Debug, PartialEq)]
pub enum Done {
    /// The store is open.
    Opened {
        /// How many bytes the recording has that was begun before; `None` if there is none, or it is finished.
        recorded: Option<u64>,
    },
    /// The recording is begun.
    Begun(RecordingNumber),
    /// The bytes are in the recording.
    Appended,
    /// The entry is written.
    Entered(Box<Entry>),
}

/// Whatever keeps a recording and its entries.
pub trait Worker: Send {
    /// Does one piece of work; what is returned as done is on the disk.
    ///
    /// # Errors
    /// Why nothing was done.
    fn perform(&mut self, work: &Work) -> Result<Done, BookError>;
}
