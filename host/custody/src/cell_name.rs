//! What a cell may be called: one form of each letter, nothing that does not show, and room on a tag.
//!
//! Names in books that exist are read as they are; what is checked is the name of a cell that the book does not know yet, at every
//! door through which one comes in. A tag adds a check character ([`tag`]); what a person types or scans is read by [`typed`]; which
//! names look the same is [`alike`].

pub mod alike;
pub mod check_character;
pub mod link;
pub mod tag;
pub mod typed;

use std::fmt;
use tag::SEPARATOR;
use typed::{CELL, ENTRY};
use unicode_normalization::UnicodeNormalization;

/// Most letters of a name (our choice: a tag holds no more, and a line of a page shows it whole beside a decision).
pub const MOST_LETTERS: usize = 64;

/// The name of a cell, checked, in Unicode's Normalization Form C: letters typed in two ways are one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct CellName(String);

/// Why a text is no name for a new cell.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAName {
    /// There is nothing.
    #[error("a cell needs a name: write what stands on its tag")]
    Empty,
    /// It begins or ends with a blank.
    #[error("a name has no blank at its ends: leave it out")]
    BlankAtEnds,
    /// It is too long.
    #[error("a name has at most {MOST_LETTERS} letters, this one has {0}: shorten it")]
    TooLong(usize),
    /// A letter does not show, or is a blank other than the usual one.
    #[error("letter {place} of the name does not show (U+{:04X}): type the name anew, by hand", u32::from(*letter))]
    DoesNotShow {
        /// Which letter, counted from one.
        place: usize,
        /// The letter.
        letter: char,
    },
    /// It holds the sign that a tag has before its check character.
    #[error(
        "`{SEPARATOR}` stands only on tags, before the check character: leave it out of the name, or scan the whole tag"
    )]
    Separator,
    /// It begins like the word for an entry, or like the one for a name as it is.
    #[error("a name does not begin with `{ENTRY}` or `{CELL}`: those say how the rest is meant")]
    Prefix,
}

impl CellName {
    /// Checks a name for a cell that is not known yet.
    ///
    /// # Errors
    /// What is wrong with it, with what to do.
    pub fn new(text: &str) -> Result<Self, NotAName> {
        let name: String = text.nfc().collect();
        let letters = name.chars().count();
        if name.trim().is_empty() {
            return Err(NotAName::Empty);
        }
        if name.trim() != name {
            return Err(NotAName::BlankAtEnds);
        }
        if letters > MOST_LETTERS {
            return Err(NotAName::TooLong(letters));
        }
        if let Some((before, letter)) = name.chars().enumerate().find(|(_, letter)| does_not_show(*letter)) {
            return Err(NotAName::DoesNotShow { place: before + 1, letter });
        }
        if name.contains(SEPARATOR) {
            return Err(NotAName::Separator);
        }
        if [ENTRY, CELL].iter().any(|prefix| name.starts_with(prefix)) {
            return Err(NotAName::Prefix);
        }
        Ok(Self(name))
    }

    /// Returns the name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for CellName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// What acts or has no width (General_Category Cc, Cf, Zl, Zp and Default_Ignorable_Code_Point of the Unicode Character Database, from
/// memory); a blank other than the usual one, which looks like it and makes another name; a letter for private use, which each
/// computer draws as it likes.
fn does_not_show(letter: char) -> bool {
    let is_hidden = matches!(letter,
        '\u{ad}' | '\u{34f}' | '\u{600}'..='\u{605}' | '\u{61c}' | '\u{6dd}' | '\u{70f}' | '\u{8e2}'
        | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}'
        | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{1bca0}'..='\u{1bca3}'
        | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}');
    let is_private = matches!(letter, '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..='\u{10ffff}');
    letter.is_control() || is_hidden || is_private || letter.is_whitespace() && letter != ' '
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_that_show_and_fit_are_taken_in_one_form() {
        let longest = "ä".repeat(64);
        for name in ["S1", "shelf 3, left", "12", "PE-0001", "Ä/7", "ящик 4", longest.as_str()] {
            assert_eq!(CellName::new(name).as_ref().map(CellName::as_str), Ok(name));
        }
        // A letter and its mark are the letter with the mark.
        assert_eq!(CellName::new("A\u{308}1").unwrap(), CellName::new("Ä1").unwrap());
        let (marked, whole) = (CellName::new(&"a\u{308}".repeat(64)), CellName::new(&longest));
        assert_eq!(marked, whole);
    }

    #[test]
    fn what_is_wrong_with_a_name_is_said() {
        let too_long = "x".repeat(65);
        let hidden = |place, letter| NotAName::DoesNotShow { place, letter };
        let table = [
            ("", NotAName::Empty),
            (" ", NotAName::Empty),
            (" S1", NotAName::BlankAtEnds),
            ("S1\t", NotAName::BlankAtEnds),
            ("\u{a0}S1", NotAName::BlankAtEnds),
            (too_long.as_str(), NotAName::TooLong(65)),
            ("S\u{200b}1", hidden(2, '\u{200b}')),
            ("S1\u{202e}", hidden(3, '\u{202e}')),
            ("S\u{1b}[31m", hidden(2, '\u{1b}')),
            ("S\u{a0}1", hidden(2, '\u{a0}')),
            ("\u{feff}S1", hidden(1, '\u{feff}')),
            ("S\u{e000}", hidden(2, '\u{e000}')),
            ("S1+Q", NotAName::Separator),
            ("entry:12", NotAName::Prefix),
            ("cell:S1", NotAName::Prefix),
        ];
        for (text, why) in table {
            assert_eq!(CellName::new(text), Err(why), "{text:?}");
        }
        let told = CellName::new("S\u{200b}1").unwrap_err().to_string();
        assert!(told.contains("letter 2") && told.contains("U+200B"), "{told}");
    }

    proptest! {
        #[test]
        fn a_name_once_taken_is_taken_again_and_stays(text in "\\PC{0,70}") {
            if let Ok(name) = CellName::new(&text) {
                prop_assert_eq!(CellName::new(name.as_str()), Ok(name));
            }
        }
    }
}
