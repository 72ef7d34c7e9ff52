//! Events and other entries of the book as custody takes them in.

use crate::error::CustodyError;
use crate::event::{Event, SCHEMA, Signed};
use crate::facts::Facts;
use crate::state::State;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::{Book, Entry};
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};
use serde::Deserialize;

/// No entry has this number: what an entry of another bench names may not have come along.
const UNKNOWN: u32 = 0;

/// Only the number of the stored form, which later forms keep.
#[derive(Deserialize)]
struct Form {
    schema: u32,
}

/// Reads an event from an entry; `None` if the entry is of another sort.
///
/// # Errors
/// A book error where it is an event and cannot be read: leaving one out could lose a cell.
pub fn event_of(book: &Book, entry: &Entry) -> Result<Option<Signed>, CustodyError> {
    if !Event::KINDS.contains(&entry.kind.as_str()) {
        return Ok(None);
    }
    let unreadable = |error: serde_json::Error| book.unreadable(entry, error);
    let form = Form::deserialize(&entry.inputs).map_err(unreadable)?;
    if form.schema > SCHEMA {
        let (entry, found) = (entry.number, form.schema);
        return Err(CustodyError::NewerEvent { entry, found, known: SCHEMA });
    }
    let mut signed = Signed::deserialize(&entry.inputs).map_err(unreadable)?;
    if entry.from.is_some() {
        // It names entries by their numbers in the book that it was written into.
        signed
            .event
            .renumber(&mut |number| Ok::<_, CustodyError>(book.here(entry, number)?.unwrap_or(UNKNOWN)))?;
    }
    Ok(Some(signed))
}

/// Kinds of entries that custody takes in and that may be corrected.
pub(crate) fn is_of_custody(kind: &str) -> bool {
    kind == ASSESSMENT || [ALARM, WATCH].contains(&kind) || Event::KINDS.contains(&kind)
}

/// Takes the next entry into the state, with the event that it is.
pub(crate) fn take_in(state: &mut State, entry: &Entry, signed: Option<&Signed>) {
    // What came from another bench says nothing of the time that passed here: it may have been written long before.
    if entry.from.is_none() {
        state.pass_to(entry.at);
    }
    if entry.kind == ASSESSMENT {
        state.assessed(entry.number, &entry.subject.name, Facts::of(entry));
    } else if [ALARM, WATCH].contains(&entry.kind.as_str()) {
        state.hot_cell(entry);
    } else if let Some(signed) = signed {
        state.apply(entry.number, signed);
    }
    state.read_to = state.read_to.max(entry.number);
}
