//! The outside world as commands see it: streams, clock, terminal, the wish to stop.
//!
//! Everything that moves comes in through here, so that a test can hold it still.

use crate::plain_text::{bell, own};
use celltriage_document::document::Document;
use celltriage_document::form::terminal::Terminal;
pub use celltriage_document::wrap::fitted;
use celltriage_rules::Severity;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

/// Puts a question to the person and returns the line typed; `None` if the input has ended.
pub type Ask<'a> = dyn FnMut(&str) -> Option<String> + 'a;

/// Lines kept free below a screenful: the question for more, what is said at the end, and the next prompt.
const BELOW_A_SCREENFUL: usize = 3;

/// How much is told beside the data; errors, warnings, questions and alarms are always told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Loudness {
    /// No progress and no notes.
    Quiet,
    /// What most people want to see.
    #[default]
    Usual,
    /// Also where each setting is from, and how long it took.
    Verbose,
}

/// What a line of notes begins with.
const NOTES: [&str; 3] = ["note: ", "written as entry ", "written to "];

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
    /// The day that the person has stated with the call, which must be that of the clock.
    pub stated_day: Option<Date>,
    /// What this bench is called in books that it begins.
    pub bench: String,
    /// Time zone of the shop: the day of a decision is a local day.
    pub zone: TimeZone,
    /// Width of the terminal in columns.
    pub width: usize,
    /// Height of the terminal in lines, where it is one.
    pub height: Option<usize>,
    /// Whether colours may be used on `out`.
    pub colour: bool,
    /// Whether `err` is a terminal that can redraw a line.
    pub live: bool,
    /// Where several runs of one program draw their progress below each other, and the name of this one.
    pub bars: Option<(indicatif::MultiProgress, String)>,
    /// Whether `out` is a terminal on which lines can be drawn over each other.
    pub screen: bool,
    /// Emergency texts that were told already in this call.
    pub told: Vec<String>,
    /// How much is told beside the data.
    pub loudness: Loudness,
    /// Whether words take the place of drawings and signs, because a program reads the lines aloud (variable `ACCESSIBLE`).
    pub in_words: bool,
    /// Set when the person wants to stop.
    pub stop: &'a AtomicBool,
}

