//! Whether the computer's clock may be right, asked before anything is written into the book.
//!
//! Takes the clock's time and that of the book's last entry; gives a [`Doubt`], or none. Days in the book decide when a
//! watch ends, how long a look speaks for a charge and when a calibration is due, so a clock that stands wrong does harm
//! long after it was put right. A person who can look at a calendar answers for it; nobody's silence does.

use crate::error::Error;
use crate::io::Io;
use celltriage_book::Book;
use celltriage_custody::clock_doubt::{Doubt, doubt};
use jiff::Timestamp;
use std::path::Path;

/// Sees that the day stated with the call is the clock's.
///
/// # Errors
/// An input error where it is another one.
pub fn stated_day_holds(io: &Io<'_>) -> Result<(), Error> {
    let now = io.now.to_zoned_datetime(io.zone.clone()).strftime("%a %-d %b %Y %H:%M").to_string();
    match io.stated_day {
        Some(day) if day != io.today() => {
            Err(Error::input(format!("--today says {day}, this computer says {now}; nothing was written"))
                .hint("set the computer's clock, or give the day that a calendar shows"))
        }
        _ => Ok(()),
    }
}

/// Sees that a person answers for a clock in doubt, before something is written after an entry of `last`. Where the cell
/// is reacting now, nothing is held up: a warning is all.
///
/// # Errors
/// An input error where nobody does.
pub fn confirmed(last: Option<Timestamp>, reacting: bool, io: &mut Io<'_>) -> Result<(), Error> {
    if reacting {
        warn(last, io);
        return Ok(());
    }
    stated_day_holds(io)?;
    let Some(doubt) = doubt(io.now, last) else { return Ok(()) };
    // A day before the program's own is stated by a script that copies the clock, and by nobody who looked.
    if io.stated_day.is_some() && doubt != Doubt::BeforeProgram {
        return Ok(());
    }
    let (told, today) = (doubt.words(io.now, &io.zone), io.today());
    let Some(ask) = io.ask.as_mut() else {
        let error = Error::input(format!("{told}; nothing was written")).hint("set the computer's clock");
        return Err(match doubt {
            Doubt::BeforeProgram => error,
            _ => error.hint(format!("where a calendar says the same, state the day: --today {today}")),
        });
    };
    let question = format!("{}. Is the computer's date right? [y/n] ", capital(&told));
    let answer = ask(&question).unwrap_or_default();
    match answer.trim().to_lowercase().as_str() {
        "y" | "yes" => Ok(()),
        _ => Err(Error::input("nobody has confirmed the computer's date; nothing was written")
            .hint("set the computer's clock, then call again")),
    }
}

/// Says in one line where the clock is in doubt, and goes on: for what only reads, and for what nothing may hold up.
pub fn warn(last: Option<Timestamp>, io: &mut Io<'_>) {
    let told = match (stated_day_holds(io), doubt(io.now, last)) {
        (Err(_), _) => format!(
            "the day stated with the call is not {}, as this computer has it; look at its clock",
            io.today()
        ),
        (Ok(()), Some(doubt)) if io.stated_day.is_none() || doubt == Doubt::BeforeProgram => {
            format!("{}; is the computer's date right?", doubt.words(io.now, &io.zone))
        }
        _ => return,
    };
    io.note(&format!("warning: {told}"));
}

/// Opens a book to write, or begins one, with a clock that a person answers for.
///
/// # Errors
/// A book error, or that of [`confirmed`]; no book is begun then.
pub fn open_to_write(path: &Path, reacting: bool, io: &mut Io<'_>) -> Result<Book, Error> {
    if !path.exists() {
        confirmed(None, reacting, io)?;
        return Book::open(path).map_err(Error::book);
    }
    let book = Book::open(path)?;
    confirmed(book.time_of_last_entry()?, reacting, io)?;
    Ok(book)
}

/// Opens a book to read, with a warning where the clock is in doubt.
///
/// # Errors
/// A book error, or that of [`stated_day_holds`].
pub fn open_to_read(path: &Path, io: &mut Io<'_>) -> Result<Book, Error> {
    let book = Book::open_read_only(path)?;
    stated_day_holds(io)?;
    warn_beside(&book, io);
    Ok(book)
}

/// The same as [`warn`], by the last entry of a book; damage to the book is for others to tell.
pub fn warn_beside(book: &Book, io: &mut Io<'_>) {
    if let Ok(last) = book.time_of_last_entry() {
        warn(last, io);
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
