//! Whether the computer's clock may be right, asked before anything is written into the book.
//!
//! Takes the clock's time and that of the book's last entry; gives a [`Doubt`], or none. Days in the book decide when a
//! watch ends, how long a look speaks for a charge and when a calibration is due, so a clock that stands wrong does harm
//! long after it was put right. A person who can look at a calendar answers for it; nobody's silence does.

use crate::error::Error;
use crate::io::Io;
use celltriage_book::Book;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use std::path::Path;

/// So far may the clock stand before the last entry without a question: benches that write into one book have clocks of
/// their own, and computers that ask a time server agree within seconds (our choice, on the wide side).
pub const TOLERANCE: SignedDuration = SignedDuration::from_mins(2);
/// So long after the last entry may the clock stand without a question: a shop that works writes every day (our choice).
/// What counts days cannot then be shortened by a jump of more than a day that nobody has seen.
pub const QUIET: SignedDuration = SignedDuration::from_hours(24);
/// No clock that is right stands before this: 2024-01-01 UTC, earlier than the first line of this program. A clock without
/// a battery begins years before it (our choice).
const PROGRAM_BEGAN: Timestamp = Timestamp::constant(1_704_067_200, 0);

/// Why the clock may be wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// It stands before this program was written.
    BeforeProgram,
    /// It stands before the last entry.
    BeforeLast(Timestamp),
    /// Nothing was written for long, or it stands ahead.
    LongAfter(Timestamp),
}

/// Returns what speaks against a clock that says `now`, where the book's last entry is of `last`.
pub fn doubt(now: Timestamp, last: Option<Timestamp>) -> Option<Doubt> {
    if now < PROGRAM_BEGAN {
        return Some(Doubt::BeforeProgram);
    }
    let last = last?;
    let since = now.duration_since(last);
    if since < -TOLERANCE {
        Some(Doubt::BeforeLast(last))
    } else if since > QUIET {
        Some(Doubt::LongAfter(last))
    } else {
        None
    }
}

impl Doubt {
    /// Tells both times in words, as they are where the shop is.
    fn words(self, now: Timestamp, zone: &TimeZone) -> String {
        let day =
            |at: Timestamp| at.to_zoned_datetime(zone.clone()).strftime("%a %-d %b %Y %H:%M").to_string();
        let now = day(now);
        match self {
            Doubt::BeforeProgram => {
                format!("this computer says {now}, which is before this program was written")
            }
            Doubt::BeforeLast(last) | Doubt::LongAfter(last) => {
                format!("this computer says {now}; the newest entry of the book is of {}", day(last))
            }
        }
    }
}

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
    let book = Book::open(path).map_err(Error::book)?;
    confirmed(book.time_of_last_entry().map_err(Error::book)?, reacting, io)?;
    Ok(book)
}

/// Opens a book to read, with a warning where the clock is in doubt.
///
/// # Errors
/// A book error, or that of [`stated_day_holds`].
pub fn open_to_read(path: &Path, io: &mut Io<'_>) -> Result<Book, Error> {
    let book = Book::open_read_only(path).map_err(Error::book)?;
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

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn a_clock_is_in_doubt_before_the_last_entry_a_day_after_it_and_before_the_program() {
        let last = at("2026-11-27T17:40:00Z");
        for (now, expected) in [
            ("2026-11-27T17:40:00Z", None),
            ("2026-11-27T17:38:00Z", None),
            ("2026-11-27T17:37:59.999Z", Some(Doubt::BeforeLast(last))),
            ("2025-11-27T17:40:00Z", Some(Doubt::BeforeLast(last))),
            ("2026-11-28T17:40:00Z", None),
            ("2026-11-28T17:40:00.001Z", Some(Doubt::LongAfter(last))),
            ("2036-11-28T17:40:00Z", Some(Doubt::LongAfter(last))),
            ("2023-12-31T23:59:59Z", Some(Doubt::BeforeProgram)),
            ("1969-12-31T23:59:59Z", Some(Doubt::BeforeProgram)),
            ("-009999-06-02T00:00:00Z", Some(Doubt::BeforeProgram)),
        ] {
            assert_eq!(doubt(at(now), Some(last)), expected, "{now}");
        }
        assert_eq!(doubt(at("2024-01-01T00:00:00Z"), None), None);
        assert_eq!(doubt(at("2036-01-01T00:00:00Z"), None), None, "an empty book says nothing");
        assert_eq!(doubt(at("2023-12-31T23:59:59Z"), None), Some(Doubt::BeforeProgram));
        // A last entry at the end of all time is no reason to fail.
        assert_eq!(doubt(last, Some(Timestamp::MAX)), Some(Doubt::BeforeLast(Timestamp::MAX)));
        assert_eq!(doubt(last, Some(Timestamp::MIN)), Some(Doubt::LongAfter(Timestamp::MIN)));
    }

    #[test]
    fn both_times_are_told_as_they_are_where_the_shop_is() {
        let zone = TimeZone::fixed(jiff::tz::offset(1));
        let told = Doubt::LongAfter(at("2026-11-27T16:40:00Z")).words(at("2026-11-30T07:02:00Z"), &zone);
        assert_eq!(
            told,
            "this computer says Mon 30 Nov 2026 08:02; the newest entry of the book is of Fri 27 Nov 2026 17:40"
        );
        let told = Doubt::BeforeProgram.words(at("1969-12-31T23:30:00Z"), &zone);
        assert!(told.contains("Thu 1 Jan 1970 00:30, which is before this program"), "{told}");
    }
}
