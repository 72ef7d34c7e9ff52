//! Whether the computer's clock may be right, asked before anything is written into the book.
//!
//! What is refused, and why, is the workshop's; here a person is asked about it, or sees a warning.

use crate::beside;
use crate::error::Error;
use crate::io::Io;
use celltriage_book::{Book, PATIENCE};
use celltriage_workshop::Fault;
use celltriage_workshop::clock_word::{ClockReading, ClockWord};
use jiff::Timestamp;
use std::path::Path;

/// Returns what the call itself says of the clock.
pub fn said(io: &Io<'_>) -> ClockWord {
    io.stated_day.map_or(ClockWord::Unsaid, ClockWord::Stated)
}

fn reading(last: Option<Timestamp>, io: &Io<'_>) -> ClockReading {
    ClockReading { now: io.now, zone: io.zone.clone(), last }
}

/// Checks that the day stated with the call is the clock's.
///
/// # Errors
/// An input error where it is another one.
pub fn stated_day_holds(io: &Io<'_>) -> Result<(), Error> {
    Ok(reading(None, io).agrees_with(said(io))?)
}

/// Asks a person about a clock in doubt, before something is written after an entry of `last`, and returns what was said.
/// Where the cell is reacting now, nothing is held up: a warning is all.
///
/// # Errors
/// An input error where nobody answers for it.
pub fn confirmed(last: Option<Timestamp>, reacting: bool, io: &mut Io<'_>) -> Result<ClockWord, Error> {
    let said = said(io);
    if reacting {
        warn(last, io);
        return Ok(said);
    }
    let doubt = match reading(last, io).allows(said) {
        Ok(()) => return Ok(said),
        Err(doubt) => doubt,
    };
    let (Fault::ClockInDoubt { told, .. }, Some(ask)) = (&doubt, io.ask.as_mut()) else {
        return Err(doubt.into());
    };
    let question = format!("{}. Is the computer's date right? [y/n] ", capital(told));
    let answer = ask(&question).unwrap_or_default();
    match answer.trim().to_lowercase().as_str() {
        "y" | "yes" => Ok(ClockWord::Confirmed),
        _ => Err(Error::input("nobody has confirmed the computer's date; nothing was written")
            .hint("set the computer's clock, then call again")),
    }
}

/// Says in one line where the clock is in doubt, and goes on: for what only reads, and for what nothing may hold up.
pub fn warn(last: Option<Timestamp>, io: &mut Io<'_>) {
    if let Some(told) = reading(last, io).warning(said(io)) {
        io.note(&format!("warning: {told}"));
    }
}

/// Opens a book to write, or begins one, with a clock that a person answers for.
///
/// # Errors
/// A book error, or that of [`confirmed`]; no book is begun then.
pub fn open_to_write(path: &Path, reacting: bool, io: &mut Io<'_>) -> Result<Book, Error> {
    if !path.exists() {
        confirmed(None, reacting, io)?;
        return begun(path, io);
    }
    beside::take_in(path, io);
    let book = begun(path, io)?;
    note_copy(book.copied_to(), io);
    confirmed(book.time_of_last_entry()?, reacting, io)?;
    Ok(book)
}

/// Opens a book to write; one that is begun now names this bench.
///
/// # Errors
/// A book error.
pub fn begun(path: &Path, io: &Io<'_>) -> Result<Book, Error> {
    Ok(Book::open_at(path, PATIENCE, &io.bench)?)
}

/// Opens a book to read, with a warning where the clock is in doubt.
///
/// # Errors
/// A book error, or that of [`stated_day_holds`].
pub fn open_to_read(path: &Path, io: &mut Io<'_>) -> Result<Book, Error> {
    let book = Book::open_to_read(path)?;
    note_copy(book.copied_to(), io);
    stated_day_holds(io)?;
    warn_beside(&book, io);
    beside::tell(path, io);
    Ok(book)
}

/// Says where an older book was copied to before it was brought up to date.
pub fn note_copy(copy: Option<&Path>, io: &mut Io<'_>) {
    if let Some(copy) = copy {
        io.note(&format!(
            "the book had an older format; it was copied to {} and brought up to date",
            copy.display()
        ));
    }
}

/// The same as [`warn`], by the last entry of a book; damage to the book is for others to report.
pub fn warn_beside(book: &Book, io: &mut Io<'_>) {
    if let Ok(last) = book.time_of_last_entry() {
        warn(last, io);
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
