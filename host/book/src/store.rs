//! What a database must do to hold a book: rows read and rows written, in transactions.
//!
//! What the book means (numbers, seals, what may be written) stands once, above these traits. A database holds the rows, keeps the
//! rules below by itself, and passes the suite of tests (`tests/suite`), which all databases share.
//!
//! - **Reading.** Everything read in one [`Store::read`] is of one state: that after the last write which had ended when the
//!   first row was read. It waits for no write and no write waits for it.
//! - **Writing.** One [`Store::write`] at a time; the next waits its turn, at most as long as [`Store::wait_at_most`] says, and is
//!   [`Problem::Locked`] after that. It reads what it has written itself; others see all of it once it has ended, or nothing.
//! - **On the disk.** What `write` returns `Ok` for survives a crash. After an error nothing of it is there. Only where the way
//!   to the database breaks while it ends the transaction can nobody know: whoever repeats the request looks first.
//! - **A request may run again** from its beginning, where the database has undone the first run. Requests are made for that.
//! - **Refusals** are [`Problem::Refused`]. A call that fails has changed nothing, and the request may go on after it; whether
//!   the rest is kept is for the request to say, by what it returns.
//! - **Rules** that every database keeps, whatever is above it: rows are added, never changed or taken out, but for what is
//!   drawn from the rest (words, everything called kept) and for blanking. Entries, the places of a chain, attachments, what an
//!   entry is about, texts about persons, recordings, chunks and links are numbered without gaps, from 1 (a link's position from
//!   0). What belongs to an entry comes before it, in the same transaction; afterwards the entry is sealed and takes nothing more.
//!   A finished recording takes no chunk and is not finished again. What is named is there: chain, book, recording and content
//!   at once, the entry by the end of the transaction.
//! - **Order of texts** (names, keys, labels) is that of their Unicode code points, whatever language the machine speaks. A text may
//!   hold any character, NUL among them. Selections without an order in their name come in the order of numbers.
//! - **While rows are heard** (`take`) the listener may read others from the same transaction.

use std::any::Any;
use std::fmt::Debug;
use std::path::Path;
use std::time::Duration;

use super::Sort;
use super::identity::{Chain, Id, Identity};
use super::texts::Packed;
use super::{Attachment, Digest, NewAttachment, Problem, Subject};

pub(super) use super::rows::{
    EntryRow, KeptAll, KeptRow, KeptTo, Known, LinkRow, PersonalRow, RecordingRow, Take, TakeContent,
    TakeText, Wanted,
};

