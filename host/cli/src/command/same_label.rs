//! A label that contradicts the book is asked about before anything else is asked or measured: the tag may be on another cell.

use crate::error::Error;
use crate::io::Io;
use celltriage_book::Book;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_workshop::Fault;
use celltriage_workshop::known_label::contradiction;
use std::path::Path;

/// Returns what a person answers beside what was seen so far. A cell with a sign is not sent away for its label.
///
/// # Errors
/// Nobody says that it is the same cell; a book error.
pub(super) fn answered(
    book: &Path,
    id: &str,
    label: &Nameplate,
    seen: &Observations,
    io: &mut Io<'_>,
) -> Result<Observations, Error> {
    let nothing = Observations::default();
    if seen.any_found() || seen.said_to_be_the_same().is_some() || !book.exists() {
        return Ok(nothing);
    }
    let Some(told) = contradiction(&Book::open_to_read(book)?, id, label)? else { return Ok(nothing) };
    let mut asked = |question: &str| {
        let line = io.ask.as_mut().and_then(|ask| ask(question))?;
        Some(line.trim().to_owned()).filter(|line| !line.is_empty())
    };
    let question = format!(
        "This may be another cell than {id}: {told}. Is it the same cell? Say why [empty = it is not] "
    );
    let answer = asked(&question).and_then(|because| {
        let by = seen.assessor.clone().or_else(|| asked("Who says so? "))?;
        Some(Observations { same_cell: Some(because), assessor: Some(by), ..Observations::default() })
    });
    answer.ok_or_else(|| Fault::AnotherLabel { cell: id.to_owned(), told }.into())
}
