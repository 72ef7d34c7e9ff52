//! What the book knows of a cell is told before anything else about it.

use crate::arguments::LooksArguments;
use crate::case::given_looks;
use crate::error::Error;
use crate::io::{Io, fitted};
use crate::spoken::agrees;
use celltriage_assessment::CaseFile;
use celltriage_book::Book;
use celltriage_custody::lookup::looks_like;
use celltriage_custody::{State, case_file, known};
use celltriage_measure::observation::{Answer, Sign};
use celltriage_workshop::admission::{Before, known_before, known_before_in};
use std::path::Path;

/// Tells it for a book that may not be there yet. If the cell is reported to react now, the page tells it: nothing may
/// come before the emergency text.
///
/// # Errors
/// A book error, or an input error if nothing may be recorded of the cell.
pub(super) fn told(
    book: &Path,
    id: &str,
    looks: &LooksArguments,
    simulated_run: bool,
    io: &mut Io<'_>,
) -> Result<Before, Error> {
    let before = known_before_in(book, id, simulated_run)?;
    let reacts = given_looks(looks).is_ok_and(|seen| seen.answer(Sign::ActiveNow) == Answer::Yes);
    if !reacts {
        tell(id, &before.case_file, io);
        alike(id, &before, io)?;
    }
    Ok(before)
}

/// Tells it for an open book.
///
/// # Errors
/// As [`told`].
pub(super) fn told_of(book: &Book, id: &str, simulated_run: bool, io: &mut Io<'_>) -> Result<Before, Error> {
    let before = known_before(book, id, simulated_run)?;
    tell(id, &before.case_file, io);
    alike(id, &before, io)?;
    Ok(before)
}

/// Tells it at the start of a watch, which a book that cannot be read neither ends nor holds up.
pub(super) fn told_beside(book: &Book, id: &str, io: &mut Io<'_>) {
    let Ok(state) = State::about(book, &[id]) else { return };
    tell(id, &case_file(&state, id), io);
    if !state.cells.contains_key(id) {
        tell_alike(&state, id, io);
    }
}

/// Tells of a cell whose name looks the same, where nobody is to be held up by a question.
pub(super) fn tell_alike(state: &State, id: &str, io: &mut Io<'_>) {
    if let Some(known) = looks_like(state, id) {
        note_alike(known, id, io);
    }
}

fn note_alike(known: &str, id: &str, io: &mut Io<'_>) {
    io.note(&format!("note: the book has {known}; typed {id}"));
}

/// Tells of a name that looks the same; where somebody is there, they say which cell is meant, since two names make two stories.
fn alike(id: &str, before: &Before, io: &mut Io<'_>) -> Result<(), Error> {
    let Some(known) = &before.alike else { return Ok(()) };
    note_alike(known, id, io);
    let Some(ask) = io.ask.as_mut() else { return Ok(()) };
    let line = ask(&format!("Is it another cell than {known}? [y/n] ")).unwrap_or_default();
    if agrees(&line) {
        return Ok(());
    }
    Err(Error::input(format!("{id} and {known} look the same; nothing was recorded")).hint(format!(
        "if it is that cell, write {known}; if it is another, give it a name that looks different"
    )))
}

fn tell(id: &str, case_file: &CaseFile, io: &mut Io<'_>) {
    for line in case_file.lines() {
        let line = fitted(&format!("{} {id}: {line}", known::BEFORE), io.width);
        io.note(&line);
    }
    if !case_file.standing.is_empty() {
        io.note(&format!("hint: what ends one of these: celltriage finding of {id}"));
    }
}
