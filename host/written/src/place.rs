//! Where in a text file something stands: a byte range to `file:line:column`.

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
    /// The whole of a file.
    pub fn whole(file: &str) -> Self {
        Self { file: file.to_owned(), line: 0, column: 0 }
    }

    /// Finds the place of the start of a byte range.
    pub fn of(file: &str, text: &str, span: Option<Range<usize>>) -> Self {
        let Some(before) = span.and_then(|span| text.get(..span.start)) else {
            return Self::whole(file);
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
}
