//! Takes what lies beside a book into it: the entries as they were, with the time at which they were made.
//!
//! It may be ended at any moment and begun again: an entry that the book has already (the same time, kind, subject and contents)
//! is passed over, a recording that was begun goes on where it stops, and only then the file gets another name. Nothing is
//! removed.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use crate::files::{folder_of, sync, with_ending};
use crate::{Book, BookError, Entry, Filter, NewAttachment, Problem, RecordingNumber};

use super::note::{NOTE, Note};
use super::same;

/// What was taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenIn {
    /// How many entries.
    pub entries: usize,
    /// The file under the name that it has now.
    pub file: PathBuf,
}

/// One at a time in this program: two would begin the same recording.
static TAKING: Mutex<()> = Mutex::new(());

/// Takes a file beside the book into it, and renames the file; one that does not hold what was written stays as it is.
///
/// # Errors
/// A book error of either.
pub fn take_in(book: &mut Book, file: &Path) -> Result<TakenIn, BookError> {
    let _one_at_a_time = TAKING.lock().unwrap_or_else(PoisonError::into_inner);
    let cannot = |error: std::io::Error| Problem::CannotOpen { detail: error.to_string() }.at(file);
    // Opening would begin a book where another call has just taken the file in.
    std::fs::metadata(file).map_err(cannot)?;
    let aside = Book::open(file)?;
    if let Some(fault) = aside.verify()?.faults.first() {
        return Err(Problem::Corrupt { detail: fault.what.clone() }.at(file));
    }
    let entries = copy(book, &aside)?;
    drop(aside);
    let taken_in = with_ending(file, ".taken-in");
    std::fs::rename(file, &taken_in).map_err(cannot)?;
    let _not_every_system_can = sync(folder_of(file));
    Ok(TakenIn { entries, file: taken_in })
}

/// Writes each entry that the book does not have, in its order; returns how many the file holds.
fn copy(book: &mut Book, aside: &Book) -> Result<usize, BookError> {
    let mut entries = aside.entries(&Filter::default())?;
    entries.reverse();
    let note = entries.iter().find(|entry| entry.kind == NOTE);
    let read = |entry: &Entry| {
        serde_json::from_value::<Note>(entry.inputs.clone()).map_err(|error| aside.unreadable(entry, error))
    };
    let from = note.map(read).transpose()?.map_or(0, |note| note.recording_from);
    entries.retain(|entry| entry.kind != NOTE);
    for entry in &entries {
        loop {
            let last = book.last_number()?;
            let mut new = same::again(aside, entry)?;
            if same::find(book, &new)?.is_some() {
                break;
            }
            new.attachments = attachments(aside, entry)?;
            for recording in aside.recordings_of(entry.number)? {
                let bytes = aside.recording(recording.number)?.unwrap_or_default();
                new.recordings.push(recorded(book, (&recording.cell_id, recording.at), from, &bytes)?);
            }
            match book.append_after(new, last) {
                // Another program wrote an entry, maybe this one.
                Err(BookError { problem: Problem::Grown, .. }) => {}
                written => break drop(written?),
            }
        }
    }
    Ok(entries.len())
}

fn attachments(aside: &Book, entry: &Entry) -> Result<Vec<NewAttachment>, BookError> {
    let mut found = Vec::new();
    for one in aside.attachments_of(entry.number)? {
        let bytes = aside.attachment(one.sha256)?.unwrap_or_default();
        found.push(NewAttachment { name: one.name, media_type: one.media_type, bytes });
    }
    Ok(found)
}

/// Returns the recording of the book that holds these bytes: the one that was left unfinished there is gone on with, if it says
/// the same as far as it goes.
fn recorded(
    book: &mut Book,
    (cell, at): (&str, jiff::Timestamp),
    from: u64,
    bytes: &[u8],
) -> Result<RecordingNumber, BookError> {
    let from = usize::try_from(from).unwrap_or(usize::MAX);
    for left in book.unfinished_recordings_of(cell)? {
        if left.at.as_millisecond() != at.as_millisecond() {
            continue;
        }
        let there = book.recording(left.number)?.unwrap_or_default();
        let goes_on = there.get(from..).and_then(|there| bytes.strip_prefix(there));
        if let Some(more) = goes_on {
            if !more.is_empty() {
                book.append_recording(left.number, more)?;
            }
            return Ok(left.number);
        }
    }
    let number = book.begin_recording(cell, at)?;
    if !bytes.is_empty() {
        book.append_recording(number, bytes)?;
    }
    Ok(number)
}
