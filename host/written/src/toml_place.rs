//! Where in a text file something stands: byte position to line and column, and TOML read with that place kept.
//!
//! Takes the text and a byte range as the TOML reader gives it; gives a [`Place`] that prints as `file:line:column`.

use serde::de::DeserializeOwned;
use std::fmt;
use std::ops::Range;

/// A place in a named text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Name of the file as the person gave it.
    pub file: String,
    /// Line, counted from 1; 0 where the whole file is meant.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
}

impl Place {
    /// Finds the place of the start of a byte range.
    pub fn of(file: &str, text: &str, span: Option<Range<usize>>) -> Self {
        let Some(before) = span.and_then(|span| text.get(..span.start)) else {
            return Self { file: file.to_owned(), line: 0, column: 0 };
        };
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        Self { file: file.to_owned(), line, column }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => write!(f, "{}", self.file),
            _ => write!(f, "{}:{}:{}", self.file, self.line, self.column),
        }
    }
}

/// Reads TOML; a mistake comes back with its place and the reader's own words on one line.
pub fn read<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, (Place, String)> {
    toml::from_str(text).map_err(|error| {
        let words = error.message().lines().collect::<Vec<_>>().join("; ");
        // The reader speaks of Rust's types; a person at the bench does not.
        let words = words.replace("expected f64", "expected a number").replace("floating point", "number");
        (Place::of(file, text, error.span()), words)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_counts_lines_and_characters_from_one() {
        let text = "a = 1\nµ = 2\n";
        assert_eq!(Place::of("f.toml", text, Some(0..1)).to_string(), "f.toml:1:1");
        let at_two = text.find('2').unwrap();
        assert_eq!(Place::of("f.toml", text, Some(at_two..at_two + 1)).to_string(), "f.toml:2:5");
        assert_eq!(Place::of("f.toml", text, None).to_string(), "f.toml");
    }

    #[test]
    fn a_mistake_is_told_with_its_place() {
        let (place, words) = read::<toml::Table>("f.toml", "a = 1\nb = = 2\n").unwrap_err();
        assert_eq!((place.line, place.column), (2, 5), "{words}");
        assert!(!words.is_empty());
    }
}