/// A database that holds a book.
pub(super) trait Store: Any + Debug + Send {
    /// Runs a request that reads.
    fn read(&self, request: &mut dyn FnMut(&dyn Rows) -> Result<(), Problem>) -> Result<(), Problem>;
    /// Keeps to the state of now for all that is read until [`Store::let_go`]; says whether that was not so already.
    fn hold(&self) -> Result<bool, Problem>;
    /// Ends what [`Store::hold`] began.
    fn let_go(&self);
    /// Runs a request that writes; it alone may write while it runs.
    fn write(
        &mut self,
        request: &mut dyn FnMut(&mut dyn RowsMut) -> Result<(), Problem>,
    ) -> Result<(), Problem>;
    /// Sets how long requests from now on wait for the write of somebody else.
    fn wait_at_most(&mut self, patience: Duration) -> Result<(), Problem>;
    /// Looks at what the database itself must hold together (its files, its definitions, rows that name others); returns what
    /// does not fit. Whether the rows are what was written is not its business.
    fn own_check(&self) -> Result<Vec<String>, Problem>;
    /// Copies all into an empty file by a quick way of its own, while others read and write; `step` hears how many of how many
    /// parts are done, at the end that all are. Returns false, with nothing done, where there is no such way: then the rows are copied one by one.
    fn copy_to(&self, path: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<bool, Problem>;
    /// Makes sure that nothing blanked is left in free space or in a log; [`Problem::Locked`] where others who read hold it there.
    fn scrub(&mut self) -> Result<(), Problem>;
}

/// What can be read. What is not there is `None`, 0 or empty, never an error.
pub(super) trait Rows {
    fn identity(&self) -> Result<Identity, Problem>;
    fn last(&self) -> Result<Option<EntryRow>, Problem>;
    /// The number of the last entry, 0 where there is none.
    fn last_number(&self) -> Result<i64, Problem>;
    /// The first number of an entry after another number.
    fn number_after(&self, number: i64) -> Result<Option<i64>, Problem>;
    /// The digest of an entry.
    fn digest_of(&self, number: i64) -> Result<Option<Digest>, Problem>;
    /// The last place of a chain and the digest there.
    fn head(&self, chain: i64) -> Result<Option<(i64, Digest)>, Problem>;
    fn entry(&self, number: i64) -> Result<Option<EntryRow>, Problem>;
    fn entry_at(&self, chain: i64, position: i64) -> Result<Option<EntryRow>, Problem>;
    /// Hears each entry that is wanted, once.
    fn entries(&self, wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> Result<(), Problem>;
    /// The number of `text`: twice the entry's, and one more for the result.
    fn text(&self, number: i64) -> Result<Option<Packed>, Problem>;
    fn words(&self, entry: i64) -> Result<Option<String>, Problem>;
    fn about(&self, entry: i64) -> Result<Vec<Subject>, Problem>;
    /// The names of all subjects of a sort, each once, in their order.
    fn names(&self, kind: &str) -> Result<Vec<String>, Problem>;
    fn personal(&self, entry: i64) -> Result<Vec<PersonalRow>, Problem>;
    fn attachments(&self, entry: i64) -> Result<Vec<Attachment>, Problem>;
    /// Entries with the name of an attachment whose bytes are not there.
    fn attachments_without_bytes(&self) -> Result<Vec<(i64, String)>, Problem>;
    fn content(&self, sha256: Digest) -> Result<Option<Vec<u8>>, Problem>;
    /// Hears each content with its digest and the first entry that has it, in the order in which they were first attached.
    fn contents(&self, take: TakeContent<'_>) -> Result<(), Problem>;
    fn recording(&self, number: i64) -> Result<Option<RecordingRow>, Problem>;
    /// The number here of a recording that came from another book (never of one of this book).
    fn recording_from(&self, origin: i64, number: i64) -> Result<Option<i64>, Problem>;
    fn recordings(&self, entry: i64) -> Result<Vec<RecordingRow>, Problem>;
    fn unfinished(&self, cell: Option<&str>) -> Result<Vec<RecordingRow>, Problem>;
    fn chunks(&self, recording: i64, take: &mut dyn FnMut(&[u8])) -> Result<(), Problem>;
    fn chunk(&self, recording: i64, position: i64) -> Result<Option<Vec<u8>>, Problem>;
    /// The number of its bytes.
    fn length(&self, recording: i64) -> Result<i64, Problem>;
    fn last_link(&self) -> Result<Option<LinkRow>, Problem>;
    fn link(&self, number: i64) -> Result<Option<LinkRow>, Problem>;
    /// The links of a recording in the order of their positions.
    fn links_of(&self, recording: i64) -> Result<Vec<LinkRow>, Problem>;
    /// Recordings with a begin or a chunk that has no link, each once.
    fn unlinked(&self) -> Result<Vec<i64>, Problem>;
    fn links(&self, take: Take<'_, LinkRow>) -> Result<(), Problem>;
    fn last_recording(&self) -> Result<i64, Problem>;
    fn last_chunk(&self, recording: i64) -> Result<i64, Problem>;
    /// The number here of the entry that a book calls by a number.
    fn known_as(&self, book: i64, number: i64) -> Result<Option<i64>, Problem>;
    /// Hears all of these, in the order of books and of the numbers there.
    fn known(&self, take: Take<'_, Known>) -> Result<(), Problem>;
    fn kept_to(&self, fold: &str) -> Result<Option<KeptTo>, Problem>;
    fn kept(&self, fold: &str, key: &str) -> Result<Option<KeptRow>, Problem>;
    /// The keys under a label, highest rank first, those of one rank in their order.
    fn kept_under(&self, fold: &str, label: &str, most: Option<u32>) -> Result<Vec<String>, Problem>;
    /// The labels with this beginning in their order, and how many keys each has (a key with two ranks counts twice).
    fn kept_labels(&self, fold: &str, beginning: &str) -> Result<Vec<(String, u64)>, Problem>;
    /// Hears every key of a fold with its value and labels, in the order of keys, labels and ranks.
    fn kept_all(&self, fold: &str, take: Take<'_, KeptAll>) -> Result<(), Problem>;

    // What follows is what is above, for many entries at once: of those from one number to another, both included, with the number
    // of the entry and in the order of numbers and positions. A database that has a quicker way takes it.

    fn about_between(&self, first: i64, last: i64) -> Result<Vec<(i64, Subject)>, Problem> {
        between(first, last, |entry| self.about(entry))
    }
    fn personal_between(&self, first: i64, last: i64) -> Result<Vec<(i64, PersonalRow)>, Problem> {
        between(first, last, |entry| self.personal(entry))
    }
    /// Their lengths may be left out.
    fn attachments_between(&self, first: i64, last: i64) -> Result<Vec<(i64, Attachment)>, Problem> {
        between(first, last, |entry| self.attachments(entry))
    }
    fn recordings_between(&self, first: i64, last: i64) -> Result<Vec<(i64, RecordingRow)>, Problem> {
        between(first, last, |entry| self.recordings(entry))
    }
    fn words_between(&self, first: i64, last: i64) -> Result<Vec<(i64, String)>, Problem> {
        between(first, last, |entry| Ok(self.words(entry)?.into_iter().collect()))
    }
    /// Hears the texts: number, packing, packed bytes.
    fn texts_between(&self, first: i64, last: i64, take: TakeText<'_>) -> Result<(), Problem> {
        for number in first * 2..=last * 2 + 1 {
            if let Some(text) = self.text(number)? {
                take(number, text.packing, &text.bytes);
            }
        }
        Ok(())
    }
    /// The number of the first content after another number.
    fn content_after(&self, number: i64) -> Result<Option<i64>, Problem> {
        let mut count = 0;
        self.contents(&mut |_, _, _| count += 1)?;
        Ok(Some(number + 1).filter(|next| *next <= count))
    }
    /// Hears the contents with these numbers; what cannot be unpacked as other bytes.
    fn contents_between(
        &self,
        first: i64,
        last: i64,
        take: &mut dyn FnMut(Digest, &[u8]),
    ) -> Result<(), Problem> {
        let mut number = 0;
        self.contents(&mut |sha256, _, bytes| {
            number += 1;
            if (first..=last).contains(&number) {
                take(sha256, bytes);
            }
        })
    }
    /// The first entry that has a content.
    fn first_with(&self, sha256: Digest) -> Result<Option<i64>, Problem> {
        let mut found = None;
        self.contents(&mut |digest, entry, _| found = found.or(entry.filter(|_| digest == sha256)))?;
        Ok(found)
    }
    /// The contents that no entry has.
    fn contents_of_no_entry(&self) -> Result<Vec<Digest>, Problem> {
        let mut found = Vec::new();
        self.contents(&mut |digest, entry, _| found.extend(Some(digest).filter(|_| entry.is_none())))?;
        Ok(found)
    }
}

/// What can be written, beside what can be read.
pub(super) trait RowsMut: Rows {
    /// Sixteen random bytes that nobody can guess; never twice the same, whatever became of the request that got them.
    fn random(&self) -> Result<[u8; 16], Problem>;
    /// Returns the number that it has here; the first is the book itself.
    fn add_book(&mut self, id: Id) -> Result<i64, Problem>;
    fn add_chain(&mut self, chain: &Chain) -> Result<i64, Problem>;
    /// Says once and for all what the book is for.
    fn set_sort(&mut self, sort: Sort) -> Result<(), Problem>;
    fn add_entry(&mut self, row: &EntryRow) -> Result<(), Problem>;
    fn add_text(&mut self, number: i64, text: &Packed) -> Result<(), Problem>;
    fn add_words(&mut self, entry: i64, words: &str) -> Result<(), Problem>;
    fn add_about(&mut self, entry: i64, position: i64, subject: &Subject) -> Result<(), Problem>;
    fn add_personal(&mut self, entry: i64, position: i64, row: &PersonalRow) -> Result<(), Problem>;
    /// Takes out the texts about persons in an entry and puts other words in place; refused until an entry of the kind `blanked` that
    /// was first written into this book names it as the one that it corrects.
    fn blank(&mut self, entry: i64, words: &str) -> Result<(), Problem>;
    /// Adds an attachment; bytes that are there already are not stored again.
    fn add_attachment(
        &mut self,
        entry: i64,
        position: i64,
        attachment: &NewAttachment,
    ) -> Result<(), Problem>;
    /// Adds a recording without chunks, unfinished whatever the row says.
    fn add_recording(&mut self, row: &RecordingRow) -> Result<(), Problem>;
    fn add_chunk(&mut self, recording: i64, position: i64, bytes: &[u8]) -> Result<(), Problem>;
    fn add_link(&mut self, link: &LinkRow) -> Result<(), Problem>;
    fn finish(&mut self, recording: i64, entry: i64, sha256: Digest, length: i64) -> Result<(), Problem>;
    fn add_known_as(&mut self, book: i64, number: i64, entry: i64) -> Result<(), Problem>;
    fn set_kept_to(&mut self, fold: &str, to: &KeptTo) -> Result<(), Problem>;
    /// Puts a value and its labels in place of those that the key had; `None` takes both out.
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

fn between<T>(
    first: i64,
    last: i64,
    of: impl Fn(i64) -> Result<Vec<T>, Problem>,
) -> Result<Vec<(i64, T)>, Problem> {
    let mut found = Vec::new();
    for entry in first..=last {
        found.extend(of(entry)?.into_iter().map(|one| (entry, one)));
    }
    Ok(found)
}
