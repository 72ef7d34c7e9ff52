//! What the book knows of a cell is told before anything else about it.

use crate::arguments::LooksArguments;
use crate::case::given_looks;
use crate::error::Error;
use crate::io::{Io, fitted};
use celltriage_book::Book;
use celltriage_custody::{State, known};
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::KnownFinding;
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
        tell(id, &before.known, io);
    }
    Ok(before)
}

/// Tells it for an open book.
///
/// # Errors
/// As [`told`].
pub(super) fn told_of(book: &Book, id: &str, simulated_run: bool, io: &mut Io<'_>) -> Result<Before, Error> {
    let before = known_before(book, id, simulated_run)?;
    tell(id, &before.known, io);
    Ok(before)
}

/// Tells it at the start of a watch, which a book that cannot be read neither ends nor holds up.
pub(super) fn told_beside(book: &Book, id: &str, io: &mut Io<'_>) {
    if let Some(cell) = State::about(book, &[id]).ok().and_then(|mut state| state.cells.remove(id)) {
        tell(id, &cell.known(), io);
    }
}

fn tell(id: &str, known: &[KnownFinding], io: &mut Io<'_>) {
    for found in known {
        let line = fitted(&known::line(known::BEFORE, id, found), io.width);
        io.note(&line);
    }
    if !known.is_empty() {
        io.note(
            "hint: where one of these is wrong, a person strikes it: celltriage container correct ENTRY --strike \
             --because TEXT --by NAME",
        );
    }
}
