//! Custody in the book: the state read from it, and an event written only if it still fits.
//!
//! Takes a book; gives the [`State`], and writes one event at a time. Two people at two benches may write at once: an
//! event is checked against the state up to the last entry, and written only if that entry is still the last; otherwise
//! state and check are made again.

use crate::about::is_about_simulated;
use crate::check::check;
use crate::circumstances::Circumstances;
use crate::error::CustodyError;
use crate::event::{Correction, Event, SCHEMA, Signed};
use crate::facts::Facts;
use crate::refusal::Refusal;
use crate::state::State;
use crate::summary::summary;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::{Book, BookError, Entry, Filter, NewEntry, PROGRAM, Problem};
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};
use celltriage_instrument::simulated::marked;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Deserialize;
use serde_json::json;

/// How often an event is tried while others write. Each failed try means that another one succeeded.
const TRIES: usize = 50;

/// Who writes, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// Who did it.
    pub by: String,
    /// On what day it happened.
    pub on: Date,
    /// When it is written down.
    pub at: Timestamp,
}

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
    let form: Form = serde_json::from_value(entry.inputs.clone()).map_err(unreadable)?;
    if form.schema > SCHEMA {
        let (entry, found) = (entry.number, form.schema);
        return Err(CustodyError::NewerEvent { entry, found, known: SCHEMA });
    }
    Ok(serde_json::from_value(entry.inputs.clone()).map(Some).map_err(unreadable)?)
}

/// Returns the entries of a book, oldest first.
pub(super) fn entries(book: &Book) -> Result<Vec<Entry>, BookError> {
    let mut entries = book.entries(&Filter::default())?;
    entries.reverse();
    Ok(entries)
}

impl State {
    /// Reads the state from a book.
    ///
    /// # Errors
    /// A book error.
    pub fn read(book: &Book) -> Result<Self, CustodyError> {
        let mut state = Self::default();
        for entry in entries(book)? {
            state.pass_to(entry.at);
            if entry.kind == ASSESSMENT {
                state.assessed(entry.number, &entry.cell_id, Facts::of(&entry));
            } else if [ALARM, WATCH].contains(&entry.kind.as_str()) {
                state.hot_cell(&entry);
            } else if let Some(signed) = event_of(book, &entry)? {
                state.apply(entry.number, &signed);
            }
            state.read_to = state.read_to.max(entry.number);
        }
        Ok(state)
    }
}

/// Makes an event from the present state, checks it, and writes it; it is on the disk when this returns.
///
/// # Errors
/// A refusal as an input error, or a book error; nothing is written then.
pub fn record(
    book: &mut Book,
    signature: &Signature,
    circumstances: &Circumstances<'_>,
    make: impl Fn(&State) -> Result<Event, Refusal>,
) -> Result<(Entry, State), CustodyError> {
    for _ in 0..TRIES {
        let mut state = State::read(book)?;
        state.pass_to(signature.at);
        let signed =
            Signed { schema: SCHEMA, by: signature.by.clone(), on: signature.on, event: make(&state)? };
        check(&state, &signed, circumstances)?;
        let simulated = is_about_simulated(&state, &signed.event);
        match book.append_after(new_entry(book, &signed, simulated, signature.at)?, state.read_to) {
            Ok(entry) => {
                state.apply(entry.number, &signed);
                return Ok((entry, state));
            }
            Err(error) if matches!(error.problem, Problem::Grown) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Err(CustodyError::Overtaken { book: book.path().display().to_string() })
}

fn new_entry(book: &Book, signed: &Signed, simulated: bool, at: Timestamp) -> Result<NewEntry, BookError> {
    let corrects = match &signed.event {
        Event::Correction(Correction { entry, .. }) => Some(*entry),
        _ => None,
    };
    Ok(NewEntry {
        at,
        kind: signed.event.kind().to_owned(),
        cell_id: signed.event.subject().to_owned(),
        fate: None,
        summary: marked(&summary(signed), simulated),
        program: PROGRAM.to_owned(),
        inputs: serde_json::to_value(signed).map_err(|error| book.not_storable("event", error))?,
        result: json!({}),
        corrects,
        attachments: Vec::new(),
        recordings: Vec::new(),
    })
}
