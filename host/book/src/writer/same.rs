//! Whether a book has an entry already: one that says the same of the same moment.
//!
//! A commit whose answer never came may have been made. So each retry looks for the entry first, and none is written twice.

use jiff::SignedDuration;

use crate::{Book, BookError, Entry, Filter, NewEntry};

/// Returns the entry of the book that says what `new` says: same time, kind, subject, words and contents.
pub(super) fn find(book: &Book, new: &NewEntry) -> Result<Option<Entry>, BookError> {
    // The book keeps time to the millisecond.
    let since = new.at.saturating_sub(SignedDuration::from_millis(1)).unwrap_or(new.at);
    let until = new.at.saturating_add(SignedDuration::from_millis(1)).unwrap_or(new.at);
    let filter = Filter {
        about: Some(new.subject.clone()),
        kind: Some(new.kind.clone()),
        since: Some(since),
        until: Some(until),
        ..Filter::default()
    };
    Ok(book.entries(&filter)?.into_iter().find(|entry| is_same(entry, new)))
}

fn is_same(entry: &Entry, new: &NewEntry) -> bool {
    entry.at.as_millisecond() == new.at.as_millisecond()
        && entry.kind == new.kind
        && entry.fate == new.fate
        && entry.summary == new.summary
        && entry.program == new.program
        && entry.corrects == new.corrects
        && entry.inputs == new.inputs
        && entry.result == new.result
}

/// Returns an entry as one to be written, without what belongs to it.
pub(super) fn again(book: &Book, entry: &Entry) -> Result<NewEntry, BookError> {
    Ok(NewEntry {
        at: entry.at,
        kind: entry.kind.clone(),
        subject: entry.subject.clone(),
        about: book.about(entry.number)?,
        simulated: entry.simulated,
        personal: book.persons_in(entry.number)?,
        fate: entry.fate.clone(),
        summary: entry.summary.clone(),
        program: entry.program.clone(),
        inputs: entry.inputs.clone(),
        result: entry.result.clone(),
        corrects: entry.corrects,
        attachments: Vec::new(),
        recordings: Vec::new(),
    })
}