/// Returns a bar of a length, drawn on standard error by a template.
pub fn bar_in(length: u64, template: &str) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr_with_hz(5));
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style.progress_chars("#> "));
    }
    bar
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

    /// Returns the form in which `out` shows a document.
    pub fn terminal(&self) -> Terminal {
        let terminal = Terminal::new(self.width).in_words(self.in_words);
        if self.colour { terminal.coloured(own) } else { terminal }
    }

    /// Shows a document.
    pub fn show(&mut self, document: &Document) {
        let text = self.terminal().text(document);
        self.say(&text);
    }

    /// Writes a line that is not data; a terminal gets it broken between words, anything else as it is, also the
    /// thread that prints for several runs.
    pub fn note(&mut self, text: &str) {
        if self.is_quiet() && NOTES.iter().any(|beginning| text.starts_with(beginning)) {
            return;
        }
        let text = if self.live && self.bars.is_none() { fitted(text, self.width) } else { text.to_owned() };
        let _reader_may_be_gone = writeln!(self.err, "{text}");
    }

    /// Writes a line about what goes on; a quiet call leaves it out.
    pub fn progress(&mut self, text: &str) {
        if !self.is_quiet() {
            self.note(text);
        }
    }

    /// Returns whether nothing is wanted beside the data that can be left out.
    pub fn is_quiet(&self) -> bool {
        self.loudness == Loudness::Quiet
    }

    /// Returns whether progress may be drawn over itself.
    pub fn draws(&self) -> bool {
        self.live && !self.in_words && !self.is_quiet()
    }

    /// Sounds the bell of the terminal, where there is one.
    pub fn ring(&mut self) {
        if self.live {
            let _terminal_may_be_gone = write!(self.err, "{}", bell()).and_then(|()| self.err.flush());
        }
    }

    /// Tells of danger, before anything else and to whoever is near: the terminal's bell sounds, because a person beside
    /// a hot cell does not watch the screen, and where the terminal shows colours the signal word blinks. What is no
    /// terminal gets the words alone. Returns how many lines it took.
    pub fn alarm(&mut self, severity: Severity, text: &str) -> usize {
        let text = self.alarm_text(severity, text);
        // Not through `note`: the lines are broken already, and the codes before the first take no room.
        let _reader_may_be_gone = writeln!(self.err, "{text}");
        text.lines().count()
    }

    fn alarm_text(&self, severity: Severity, text: &str) -> String {
        let bell = if self.live { bell() } else { String::new() };
        let terminal = Terminal::new(self.width);
        let terminal = if self.live && self.colour { terminal.coloured(own) } else { terminal };
        bell + &terminal.alarm(severity, &text.into())
    }

    /// Shows a document that may be longer than the screen; see [`say_in_screens`](Self::say_in_screens).
    pub fn show_in_screens(&mut self, document: &Document, above: usize) -> bool {
        let text = self.terminal().text(document);
        self.say_in_screens(&text, above)
    }

    /// Writes data that may be longer than the screen: a screenful, then more while the person asks for it, so that
    /// nothing is scrolled away unread, nor the lines `above` that stand there already. Elsewhere all at once. Returns
    /// whether it is longer than one screen.
    pub fn say_in_screens(&mut self, text: &str, above: usize) -> bool {
        let lines: Vec<&str> = text.trim_end().lines().collect();
        let room = self.height.unwrap_or(usize::MAX).saturating_sub(BELOW_A_SCREENFUL).max(1);
        if !self.screen || self.ask.is_none() || lines.len() + above <= room {
            self.say(text);
            return false;
        }
        let (first, rest) = lines.split_at(room.saturating_sub(above).clamp(1, lines.len()));
        let screens = 1 + rest.len().div_ceil(room);
        for (index, screenful) in std::iter::once(first).chain(rest.chunks(room)).enumerate() {
            self.say(&screenful.join("\n"));
            let more = self.ask.as_mut().filter(|_| index + 1 < screens);
            if let Some(ask) = more {
                let answer = ask(&format!("{} of {screens}; Enter for more, q for no more ", index + 1));
                // No answer: the input has ended, and nobody waits.
                if answer.is_some_and(|answer| answer.trim() == "q") {
                    break;
                }
            }
        }
        true
    }

    /// Tells what to do about a cell that is reacting, each text as an alarm of its own, but for what was told before in
    /// this call. Returns how many lines all of it takes, also what stands there already.
    pub fn emergency<'t>(&mut self, texts: impl IntoIterator<Item = &'t str>) -> usize {
        let tell = |text: &str| {
            if self.told.iter().any(|told| told == text) {
                return self.alarm_text(Severity::Danger, text).lines().count();
            }
            self.told.push(text.to_owned());
            self.alarm(Severity::Danger, text)
        };
        texts.into_iter().map(tell).sum()
    }

    /// Tells it once more, where a page or the hours have taken away what was told before.
    pub fn emergency_again<'t>(&mut self, texts: impl IntoIterator<Item = &'t str>) {
        self.told.clear();
        self.emergency(texts);
    }

    /// Returns whether the person wants to stop.
    pub fn stop_wanted(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::{Cell, RefCell};

    fn alarmed(live: bool, colour: bool) -> String {
        let (mut out, mut err, stop) = (Vec::new(), Vec::new(), AtomicBool::new(false));
        let mut io = Io {
            out: &mut out,
            err: &mut err,
            ask: None,
            now: Timestamp::UNIX_EPOCH,
            stated_day: None,
            bench: celltriage_book::BENCH.to_owned(),
            zone: TimeZone::UTC,
            width: 60,
            height: None,
            colour,
            live,
            screen: false,
            bars: None,
            told: Vec::new(),
            loudness: Loudness::Usual,
            in_words: false,
            stop: &stop,
        };
        io.alarm(
            Severity::Danger,
            "STOP: hands off. Everybody out, shut the door. Call the fire service from outside.",
        );
        assert!(out.is_empty(), "an alarm is no data");
        crate::plain_text::shown(&String::from_utf8(err).unwrap())
    }

    #[test]
    fn an_alarm_is_broken_into_lines_once_whatever_the_terminal_can() {
        let plain = alarmed(false, false);
        assert!(plain.lines().count() > 1, "{plain}");
        let shown = |text: String| {
            text.replace("\u{1b}[1;5;97;41m", "").replace("\u{1b}[0m", "").replace('\u{7}', "")
        };
        assert_eq!(shown(alarmed(true, false)), plain);
        assert_eq!(shown(alarmed(true, true)), plain);
    }

    /// Says a text on a screen of ten lines; returns what was printed before each question, and after the last.
    fn said(lines: usize, above: usize, screen: bool, answers: usize) -> Vec<Vec<String>> {
        said_to(lines, above, screen, answers, "")
    }

    /// The same to somebody who answers with a word.
    fn said_to(lines: usize, above: usize, screen: bool, answers: usize, word: &str) -> Vec<Vec<String>> {
        let (printed, mut err, stop) = (RefCell::new(Vec::<u8>::new()), Vec::new(), AtomicBool::new(false));
        let (seen, left) = (RefCell::new(Vec::new()), Cell::new(answers));
        let take = || {
            let text = String::from_utf8(std::mem::take(&mut *printed.borrow_mut())).unwrap();
            seen.borrow_mut().push(text.lines().map(str::to_owned).collect::<Vec<_>>());
        };
        struct Out<'a>(&'a RefCell<Vec<u8>>);
        impl Write for Out<'_> {
            fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
                self.0.borrow_mut().write(bytes)
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let mut ask = |_: &str| {
            take();
            left.set(left.get().saturating_sub(1));
            (left.get() > 0).then(|| format!("{word}\n"))
        };
        let mut io = Io {
            out: &mut Out(&printed),
            err: &mut err,
            ask: Some(&mut ask),
            now: Timestamp::UNIX_EPOCH,
            stated_day: None,
            bench: celltriage_book::BENCH.to_owned(),
            zone: TimeZone::UTC,
            width: 80,
            height: Some(10),
            colour: false,
            live: true,
            screen,
            bars: None,
            told: Vec::new(),
            loudness: Loudness::Usual,
            in_words: false,
            stop: &stop,
        };
        let text = (0..lines).map(|line| format!("{line}\n")).collect::<String>();
        assert_eq!(io.say_in_screens(&text, above), screen && lines + above > 7);
        take();
        seen.into_inner()
    }

    #[test]
    fn what_is_longer_than_the_screen_comes_in_screens_and_whole() {
        for lines in [1, 7, 8, 14, 15, 40] {
            let seen = said(lines, 0, true, 100);
            assert_eq!(seen.len(), lines.div_ceil(7), "{lines}");
            assert!(seen.iter().all(|screenful| screenful.len() <= 7), "{seen:?}");
            let all: Vec<String> = (0..lines).map(|line| line.to_string()).collect();
            assert_eq!(seen.concat(), all);
            // Who types to no terminal, or whose input has ended, gets everything too.
            assert_eq!(said(lines, 0, false, 100).concat(), all);
            assert_eq!(said(lines, 0, true, 1).concat(), all);
            // Who has enough gets no more; what is on one screen or on none is not cut.
            assert_eq!(said_to(lines, 0, true, 100, "q").concat(), all[..lines.min(7)]);
            assert_eq!(said_to(lines, 0, false, 100, "q").concat(), all);
            // What stands above stays on the first screen.
            let seen = said(lines, 5, true, 100);
            assert!(seen[0].len() <= 2 && seen.iter().all(|screenful| screenful.len() <= 7), "{seen:?}");
            assert_eq!(seen.concat(), all);
        }
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
