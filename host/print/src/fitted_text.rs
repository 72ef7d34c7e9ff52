//! Words broken into lines for the room there is: at spaces, slashes and hyphens only. What fits nowhere is not cut.

/// A part of a text that stays whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Piece<'a> {
    /// With a space behind it where it has one.
    text: &'a str,
}

/// Splits where a line may end: behind a space or a slash, and behind a hyphen that follows a letter, so that a date or a number
/// stays whole.
fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut pieces = Vec::new();
    let (mut start, mut before) = (0, ' ');
    for (at, letter) in text.char_indices() {
        let end = at + letter.len_utf8();
        if letter == ' ' || letter == '/' || (letter == '-' && before.is_alphabetic()) {
            pieces.extend(text.get(start..end).map(|text| Piece { text }));
            start = end;
        }
        before = letter;
    }
    pieces.extend(text.get(start..).filter(|rest| !rest.is_empty()).map(|text| Piece { text }));
    pieces
}

/// Breaks a text into lines no wider than `room`, as `width` measures them; `None` where a piece is wider than that.
pub(crate) fn lines(text: &str, room: f64, width: impl Fn(&str) -> f64) -> Option<Vec<String>> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for piece in pieces(text) {
        let longer = format!("{line}{}", piece.text);
        if width(longer.trim_end()) <= room {
            line = longer;
            continue;
        }
        if !line.trim_end().is_empty() {
            lines.push(line.trim_end().to_owned());
        }
        if width(piece.text.trim_end()) > room {
            return None;
        }
        line = piece.text.to_owned();
    }
    lines.push(line.trim_end().to_owned());
    Some(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn by_letters(text: &str, room: usize) -> Option<Vec<String>> {
        lines(text, room as f64, |text| text.chars().count() as f64)
    }

    #[test]
    fn lines_end_at_spaces_slashes_and_hyphens_behind_letters_and_nowhere_else() {
        let broken = |text, room| by_letters(text, room).unwrap_or_default();
        assert_eq!(broken("damaged/defective cells", 10), ["damaged/", "defective", "cells"]);
        assert_eq!(broken("Lithium-Ionen", 9), ["Lithium-", "Ionen"]);
        assert_eq!(by_letters("2026-11-30", 9), None, "a date stays whole");
        assert_eq!(by_letters("quarantine", 9), None, "a word is not cut");
        assert_eq!(broken("PE-0412+K", 6), ["PE-", "0412+K"]);
    }

    proptest! {
        #[test]
        fn nothing_is_lost_and_no_line_is_too_wide(text in "[a-z/ -]{0,60}", room in 1usize..20) {
            let letters = |text: &str| text.replace(' ', "");
            match by_letters(&text, room) {
                Some(lines) => {
                    prop_assert_eq!(letters(&lines.concat()), letters(&text));
                    prop_assert!(lines.iter().all(|line| line.chars().count() <= room));
                }
                None => prop_assert!(pieces(&text).iter().any(|piece| piece.text.trim_end().chars().count() > room)),
            }
        }
    }
}
