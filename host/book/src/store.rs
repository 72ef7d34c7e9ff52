//! What a database must do to hold a book: rows read and rows written, in transactions.
//!
//! The book's rules (numbers, seals, what may be written) stand once, above this trait; a second database implements it and
//! passes the same suite of tests. Everything read in one [`Store::read`] is of one state; everything written in one
//! [`Store::write`] is on the disk when it returns, or nothing of it.

use std::fmt::Debug;
use std::path::Path;
use std::time::Duration;

use super::Sort;
use super::identity::{Chain, Id, Identity};
use super::texts::Packed;
use super::{Attachment, Digest, NewAttachment, Problem, Subject};

/// A database that holds a book.
pub(super) trait Store: Debug + Send {
    /// Runs a request that reads.
    fn read(&self, request: &mut dyn FnMut(&dyn Rows) -> Result<(), Problem>) -> Result<(), Problem>;
    /// Keeps to the state of now for all that is read until [`Store::let_go`]; says whether that was not so already.
    fn hold(&self) -> Result<bool, Problem>;
    /// Ends what [`Store::hold`] began.
    fn let_go(&self);
    /// Runs a request that writes; it has the only write lock while it runs.
    fn write(
        &mut self,
        request: &mut dyn FnMut(&mut dyn RowsMut) -> Result<(), Problem>,
    ) -> Result<(), Problem>;
    /// Sets how long requests from now on wait for another program's write.
    fn wait_at_most(&mut self, patience: Duration) -> Result<(), Problem>;
    /// Looks at its own files and definitions; returns what does not fit.
    fn own_check(&self) -> Result<Vec<String>, Problem>;
    /// Copies all into a new file while others read and write; `step` hears how many of how many pages are done.
    fn copy_to(&self, path: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<(), Problem>;
    /// The connection behind it.
    #[cfg(test)]
    fn connection(&self) -> &rusqlite::Connection;
    /// Makes sure that nothing blanked is left in free space or in a log.
    fn scrub(&mut self) -> Result<(), Problem>;
}

/// Which entries are wanted, and in what order; what is `None` does not restrict.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wanted<'a> {
    pub(super) subject: Option<&'a Subject>,
    pub(super) kind: Option<&'a str>,
    pub(super) fate: Option<&'a str>,
    pub(super) since_ms: Option<i64>,
    pub(super) until_ms: Option<i64>,
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
    /// Number in the book that it was recorded into.
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

/// Hears a content: digest, first entry that has it, bytes.
pub(super) type TakeContent<'a> = &'a mut dyn FnMut(Digest, Option<i64>, &[u8]);

/// Hears rows; says whether it wants more.
pub(super) type Take<'a, T> = &'a mut dyn FnMut(T) -> Result<bool, Problem>;

/// What can be read.
pub(super) trait Rows {
    fn identity(&self) -> Result<Identity, Problem>;
    fn last(&self) -> Result<Option<EntryRow>, Problem>;
    fn head(&self, chain: i64) -> Result<Option<(i64, Digest)>, Problem>;
    fn entry(&self, number: i64) -> Result<Option<EntryRow>, Problem>;
    fn entry_at(&self, chain: i64, position: i64) -> Result<Option<EntryRow>, Problem>;
    fn entries(&self, wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> Result<(), Problem>;
    /// The number of `text`: twice the entry's, and one more for the result.
    fn text(&self, number: i64) -> Result<Option<Packed>, Problem>;
    fn words(&self, entry: i64) -> Result<Option<String>, Problem>;
    fn about(&self, entry: i64) -> Result<Vec<Subject>, Problem>;
    fn names(&self, kind: &str) -> Result<Vec<String>, Problem>;
    fn personal(&self, entry: i64) -> Result<Vec<PersonalRow>, Problem>;
    fn attachments(&self, entry: i64) -> Result<Vec<Attachment>, Problem>;
    /// Entries with the name of an attachment whose bytes are not there.
    fn attachments_without_bytes(&self) -> Result<Vec<(i64, String)>, Problem>;
    fn content(&self, sha256: Digest) -> Result<Option<Vec<u8>>, Problem>;
    /// Hears each content with its digest and the first entry that has it.
    fn contents(&self, take: TakeContent<'_>) -> Result<(), Problem>;
    fn recording(&self, number: i64) -> Result<Option<RecordingRow>, Problem>;
    fn recording_from(&self, origin: i64, number: i64) -> Result<Option<i64>, Problem>;
    fn recordings(&self, entry: i64) -> Result<Vec<RecordingRow>, Problem>;
    fn unfinished(&self, cell: Option<&str>) -> Result<Vec<RecordingRow>, Problem>;
    fn chunks(&self, recording: i64, take: &mut dyn FnMut(&[u8])) -> Result<(), Problem>;
    fn chunk(&self, recording: i64, position: i64) -> Result<Option<Vec<u8>>, Problem>;
    fn length(&self, recording: i64) -> Result<i64, Problem>;
    fn last_link(&self) -> Result<Option<LinkRow>, Problem>;
    fn link(&self, number: i64) -> Result<Option<LinkRow>, Problem>;
    fn links_of(&self, recording: i64) -> Result<Vec<LinkRow>, Problem>;
    /// Recordings with a begin or a chunk that has no link.
    fn unlinked(&self) -> Result<Vec<i64>, Problem>;
    fn links(&self, take: Take<'_, LinkRow>) -> Result<(), Problem>;
    fn last_recording(&self) -> Result<i64, Problem>;
    fn last_chunk(&self, recording: i64) -> Result<i64, Problem>;
    fn known_as(&self, book: i64, number: i64) -> Result<Option<i64>, Problem>;
    fn kept_to(&self, fold: &str) -> Result<Option<KeptTo>, Problem>;
    fn kept(&self, fold: &str, key: &str) -> Result<Option<KeptRow>, Problem>;
    /// The keys under a label, highest rank first.
    fn kept_under(&self, fold: &str, label: &str, most: Option<u32>) -> Result<Vec<String>, Problem>;
    /// The labels with this beginning, and how many keys each has.
    fn kept_labels(&self, fold: &str, beginning: &str) -> Result<Vec<(String, u64)>, Problem>;
    /// Hears every key of a fold with its value and labels, in the order of keys.
    fn kept_all(&self, fold: &str, take: Take<'_, KeptAll>) -> Result<(), Problem>;
}

/// What can be written, beside what can be read.
pub(super) trait RowsMut: Rows {
    /// Sixteen random bytes.
    fn random(&self) -> Result<[u8; 16], Problem>;
    fn add_book(&mut self, id: Id) -> Result<i64, Problem>;
    fn add_chain(&mut self, chain: &Chain) -> Result<i64, Problem>;
    fn set_sort(&mut self, sort: Sort) -> Result<(), Problem>;
    fn add_entry(&mut self, row: &EntryRow) -> Result<(), Problem>;
    fn add_text(&mut self, number: i64, text: &Packed) -> Result<(), Problem>;
    fn add_words(&mut self, entry: i64, words: &str) -> Result<(), Problem>;
    fn add_about(&mut self, entry: i64, position: i64, subject: &Subject) -> Result<(), Problem>;
    fn add_personal(&mut self, entry: i64, position: i64, row: &PersonalRow) -> Result<(), Problem>;
    fn blank(&mut self, entry: i64, words: &str) -> Result<(), Problem>;
    fn add_attachment(
        &mut self,
        entry: i64,
        position: i64,
        attachment: &NewAttachment,
    ) -> Result<(), Problem>;
    fn add_recording(&mut self, row: &RecordingRow, origin: i64) -> Result<(), Problem>;
    fn add_chunk(&mut self, recording: i64, position: i64, bytes: &[u8]) -> Result<(), Problem>;
    fn add_link(&mut self, link: &LinkRow) -> Result<(), Problem>;
    fn finish(&mut self, recording: i64, entry: i64, sha256: Digest, length: i64) -> Result<(), Problem>;
    fn add_known_as(&mut self, book: i64, number: i64, entry: i64) -> Result<(), Problem>;
    fn set_kept_to(&mut self, fold: &str, to: &KeptTo) -> Result<(), Problem>;
    fn set_kept(
        &mut self,
        fold: &str,
        key: &str,
        value: Option<&KeptRow>,
        labels: &[(String, i64)],
    ) -> Result<(), Problem>;
    fn clear_kept(&mut self, fold: &str) -> Result<(), Problem>;
    fn clear_all_kept(&mut self) -> Result<(), Problem>;
}
