//! The first entry of a book that lies beside another: whose it is, and what of it the other has already.

use serde::{Deserialize, Serialize};

use super::rest::Rest;

/// Kind of that entry; it is not taken in.
pub const NOTE: &str = "beside-the-book";

/// What the entry holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// Number of the stored form.
    pub schema: u32,
    /// The book that did not take it.
    pub book: String,
    /// Why.
    pub why: String,
    /// So many bytes at the beginning of the recording are only in that book.
    pub recording_from: u64,
    /// Frames that are nowhere.
    pub lost_frames: u64,
}

impl Note {
    /// The entry in one line.
    pub const WORDS: &'static str = "what the book did not take";

    /// Notes what a rest says of itself.
    pub fn of(rest: &Rest) -> Self {
        Self {
            schema: 1,
            book: rest.book.display().to_string(),
            why: rest.why.clone(),
            recording_from: rest.from,
            lost_frames: rest.lost_frames,
        }
    }
}
