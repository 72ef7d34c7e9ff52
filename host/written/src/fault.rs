//! What is wrong with a file, with places, all of it at once.

use crate::fields::Fields;
use crate::place::{Place, plain_words};
use std::fmt;
use std::ops::Range;
use toml::de::DeTable;

/// One fault of a file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {what}")]
pub struct Fault {
    /// Where.
    pub place: Place,
    /// What is wrong and what to write instead.
    pub what: String,
}

/// All faults of one or more files; there is at least one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

impl Faults {
    /// A fault of a file as a whole.
    pub fn of_whole(file: &str, what: impl Into<String>) -> Self {
        Self(vec![Fault { place: Place::whole(file), what: what.into() }])
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&lines.join("\n"))
    }
}

impl std::error::Error for Faults {}

/// The reading of one file: collects its faults.
#[derive(Debug)]
pub struct Reading<'t> {
    file: &'t str,
    text: &'t str,
    found: Vec<Fault>,
}

impl<'t> Reading<'t> {
    /// Begins to read a file; faults of writing are noted, and what could be read goes on. `file` is what messages call it.
    pub fn begin(file: &'t str, text: &'t str) -> (Self, Fields<'t>) {
        let mut reading = Self { file, text, found: Vec::new() };
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in &errors {
            reading.add(error.span().unwrap_or(0..0), plain_words(error));
        }
        let span = table.span();
        (reading, Fields::new(table.into_inner(), span))
    }

    /// Notes a fault at the start of a byte range.
    pub fn add(&mut self, span: Range<usize>, what: impl Into<String>) {
        let place = Place::of(self.file, self.text, Some(span));
        self.found.push(Fault { place, what: what.into() });
    }

    /// Notes a fault of the whole file, such as something absent.
    pub fn add_whole(&mut self, what: impl Into<String>) {
        self.found.push(Fault { place: Place::whole(self.file), what: what.into() });
    }

    /// Notes a fault of a key's value in the TOML reader's own words.
    pub(crate) fn add_error(&mut self, key: &str, error: &toml::de::Error, span: Range<usize>) {
        self.add(error.span().unwrap_or(span), format!("{key}: {}", plain_words(error)));
    }

    /// Returns the text that stands at a byte range.
    pub fn text_at(&self, span: Range<usize>) -> &'t str {
        self.text.get(span).unwrap_or_default()
    }

    /// Returns the line of the start of a byte range, from 1.
    pub fn line_of(&self, span: Range<usize>) -> usize {
        Place::of(self.file, self.text, Some(span)).line
    }

    /// Returns whether a fault was noted.
    pub fn has_faults(&self) -> bool {
        !self.found.is_empty()
    }

    /// Ends the reading: the value where no fault was noted, else all faults in the order of the file.
    ///
    /// # Errors
    /// All faults.
    pub fn end<T>(mut self, value: Option<T>) -> Result<T, Faults> {
        match value {
            Some(value) if self.found.is_empty() => Ok(value),
            _ => {
                self.found.sort_by_key(|one| (one.place.line, one.place.column));
                Err(Faults(self.found))
            }
        }
    }
}
