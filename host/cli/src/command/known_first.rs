//! What the book knows of a cell is told before anything else about it; a cell that left, or one that would mix simulated
//! with real entries, is refused.

use crate::arguments::LooksArguments;
use crate::case::given_looks;
use crate::error::Error;
use crate::io::{Io, fitted};
use crate::simulated::mixed;
use celltriage_book::Book;
use celltriage_custody::State;
use celltriage_custody::check::not_gone;
use celltriage_custody::known;
use celltriage_instrument::hot_cell::unkept;
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
    not_unkept(book, id)?;
    if !book.exists() {
        return Ok(Before { simulated: simulated_run, known: Vec::new() });
    }
    let book = Book::open_read_only(book)?;
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
    not_unkept(book.path(), id)?;
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
    not_another_spelling(&state, id)?;
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

/// Refuses a name that differs only in case, blanks, signs or letters that do not show from one of which something is known:
/// a slip on a tag must not make a damaged cell a new one.
fn not_another_spelling(state: &State, id: &str) -> Result<(), Error> {
    let folded = |name: &str| -> String {
        name.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect()
    };
    let same = folded(id);
    let mut alike = state.cells.iter().filter(|(name, _)| *name != id && folded(name) == same);
    let known = alike.find(|(name, cell)| !cell.known().is_empty() || not_gone(name, cell).is_err());
    let Some((name, cell)) = known else { return Ok(()) };
    let what = cell.known().first().map_or_else(|| cell.whereabouts.words(), KnownFinding::short);
    Err(Error::input(format!("the book knows a cell {name}, {what}; {id} is nearly the same name")).hint(
        format!(
            "if it is that cell, write {name}; if it is another, give it a name of other letters or digits"
        ),
    ))
}

/// Refuses a cell about which a watch has raised an alarm that the book could not take: it lies in a file beside the book.
fn not_unkept(book: &Path, id: &str) -> Result<(), Error> {
    for file in unkept::beside(book) {
        let about = unkept::alarm_about(&file, id);
        if let Some(cause) = about {
            let file = file.display();
            return Err(Error::input(format!(
                "the hot-cell watch raised an alarm about {id} that the book could not take: {cause} ({file})"
            ))
            .hint("write it down: `celltriage container escalate`; then move that file away from the book"));
        }
    }
    Ok(())
}
