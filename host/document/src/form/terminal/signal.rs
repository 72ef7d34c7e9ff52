//! Codes of a terminal: bold, and colours with the meanings of ISO 3864 and ANSI Z535 only.
//!
//! Red is danger, orange warning, yellow caution, blue notice. Green marks rescue equipment there, so it is not used for a good
//! result. Colour is never needed to understand the text.

use crate::text::Tone;
use celltriage_rules::Severity;

/// Makes a code work on the stream that it is written to, given without its escape: `[1m`.
pub type Mark = fn(&str) -> String;

/// Puts the escape of ECMA-48 before a code, for a stream that lets every code through.
pub fn bare(code: &str) -> String {
    format!("\u{1b}{code}")
}

/// Select-graphic-rendition codes of ECMA-48; 208 is the orange of the 256-colour table.
const fn code(tone: Tone) -> Option<&'static str> {
    match tone {
        Tone::Plain | Tone::Muted => None,
        Tone::Strong => Some("[1m"),
        Tone::Signal(Severity::Danger) => Some("[1;97;41m"),
        Tone::Signal(Severity::Warning) => Some("[1;30;48;5;208m"),
        Tone::Signal(Severity::Caution) => Some("[1;30;43m"),
        Tone::Signal(Severity::Notice) => Some("[1;97;44m"),
    }
}

/// White on red that blinks (5), for what to do now.
const ALARM: &str = "[1;5;97;41m";
/// Ends every code.
const END: &str = "[0m";

/// Sets text in a tone where codes are wanted.
pub(super) fn toned(tone: Tone, text: &str, mark: Option<Mark>) -> String {
    match (code(tone), mark) {
        (Some(code), Some(mark)) => format!("{}{text}{}", mark(code), mark(END)),
        _ => text.to_owned(),
    }
}

/// Makes a signal word blink where codes are wanted.
pub(super) fn blinking(word: &str, mark: Option<Mark>) -> String {
    match mark {
        Some(mark) => format!("{}{word}{}", mark(ALARM), mark(END)),
        None => word.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_only_surround_the_same_text() {
        for severity in [Severity::Notice, Severity::Caution, Severity::Warning, Severity::Danger] {
            let tone = Tone::Signal(severity);
            assert_eq!(toned(tone, "words", None), "words");
            let coloured = toned(tone, "words", Some(bare));
            assert!(
                coloured.starts_with("\u{1b}[1;") && coloured.ends_with("words\u{1b}[0m"),
                "{coloured:?}"
            );
            assert!(!coloured.contains(";42m"), "green is for rescue equipment");
        }
        assert_eq!(toned(Tone::Muted, "words", Some(bare)), "words");
    }
}
