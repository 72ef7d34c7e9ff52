//! What the book knows of a cell is told before anything else about it; a cell that left, or one that would mix simulated
//! with real entries, is refused.

use crate::arguments::LooksArguments;
use crate::case::given_looks;
use crate::custody::State;
use crate::custody::check::not_gone;
use crate::error::Error;
use crate::io::{Io, fitted};
use crate::known;
use crate::simulated::mixed;
use celltriage_book::Book;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::KnownFinding;
use std::path::Path;

/// What the book has of a cell before it is assessed.
#[derive(Debug, Default)]
pub(super) struct Before {
    /// Whether it is a cell of the simulated bench, by this call or by the book.
    pub simulated: bool,
    /// What was found of it.
    pub known: Vec<KnownFinding>,
}

/// Tells it for a book that may not be there yet. Where the cell is reported to react now, the page tells it: nothing may
/// stand before the emergency text.
///
/// # Errors
/// A book error, or an input error where nothing may be recorded of the cell.
pub(super) fn told(
    book: &Path,
    id: &str,
    looks: &LooksArguments,
    simulated_run: bool,
    io: &mut Io<'_>,
) -> Result<Before, Error> {
    if !book.exists() {
        return Ok(Before { simulated: simulated_run, known: Vec::new() });
    }
    let book = Book::open_read_only(book).map_err(Error::book)?;
    let reacts = given_looks(looks).is_ok_and(|seen| seen.answer(Sign::ActiveNow) == Answer::Yes);
    let before = admitted(&book, id, simulated_run)?;
    if !reacts {
        tell(id, &before.known, io);
    }
    Ok(before)
}

/// Tells it for an open book.
///
/// # Errors
/// A book error, or an input error where nothing may be recorded of the cell.
pub(super) fn told_of(book: &Book, id: &str, simulated_run: bool, io: &mut Io<'_>) -> Result<Before, Error> {
    let before = admitted(book, id, simulated_run)?;
    tell(id, &before.known, io);
    Ok(before)
}

/// Tells it at the start of a watch, which a book that cannot be read neither ends nor holds up.
pub(super) fn told_beside(book: &Book, id: &str, io: &mut Io<'_>) {
    if let Some(cell) = State::read(book).ok().and_then(|mut state| state.cells.remove(id)) {
        tell(id, &cell.known(), io);
    }
}

/// What a fixture measures is held against the book once more when its board is known, see `measure.rs`.
fn admitted(book: &Book, id: &str, simulated_run: bool) -> Result<Before, Error> {
    let state = State::read(book)?;
    let Some(cell) = state.cells.get(id) else {
        return Ok(Before { simulated: simulated_run, known: Vec::new() });
    };
    if let Err(gone) = not_gone(id, cell) {
        return Err(Error::input(format!("{gone}; nothing was recorded"))
            .hint("if another cell wears this name, give that one a name of its own with --id")
            .hint(
                "if the cell came back, give it a name of its own, and say in its --note where it came from",
            ));
    }
    if simulated_run && cell.is_real() {
        return Err(mixed(id, true));
    }
    Ok(Before { simulated: simulated_run || cell.is_simulated(), known: cell.known() })
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
