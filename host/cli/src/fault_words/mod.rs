//! The one table that turns faults of the floors below into errors with exit code and hints: only here are options named.

mod admission;
mod clock;
mod custody;
mod fixture;
mod instrument;
mod keeping;
mod link;
mod measuring;
mod mixing;
mod reading;
mod update;

use crate::error::{Error, Kind};
use celltriage_assessment::record::NotAnAssessment;
use celltriage_book::{BookError, Problem};
use celltriage_workshop::Fault;

/// Where a person says what they answer for, and what was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SaidIn {
    /// In options of the command.
    Options,
    /// In the file of a batch; a trip is forgotten at its fixture, before.
    BatchFile,
}

impl From<Fault> for Error {
    fn from(fault: Fault) -> Self {
        of_workshop(fault, SaidIn::Options)
    }
}

/// Turns a fault of the workshop into an error with hints for the place where the person answers it.
pub fn of_workshop(fault: Fault, said_in: SaidIn) -> Error {
    let of_one_sort = [admission::of, mixing::of, clock::of, reading::of].iter().find_map(|of| of(&fault));
    if let Some(error) = of_one_sort {
        return error;
    }
    match fault {
        Fault::Book(error) => error.into(),
        Fault::Link(error) => error.into(),
        Fault::Instrument(error) => error.into(),
        Fault::Custody(error) => (*error).into(),
        Fault::NotAnAssessment(error) => error.into(),
        Fault::Fixture(fault) => fault.into(),
        Fault::Keeping(fault) => keeping::of(&fault),
        other => measuring::of(other, said_in),
    }
}

impl From<BookError> for Error {
    fn from(error: BookError) -> Self {
        let hint = match &error.problem {
            // What was asked for does not fit the book; the book is as it should be.
            Problem::OtherSort { .. } => {
                return Self::new(Kind::Input, &error)
                    .hint("keep simulated cells in a book of their own: --book FILE");
            }
            Problem::NotBlanked { .. } => return Self::new(Kind::Input, &error),
            Problem::Forked { .. } => {
                Some("keep both files as they are; find out which of them was copied, and write to one only")
            }
            Problem::InTheWay => {
                Some("a file that ends in .part is what a copy left that was broken off; it may be removed")
            }
            Problem::OlderVersion { .. } => {
                Some("`celltriage book verify` of that file brings it up to date")
            }
            Problem::Unreadable { .. } => {
                Some("run `celltriage book verify`, or use the celltriage that wrote it")
            }
            _ => None,
        };
        Self::new(Kind::Book, &error).hints(hint)
    }
}

impl From<serde_json::Error> for Error {
    fn from(error: serde_json::Error) -> Self {
        Self::new(Kind::Book, format!("it cannot be written as JSON: {error}"))
    }
}

impl From<NotAnAssessment> for Error {
    fn from(error: NotAnAssessment) -> Self {
        Self::new(Kind::Book, &error)
    }
}
