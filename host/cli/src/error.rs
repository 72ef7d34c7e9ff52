//! Errors as the person at the terminal meets them: what happened, where, what to do; and the exit codes.

use celltriage_written::Faults;
use std::fmt;

/// Kind of an error, which alone decides the exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The call, a file or a value given is not usable.
    Input,
    /// Nothing could be measured: no fixture, no answer, a refusal.
    Measurement,
    /// The book cannot be read or written.
    Book,
}

/// Exit code of a command that did what it was asked, whatever the cell's fate.
pub const EXIT_DONE: u8 = 0;
/// Exit code of an assessment whose test did not run to its end (trip, stop, fixture lost); the cell is recorded so.
pub const EXIT_UNFINISHED: u8 = 4;

/// Exit code of a watch that saw an alarm of either level, and of a self-test or check standard that did not pass.
pub const EXIT_ALARM: u8 = 6;

/// Exit code of a command that was done, but whose output could not be written: what was printed is not whole.
pub const EXIT_OUTPUT: u8 = 7;

/// An error with what to do about it.
#[derive(Debug)]
pub struct Error {
    /// Decides the exit code.
    pub kind: Kind,
    /// What happened and where.
    pub message: String,
    /// What to do.
    pub hints: Vec<String>,
}

impl Error {
    /// Makes an error of a kind.
    pub fn new(kind: Kind, message: impl fmt::Display) -> Self {
        Self { kind, message: message.to_string(), hints: Vec::new() }
    }

    /// Adds what to do, if anything is known.
    #[must_use]
    pub fn hints<T: Into<String>>(mut self, hints: impl IntoIterator<Item = T>) -> Self {
        self.hints.extend(hints.into_iter().map(Into::into));
        self
    }

    /// Makes an error about something the person gave.
    pub fn input(message: impl Into<String>) -> Self {
        Self { kind: Kind::Input, message: message.into(), hints: Vec::new() }
    }

    /// Makes an error about the book.
    pub fn book(error: impl fmt::Display) -> Self {
        Self { kind: Kind::Book, message: error.to_string(), hints: Vec::new() }
    }

    /// Adds what to do.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// Returns the exit code.
    pub const fn exit_code(&self) -> u8 {
        self.kind.exit_code()
    }
}

impl Kind {
    /// Returns the exit code.
    pub const fn exit_code(self) -> u8 {
        match self {
            Self::Input => 2,
            Self::Measurement => 3,
            Self::Book => 5,
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "error: {}", self.message)?;
        for hint in &self.hints {
            write!(out, "\nhint: {hint}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {}

impl From<Faults> for Error {
    fn from(faults: Faults) -> Self {
        Self::input(faults.to_string())
    }
}

/// Reads a text file the person named.
///
/// # Errors
/// An input error that names what the file is for.
pub fn read_text(path: &std::path::Path, purpose: &str) -> Result<String, Error> {
    std::fs::read_to_string(path)
        .map_err(|error| Error::input(format!("cannot read the {purpose} {}: {error}", path.display())))
}
