//! Text of people made plain: what is not a visible letter is spelt out.
//!
//! A label, a file's name or a value may hold codes that move a cursor, paint a word or reverse the order of letters. They are
//! shown as `\u001b`, the form of JSON, in every form: a printed page that hides letters misleads as a terminal does.

use std::fmt::Write as _;

/// Returns the text as one line: every blank is a space, what is not visible is spelt out.
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    text.chars().for_each(|letter| push(&mut out, letter));
    out
}

/// Returns the text line by line, each made plain; for what is shown as it is written.
pub fn plain_lines(text: &str) -> impl Iterator<Item = String> + '_ {
    text.lines().map(plain)
}

/// Adds a letter: a blank as a space, a hidden one spelt out.
pub(crate) fn push(out: &mut String, letter: char) {
    match letter {
        // The space that keeps words on one line has a meaning of its own; the forms know it.
        blank if blank.is_whitespace() && !is_fixed(blank) => out.push(' '),
        hidden if is_hidden(hidden) => {
            for unit in hidden.encode_utf16(&mut [0; 2]) {
                let _infallible = write!(out, "\\u{unit:04x}");
            }
        }
        visible => out.push(visible),
    }
}

/// Returns whether a blank keeps the words beside it on one line.
pub(crate) const fn is_fixed(letter: char) -> bool {
    letter == '\u{a0}'
}

/// Returns whether a character acts instead of being seen: controls, marks of direction, what has no width. After the
/// properties General_Category = Cc, Cf, Zl, Zp and Default_Ignorable_Code_Point of the Unicode Character Database, from
/// memory.
pub const fn is_hidden(letter: char) -> bool {
    matches!(letter,
        '\0'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{ad}' | '\u{34f}' | '\u{61c}'
        | '\u{70f}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{3164}'
        | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}'
        | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_acts_is_spelt_out_and_letters_stay() {
        assert_eq!(plain("\u{1b}[2J\u{7}\u{202e}dab\u{e0041}"), "\\u001b[2J\\u0007\\u202edab\\udb40\\udc41");
        assert_eq!(plain("25 °C, ±3 %, Ω, 日本, é"), "25 °C, ±3 %, Ω, 日本, é");
        assert_eq!(plain("one\ttwo\nthree\r"), "one two three ");
        assert_eq!(plain_lines("{\n  \"a\": 1\n}").collect::<Vec<_>>(), ["{", "  \"a\": 1", "}"]);
    }

    proptest! {
        #[test]
        fn nothing_that_acts_is_left(text in any::<String>()) {
            prop_assert!(plain(&text).chars().all(|letter| !is_hidden(letter)));
        }
    }
}
