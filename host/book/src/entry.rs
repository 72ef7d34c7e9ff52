//! An entry of the book: what is asked to be written, and what stands written.
//!
//! [`NewEntry`] goes in, [`Entry`] comes out; [`NewAttachment`] and [`Attachment`] likewise. An attachment is a whole
//! file as it was given (trace, nameplate, policy); what grows while a cell is measured is a recording.

use jiff::Timestamp;
use serde_json::Value;

use super::{Digest, Problem, RecordingNumber};

/// The program that writes entries, as written in them.
pub const PROGRAM: &str = concat!("celltriage ", env!("CARGO_PKG_VERSION"));

/// An entry to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct NewEntry {
    /// When it happened; kept to the millisecond.
    pub at: Timestamp,
    /// What sort of entry, such as `assessment` or `correction`.
    pub kind: String,
    /// The cell's name in the shop.
    pub cell_id: String,
    /// What was decided, if anything.
    pub fate: Option<String>,
    /// One line for a list.
    pub summary: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// Everything the decision was made from: nameplate, observations, options.
    pub inputs: Value,
    /// Everything that came out.
    pub result: Value,
    /// The earlier entry that this one corrects.
    pub corrects: Option<u32>,
    /// Whole files to be kept with it.
    pub attachments: Vec<NewAttachment>,
    /// The recordings that this entry finishes.
    pub recordings: Vec<RecordingNumber>,
}

/// A file to be kept with an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewAttachment {
    /// Its name, such as `trace.csv`.
    pub name: String,
    /// Its media type, such as `text/csv`.
    pub media_type: String,
    /// Its bytes as they were given.
    pub bytes: Vec<u8>,
}

/// An entry of the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its number: 1, 2, 3 and so on without gaps, in the order of writing.
    pub number: u32,
    /// When it happened, to the millisecond.
    pub at: Timestamp,
    /// What sort of entry.
    pub kind: String,
    /// The cell's name in the shop.
    pub cell_id: String,
    /// What was decided, if anything.
    pub fate: Option<String>,
    /// One line for a list.
    pub summary: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// Everything the decision was made from.
    pub inputs: Value,
    /// Everything that came out.
    pub result: Value,
    /// The earlier entry that this one corrects.
    pub corrects: Option<u32>,
    /// The digest of the entry before.
    pub previous: Digest,
    /// The digest of this entry, its attachments and recordings, and the digest before.
    pub digest: Digest,
}

/// A file kept with an entry; [`super::Book::attachment`] gives its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attachment {
    /// Its name.
    pub name: String,
    /// Its media type.
    pub media_type: String,
    /// The digest of its bytes.
    pub sha256: Digest,
    /// The number of its bytes.
    pub length: u64,
}

impl NewEntry {
    /// Says whether every text fits the book.
    pub(super) fn check(&self) -> Result<(), Problem> {
        one_line("kind", &self.kind)?;
        one_line("cell id", &self.cell_id)?;
        one_line("summary", &self.summary)?;
        one_line("program", &self.program)?;
        self.fate.iter().try_for_each(|fate| one_line("fate", fate))?;
        for attachment in &self.attachments {
            one_line("attachment's name", &attachment.name)?;
            one_line("attachment's media type", &attachment.media_type)?;
        }
        Ok(())
    }
}

/// Says whether `text` is one line that a person can find again.
pub(super) fn one_line(field: &'static str, text: &str) -> Result<(), Problem> {
    let what = if text.is_empty() {
        "is empty"
    } else if text.trim() != text {
        // "C-7 " and "C-7" would look like one cell and be two.
        "begins or ends with a blank"
    } else if text.chars().any(char::is_control) {
        "holds a line break or another control character"
    } else {
        return Ok(());
    };
    Err(Problem::BadText { field, what })
}
