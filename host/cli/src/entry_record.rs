//! Records that are an entry by themselves: nothing was assessed, something was done or found that stays in the book.

use crate::error::Error;
use celltriage_book::{Book, Entry, Filter, NewEntry, PROGRAM, RecordingNumber};
use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::json;

/// Writes a record of a kind under a subject, which may be a cell, a fixture or anything with a name; on the disk when
/// this returns.
///
/// # Errors
/// A book error.
pub fn append_record(
    book: &mut Book,
    (kind, subject): (&str, &str),
    summary: &str,
    record: &impl Serialize,
    recordings: Vec<RecordingNumber>,
    at: Timestamp,
) -> Result<Entry, Error> {
    book.append(NewEntry {
        at,
        kind: kind.to_owned(),
        cell_id: subject.to_owned(),
        fate: None,
        summary: summary.to_owned(),
        program: PROGRAM.to_owned(),
        inputs: serde_json::to_value(record).map_err(Error::book)?,
        result: json!({}),
        corrects: None,
        attachments: Vec::new(),
        recordings,
    })
    .map_err(Error::book)
}

/// Reads all entries under a subject, oldest first.
///
/// # Errors
/// A book error.
pub fn entries_of(book: &Book, subject: &str) -> Result<Vec<Entry>, Error> {
    let filter = Filter { cell_id: Some(subject.to_owned()), ..Filter::default() };
    let mut entries = book.entries(&filter).map_err(Error::book)?;
    entries.reverse();
    Ok(entries)
}

/// Takes the records of a kind out of entries, each with the number of its entry.
///
/// # Errors
/// A book error where one of them cannot be read.
pub fn records_of<T: DeserializeOwned>(entries: &[Entry], kind: &str) -> Result<Vec<(u32, T)>, Error> {
    let of_kind = entries.iter().filter(|entry| entry.kind == kind);
    of_kind
        .map(|entry| {
            let record = serde_json::from_value(entry.inputs.clone()).map_err(|error| {
                Error::book(format!("entry {} ({kind}) cannot be read: {error}", entry.number))
                    .hint("run `celltriage book verify`, or use the celltriage that wrote it")
            })?;
            Ok((entry.number, record))
        })
        .collect()
}

/// Reads all records of a kind that stand under a subject, oldest first, each with the number of its entry.
///
/// # Errors
/// A book error where the book or one of them cannot be read.
pub fn records<T: DeserializeOwned>(book: &Book, kind: &str, subject: &str) -> Result<Vec<(u32, T)>, Error> {
    records_of(&entries_of(book, subject)?, kind)
}
