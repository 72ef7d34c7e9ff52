//! The outside world as commands see it: streams, clock, terminal, the wish to stop.
//!
//! Everything that moves comes in through here, so that a test can hold it still.

use jiff::Timestamp;
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
    /// Set when the person wants to stop.
    pub stop: &'a AtomicBool,
}

impl Io<'_> {
    /// Writes data and a line end; a reader that has gone away is not an error of ours.
    pub fn say(&mut self, text: &str) {
        let _reader_may_be_gone = writeln!(self.out, "{}", text.trim_end_matches('\n'));
    }

    /// Writes a line that is not data.
    pub fn note(&mut self, text: &str) {
        let _reader_may_be_gone = writeln!(self.err, "{text}");
    }

    /// Returns whether the person wants to stop.
    pub fn stop_wanted(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}
