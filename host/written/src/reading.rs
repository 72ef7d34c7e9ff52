//! The reading of one file: the faults found in it so far, each with its place.

use crate::fault::{Fault, Faults};
use crate::place::Place;
use crate::words::plain_words;
use std::ops::Range;

/// The reading of one file: collects its faults.
#[derive(Debug)]
pub struct Reading<'t> {
    file: &'t str,
    text: &'t str,
    found: Vec<Fault>,
}

impl<'t> Reading<'t> {
    /// Makes the reading of a file in which no fault was found yet.
    pub(crate) fn new(file: &'t str, text: &'t str) -> Self {
        Self { file, text, found: Vec::new() }
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
