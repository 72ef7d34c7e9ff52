//! The two ways into a text of TOML: key by key, or whole.

use crate::fault::{Fault, Faults};
use crate::fields::Fields;
use crate::place::Place;
use crate::reading::Reading;
use crate::words::plain_words;
use serde::de::DeserializeOwned;
use toml::de::DeTable;

impl<'t> Reading<'t> {
    /// Begins to read a file; faults of writing are noted, and what could be read goes on. `file` is what messages call it.
    pub fn begin(file: &'t str, text: &'t str) -> (Self, Fields<'t>) {
        let mut reading = Self::new(file, text);
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in &errors {
            reading.add(error.span().unwrap_or(0..0), plain_words(error));
        }
        let span = table.span();
        (reading, Fields::new(table.into_inner(), span))
    }
}

/// Reads a file whose form serde knows; the first fault ends the reading.
///
/// # Errors
/// The first fault, with its place and the TOML reader's own words on one line.
pub fn read<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, Faults> {
    toml::from_str(text).map_err(|error| {
        Faults(vec![Fault { place: Place::of(file, text, error.span()), what: plain_words(&error) }])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(serde::Deserialize, Debug)]
    #[serde(deny_unknown_fields)]
    struct File {
        #[serde(rename = "side")]
        _side: Side,
    }

    #[derive(serde::Deserialize, Debug)]
    #[serde(rename_all = "snake_case")]
    enum Side {
        Left,
        Right,
    }

    #[test]
    fn a_fault_is_reported_with_its_place() {
        let Faults(found) = read::<toml::Table>("f.toml", "a = 1\nb = = 2\n").unwrap_err();
        assert_eq!((found[0].place.line, found[0].place.column), (2, 5), "{found:?}");
        assert!(!found[0].what.is_empty());
    }

    #[test]
    fn a_mistyped_choice_or_key_is_refused_with_the_word_that_was_meant() {
        let told = |text| read::<File>("f.toml", text).unwrap_err().to_string();
        let (left, right) = (Side::Left, Side::Right);
        assert!(told("side = \"rigth\"").ends_with("; did you mean `right`?"), "{left:?} {right:?}");
        assert!(told("sid = \"left\"").ends_with("; did you mean `side`?"));
        assert!(!told("side = \"middle\"").contains("did you mean"));
        assert!(!told("side = 3").contains("did you mean"));
    }
}
