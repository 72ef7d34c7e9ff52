//! Width, colour and line breaks of text for people.
//!
//! Colour is never needed to understand the text. Where it is wanted it has only the meanings of ISO 3864 and ANSI
//! Z535: red for danger, orange for warning, yellow for caution, blue for notice. Green marks rescue equipment there,
//! so it is not used for a good result.

use crate::plain_text::own;
use celltriage_rules::Severity;

/// Narrowest page that is laid out.
const NARROWEST: usize = 60;
/// Widest page: longer lines are hard to read.
const WIDEST: usize = 100;

/// How text is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Style {
    width: usize,
    colour: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self::new(WIDEST, false)
    }
}

impl Style {
    /// Makes a style for a width in columns, kept between 60 and 100, with or without colour.
    pub fn new(width: usize, colour: bool) -> Self {
        Self { width: width.clamp(NARROWEST, WIDEST), colour }
    }

    /// Returns the width in columns.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Returns a line across the page.
    pub(super) fn line(&self, mark: char) -> String {
        mark.to_string().repeat(self.width)
    }

    /// Puts text on the ground of its signal colour.
    pub(super) fn signal(&self, severity: Severity, text: &str) -> String {
        // Select-graphic-rendition codes of ECMA-48; 208 is the orange of the 256-colour table.
        let code = match severity {
            Severity::Danger => "1;97;41",
            Severity::Warning => "1;30;48;5;208",
            Severity::Caution => "1;30;43",
            Severity::Notice => "1;97;44",
        };
        self.with(code, text)
    }

    /// Makes text bold.
    pub(crate) fn strong(&self, text: &str) -> String {
        self.with("1", text)
    }

    fn with(&self, code: &str, text: &str) -> String {
        if self.colour {
            format!("{}{text}{}", own(&format!("[{code}m")), own("[0m"))
        } else {
            text.to_owned()
        }
    }
}

/// Symbols that stay on the line of the number before them.
const UNITS: [&str; 17] =
    ["V", "mV", "mV/h", "A", "Ah", "It", "mOhm", "Ohm·Ah", "Wh", "%", "K", "°C", "h", "min", "mm", "kg", "g"];

/// Breaks text into lines of at most `width` columns, at spaces; a number keeps its unit, a word that is longer than
/// a line is cut.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in with_units(text) {
        let mut rest = word.as_str();
        let gap = usize::from(!line.is_empty());
        if line.chars().count() + gap + rest.chars().count() <= width {
            line.push_str(if gap == 1 { " " } else { "" });
            line.push_str(rest);
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        while let Some((cut, _)) = rest.char_indices().nth(width) {
            let (first, others) = rest.split_at(cut);
            lines.push(first.trim_end().to_owned());
            rest = others;
        }
        line = rest.to_owned();
    }
    lines.push(line);
    lines
}

/// Splits at spaces, but not between a number and its unit.
fn with_units(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let symbol = word.trim_end_matches(['.', ',', ';', ':', ')']);
        match words.last_mut() {
            Some(last) if last == "≤" || last == "≥" => last.push_str(&format!(" {word}")),
            Some(last) if UNITS.contains(&symbol) && last.ends_with(|end: char| end.is_ascii_digit()) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// Wraps text with one beginning for the first line and spaces of the same length before the others.
/// `columns` is the width of the beginning as it is seen, without colour codes.
pub(crate) fn hanging(beginning: &str, columns: usize, text: &str, width: usize) -> String {
    let mut out = String::new();
    for (number, line) in wrapped(text, width.saturating_sub(columns)).iter().enumerate() {
        if number == 0 {
            out.push_str(beginning);
        } else {
            out.push_str(&" ".repeat(columns));
        }
        out.push_str(line);
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_at_spaces_and_lose_nothing() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("abcdefghij kl", 4), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(wrapped("", 10), [""]);
        assert_eq!(wrapped("down to 3 V: 5 h 0 min.", 9), ["down to", "3 V: 5 h", "0 min."]);
        assert_eq!(hanging("* ", 2, "one two three", 9), "* one two\n  three\n");
    }

    #[test]
    fn colour_only_surrounds_the_same_text() {
        let plain = Style::new(100, false).signal(Severity::Danger, "DANGER");
        let coloured = crate::plain_text::shown(&Style::new(100, true).signal(Severity::Danger, "DANGER"));
        assert_eq!(plain, "DANGER");
        assert!(coloured.contains("DANGER") && coloured.ends_with("\u{1b}[0m"));
    }

    #[test]
    fn the_width_stays_readable() {
        assert_eq!(Style::new(10, false).width(), 60);
        assert_eq!(Style::new(400, false).width(), 100);
    }
}
