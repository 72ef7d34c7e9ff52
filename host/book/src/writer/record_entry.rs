//! A record as an entry to be written, without a book at hand.

use jiff::Timestamp;
use serde::Serialize;
use serde_json::json;

use crate::{NewEntry, PROGRAM};

/// Makes an entry of a kind under a subject that holds a record; see [`Book::append_record`](crate::Book::append_record).
///
/// # Errors
/// The record cannot be written as JSON.
pub fn record_entry(
    (kind, subject): (&str, &str),
    summary: &str,
    record: &impl Serialize,
    at: Timestamp,
) -> Result<NewEntry, serde_json::Error> {
    Ok(NewEntry {
        at,
        kind: kind.to_owned(),
        cell_id: subject.to_owned(),
        fate: None,
        summary: summary.to_owned(),
        program: PROGRAM.to_owned(),
        inputs: serde_json::to_value(record)?,
        result: json!({}),
        corrects: None,
        attachments: Vec::new(),
        recordings: Vec::new(),
    })
}
