//! The rows of a book as a database holds them, and which of them are wanted.

use super::texts::Packed;
use super::{Digest, Problem, Subject};

/// Which entries are wanted, and in what order; what is `None` does not restrict.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wanted<'a> {
    pub(super) subject: Option<&'a Subject>,
    pub(super) kind: Option<&'a str>,
    pub(super) fate: Option<&'a str>,
    pub(super) since_ms: Option<i64>,
    pub(super) until_ms: Option<i64>,
    /// Held by the words of the entry: letters a to z match their capitals, others only themselves. What follows a NUL
    /// character in the words is not searched, and a text that holds one is found nowhere.
    pub(super) words: Option<&'a str>,
    /// Entries after this number.
    pub(super) after: Option<i64>,
    pub(super) newest_first: bool,
    pub(super) limit: Option<u32>,
}

/// The head of an entry, exactly as its row holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct EntryRow {
    pub(super) number: i64,
    pub(super) chain: i64,
    pub(super) position: i64,
    pub(super) origin: i64,
    pub(super) origin_number: i64,
    pub(super) form: i64,
    pub(super) at_ms: i64,
    pub(super) kind: String,
    pub(super) subject: Subject,
    pub(super) simulated: Option<bool>,
    pub(super) fate: Option<String>,
    pub(super) summary: String,
    pub(super) program: String,
    /// In the numbers of its origin.
    pub(super) corrects: Option<i64>,
    pub(super) inputs: Digest,
    pub(super) result: Digest,
    /// How far the stream of recordings had come.
    pub(super) stream: (i64, Digest),
    pub(super) previous: Digest,
    pub(super) digest: Digest,
}

/// A text about a person, taken out of an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct PersonalRow {
    pub(super) digest: Digest,
    /// Salt and text; `None` once blanked.
    pub(super) text: Option<([u8; 16], String)>,
}

/// A recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct RecordingRow {
    pub(super) number: i64,
    pub(super) at_ms: i64,
    pub(super) cell_id: String,
    /// Book that it was recorded into, and its number there; for one of this book (1) the two numbers are the same.
    pub(super) origin: i64,
    pub(super) origin_number: i64,
    /// Entry that finished it, digest and length.
    pub(super) finished: Option<(i64, Digest, i64)>,
}

/// A link of the stream of recordings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct LinkRow {
    pub(super) number: i64,
    pub(super) recording: i64,
    /// 0 where the recording begins, then the position of the chunk.
    pub(super) position: i64,
    /// Digest of what it adds.
    pub(super) content: Digest,
    /// Digest over that and the link before.
    pub(super) digest: Digest,
}

/// How far a fold was kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct KeptTo {
    pub(super) version: u32,
    pub(super) number: i64,
    pub(super) digest: Digest,
}

/// A value of a fold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct KeptRow {
    pub(super) packed: Packed,
    pub(super) digest: Digest,
}

/// A value with its key and labels.
pub(super) type KeptAll = (String, KeptRow, Vec<(String, i64)>);

/// An entry's number here beside what texts call it: the book whose number it is, the number there, the number here.
pub(super) type Known = (i64, i64, i64);

/// Hears a content: digest, first entry that has it, bytes.
pub(super) type TakeContent<'a> = &'a mut dyn FnMut(Digest, Option<i64>, &[u8]);

/// Hears a text: number, packing, packed bytes.
pub(super) type TakeText<'a> = &'a mut dyn FnMut(i64, i64, &[u8]);

/// Hears rows; says whether it wants more.
pub(super) type Take<'a, T> = &'a mut dyn FnMut(T) -> Result<bool, Problem>;
