//! Lines of text: broken at spaces, a number kept with its unit, nothing lost.

use crate::plain;
use crate::text::{Text, Tone};
use std::ops::Range;
use textwrap::core::{Word, break_words, display_width};
use textwrap::wrap_algorithms::wrap_first_fit;

/// Symbols that stay on the line of the number before them.
const UNITS: [&str; 17] =
    ["V", "mV", "mV/h", "A", "Ah", "It", "mOhm", "Ohm·Ah", "Wh", "%", "K", "°C", "h", "min", "mm", "kg", "g"];

/// Text of one line with the tones of its parts: made plain, each run of blanks one space.
pub(crate) struct Flat {
    pub(crate) text: String,
    /// Where each tone ends.
    tones: Vec<(usize, Tone)>,
}

impl Flat {
    pub(crate) fn of(text: &Text) -> Self {
        let mut flat = Self { text: String::new(), tones: Vec::new() };
        let mut blank = false;
        for span in &text.spans {
            for letter in span.words.said().chars() {
                if letter.is_whitespace() && !plain::is_fixed(letter) {
                    blank = !flat.text.is_empty();
                    continue;
                }
                if std::mem::take(&mut blank) {
                    flat.text.push(' ');
                }
                plain::push(&mut flat.text, letter);
            }
            flat.tones.push((flat.text.len(), span.tone));
        }
        flat
    }

    /// Returns a part of it, cut where the tone changes.
    fn toned(&self, part: Range<usize>) -> Vec<(String, Tone)> {
        let mut out = Vec::new();
        let mut from = part.start;
        for (end, tone) in &self.tones {
            let to = (*end).min(part.end);
            if from < to {
                let text = self.text.get(from..to).unwrap_or_default();
                out.push((text.replace('\u{a0}', " "), *tone));
                from = to;
            }
        }
        out
    }

    /// Breaks it into lines of at most `first` columns for the first and `others` for the rest; a word longer than a line is cut.
    pub(crate) fn lines(&self, first: usize, others: usize) -> Vec<Vec<(String, Tone)>> {
        let (first, others) = (first.max(1), others.max(1));
        let mut rest = break_words(words(&self.text), others);
        // Only the first word can be too long for the first line alone: the others go to the next.
        let beginning = rest.drain(..1.min(rest.len())).collect::<Vec<_>>();
        let mut words = break_words(beginning, first);
        words.extend(rest);
        let mut lines = Vec::new();
        let mut at = 0;
        for line in wrap_first_fit(&words, &[first as f64, others as f64]) {
            let start = at;
            at += line.iter().map(|word| word.word.len() + word.whitespace.len()).sum::<usize>();
            let taken = self.text.get(start..at).unwrap_or_default().trim_end().len();
            lines.push(self.toned(start..start + taken));
        }
        lines
    }
}

/// Splits at spaces, but not between a number and its unit or a sign of comparison and its number.
fn words(text: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    let (mut start, mut at) = (0, 0);
    for piece in text.split_inclusive(' ') {
        let before = text.get(start..at).unwrap_or_default().trim_end_matches(' ');
        let symbol = piece.trim_end_matches(' ').trim_end_matches(['.', ',', ';', ':', ')']);
        let unit = UNITS.contains(&symbol) && before.ends_with(|end: char| end.is_ascii_digit());
        if !(before.is_empty() || before == "≤" || before == "≥" || unit) {
            words.push(Word::from(text.get(start..at).unwrap_or_default()));
            start = at;
        }
        at += piece.len();
    }
    words.push(Word::from(text.get(start..).unwrap_or_default()));
    words
}

/// Breaks text into lines of at most `width` columns.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let lines = Flat::of(&text.into()).lines(width, width);
    lines.into_iter().map(|line| line.into_iter().map(|(part, _)| part).collect()).collect()
}

/// Breaks lines longer than `width` between words; what goes on stands two columns further in than its line began.
pub fn fitted(text: &str, width: usize) -> String {
    let lines = text.split('\n').map(|line| {
        if display_width(line) <= width {
            return plain::plain(line);
        }
        let words = line.trim_start();
        let margin = " ".repeat(display_width(line.get(..line.len() - words.len()).unwrap_or_default()));
        let further = format!("\n{margin}  ");
        let lines = wrapped(words, width.max(40).saturating_sub(margin.len() + 2));
        format!("{margin}{}", lines.join(&further))
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lines_break_at_spaces_and_lose_nothing() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("abcdefghij kl", 4), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(wrapped("", 10), [""]);
        assert_eq!(wrapped("down to 3 V: 5 h 0 min.", 9), ["down to", "3 V: 5 h", "0 min."]);
        assert_eq!(wrapped("at most ≤ 2 K here", 8), ["at most", "≤ 2 K", "here"]);
        assert_eq!(wrapped("one two\u{a0}three", 8), ["one", "two thre", "e"]);
    }

    #[test]
    fn a_short_first_line_cuts_no_word_that_fits_into_the_others() {
        let lines = |text: &str| -> Vec<String> {
            let lines = Flat::of(&text.into()).lines(4, 10);
            lines.into_iter().map(|line| line.into_iter().map(|(part, _)| part).collect()).collect()
        };
        assert_eq!(lines("one lithium-i two"), ["one", "lithium-i", "two"]);
        assert_eq!(lines("abcdefgh ij"), ["abcd", "efgh ij"]);
        assert_eq!(lines("x aaaaa bbbbbb"), ["x", "aaaaa", "bbbbbb"]);
    }

    #[test]
    fn long_lines_break_between_words_and_short_ones_stay_as_they_are() {
        let text = "a   b\n  one two three four five six seven eight nine ten";
        assert_eq!(fitted(text, 40), "a   b\n  one two three four five six seven\n    eight nine ten");
        assert_eq!(fitted(text, 60), text);
    }

    /// A breaker of lines by hand, to hold the library's lines against.
    fn by_hand(text: &str, width: usize) -> Vec<String> {
        let (mut lines, mut line) = (Vec::new(), String::new());
        for word in text.split_whitespace() {
            let mut rest: Vec<char> = word.chars().collect();
            let gap = usize::from(!line.is_empty());
            if line.chars().count() + gap + rest.len() <= width {
                line.push_str(if gap == 1 { " " } else { "" });
                line.extend(rest);
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            while rest.len() > width {
                lines.push(rest.drain(..width).collect());
            }
            line = rest.into_iter().collect();
        }
        lines.push(line);
        lines
    }

    proptest! {
        #[test]
        fn lines_are_those_of_a_breaker_by_hand(text in "[a-z ]{0,200}", width in 1usize..40) {
            prop_assert_eq!(wrapped(&text, width), by_hand(&text, width));
        }

        #[test]
        fn wrapping_loses_nothing_and_keeps_the_width(text in "\\PC{0,200}", width in 2usize..60) {
            let lines = wrapped(&text, width);
            let letters = |text: &str| text.chars().filter(|one| !one.is_whitespace()).collect::<String>();
            prop_assert_eq!(letters(&lines.concat()), letters(&plain::plain(&text)));
            prop_assert!(lines.iter().all(|line| display_width(line) <= width), "{:?}", lines);
        }
    }
}
