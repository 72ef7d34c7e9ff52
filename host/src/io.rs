//! The outside world as commands see it: streams, clock, terminal, the wish to stop.
//!
//! Everything that moves comes in through here, so that a test can hold it still.

use crate::rules::Severity;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

/// Puts a question to the person and returns the line typed; nothing where the input has ended.
pub type Ask<'a> = dyn FnMut(&str) -> Option<String> + 'a;

/// Streams, clock and terminal of one call.
pub struct Io<'a> {
    /// Data: pages, JSON.
    pub out: &'a mut dyn Write,
    /// Everything else: progress, warnings, errors.
    pub err: &'a mut dyn Write,
    /// Asks the person a question and returns the line typed; absent where nobody is there to answer.
    pub ask: Option<&'a mut Ask<'a>>,
    /// Now.
    pub now: Timestamp,
    /// Time zone of the shop: the day of a decision is a local day.
    pub zone: TimeZone,
    /// Width of the terminal in columns.
    pub width: usize,
    /// Whether colours may be used on `out`.
    pub colour: bool,
    /// Whether `err` is a terminal that can redraw a line.
    pub live: bool,
    /// Where several runs of one program draw their progress below each other, and the name of this one.
    pub bars: Option<(indicatif::MultiProgress, String)>,
    /// Whether `out` is a terminal on which lines can be drawn over each other.
    pub screen: bool,
    /// Set when the person wants to stop.
    pub stop: &'a AtomicBool,
}

impl Io<'_> {
    /// Returns the day at the place of this computer.
    pub fn today(&self) -> Date {
        self.now.to_zoned_datetime(self.zone.clone()).date()
    }

    /// Writes data and a line end; a reader that has gone away is not an error of ours.
    pub fn say(&mut self, text: &str) {
        let _reader_may_be_gone = writeln!(self.out, "{}", text.trim_end_matches('\n'));
    }

    /// Writes a line that is not data; a terminal gets it broken between words, anything else as it is, also the
    /// thread that prints for several runs.
    pub fn note(&mut self, text: &str) {
        let text = if self.live && self.bars.is_none() { fitted(text, self.width) } else { text.to_owned() };
        let _reader_may_be_gone = writeln!(self.err, "{text}");
    }

    /// Sounds the bell of the terminal, where there is one.
    pub fn ring(&mut self) {
        if self.live {
            let _terminal_may_be_gone = write!(self.err, "\u{7}").and_then(|()| self.err.flush());
        }
    }

    /// Tells of danger, before anything else and to whoever is near: the terminal's bell sounds, because a person beside
    /// a hot cell does not watch the screen, and where the terminal shows colours the signal word blinks. What is no
    /// terminal gets the words alone.
    pub fn alarm(&mut self, word: &str, text: &str) {
        let bell = if self.live { "\u{7}" } else { "" };
        // Select-graphic-rendition codes of ECMA-48: 5 blinks; white on red is danger by ISO 3864 and ANSI Z535.
        let (on, off) = if self.live && self.colour { ("\u{1b}[1;5;97;41m", "\u{1b}[0m") } else { ("", "") };
        let columns = word.chars().count() + 2;
        let text =
            crate::output::hanging(&format!("{bell}{on}{word}:{off} "), columns, text, self.width.max(40));
        self.note(text.trim_end());
    }

    /// Tells what to do about a cell that is reacting, each text as an alarm of its own.
    pub fn emergency<'t>(&mut self, texts: impl IntoIterator<Item = &'t str>) {
        for text in texts {
            self.alarm(Severity::Danger.word(), text);
        }
    }

    /// Returns whether the person wants to stop.
    pub fn stop_wanted(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Breaks lines longer than `width` between words; what goes on stands two columns further in than its line began.
pub fn fitted(text: &str, width: usize) -> String {
    let lines = text.split('\n').map(|line| {
        if line.chars().count() <= width {
            return line.to_owned();
        }
        let words = line.trim_start();
        let margin = line.get(..line.len() - words.len()).unwrap_or_default();
        let columns = margin.chars().count() + 2;
        let broken = crate::output::hanging("", columns, words, width.max(40));
        format!("{margin}{}", broken.trim_end())
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_break_between_words_and_short_ones_stay_as_they_are() {
        let text = "a   b\n  one two three four five six seven eight nine ten";
        let told = fitted(text, 40);
        assert_eq!(told, "a   b\n  one two three four five six seven\n    eight nine ten");
        assert_eq!(fitted(text, 60), text);
        let path = "x".repeat(100);
        assert_eq!(fitted(&path, 40).replace(['\n', ' '], ""), path, "nothing is lost");
    }

    fn alarmed(live: bool, colour: bool) -> String {
        let (mut out, mut err, stop) = (Vec::new(), Vec::new(), AtomicBool::new(false));
        let mut io = Io {
            out: &mut out,
            err: &mut err,
            ask: None,
            now: Timestamp::UNIX_EPOCH,
            zone: TimeZone::UTC,
            width: 60,
            colour,
            live,
            screen: false,
            bars: None,
            stop: &stop,
        };
        io.alarm(
            "DANGER",
            "STOP: hands off. Everybody out, shut the door. Call the fire service from outside.",
        );
        assert!(out.is_empty(), "an alarm is no data");
        String::from_utf8(err).unwrap()
    }

    #[test]
    fn an_alarm_rings_and_blinks_on_a_terminal_that_can_and_is_plain_words_elsewhere() {
        let told = alarmed(true, true);
        assert!(told.starts_with('\u{7}') && told.contains("\u{1b}[1;5;97;41mDANGER:"), "{told:?}");
        let without_colour = alarmed(true, false);
        assert!(without_colour.starts_with("\u{7}DANGER: STOP") && !without_colour.contains('\u{1b}'));
        let plain = alarmed(false, true);
        assert!(plain.starts_with("DANGER: STOP") && !plain.contains(['\u{7}', '\u{1b}']), "{plain:?}");
        assert!(plain.lines().count() > 1 && plain.lines().all(|line| line.len() <= 60), "{plain}");
    }
}
