//! An entry that is a record by itself, made where no book is at hand.

use serde::Serialize;

use crate::NewEntry;

/// Returns an entry with a record as its inputs.
///
/// # Errors
/// The record cannot be written as JSON.
pub fn record_entry(new: NewEntry, record: &impl Serialize) -> Result<NewEntry, serde_json::Error> {
    Ok(NewEntry { inputs: serde_json::to_value(record)?, ..new })
}
