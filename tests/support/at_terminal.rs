//! A person at a terminal of 80 columns and 24 lines, with a scanner: what they type, what they see, and how many keys it takes.

use crate::NOON;
use crate::calls::unset;
use celltriage_host::io::{Io, Loudness, fitted};
use celltriage_host::settings::surroundings::Surroundings;
use jiff::tz::TimeZone;
use std::cell::{Cell, RefCell};
use std::ffi::OsString;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

/// Columns of the terminal.
const WIDTH: usize = 80;

/// What a person does at a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key<'a> {
    /// Types this and Enter.
    Type(&'a str),
    /// Scans this: the scanner types it with Enter, and the person presses one button.
    Scan(&'a str),
    /// Types this and Enter, and then Ctrl-C: whatever is measured next is to stop.
    ThenStop(&'a str),
}

/// What came of an evening at the terminal.
#[derive(Debug)]
pub struct Evening {
    /// Exit code.
    pub code: u8,
    /// All that stood on the screen, with what was typed.
    pub screen: String,
    /// Keys pressed at questions: a letter each, Enter, and one for each scan.
    pub keys: usize,
    /// The most lines that stood between two questions, the later one with them; pages of data are not counted.
    pub most_lines: usize,
    /// How many answers were not asked for.
    pub left: usize,
}

/// A stream of the program, both on one screen, and how many lines it wrote.
struct Tape<'a>(&'a RefCell<Vec<u8>>, &'a Cell<usize>);

impl Write for Tape<'_> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.1.set(self.1.get() + bytes.iter().filter(|byte| **byte == b'\n').count());
        self.0.borrow_mut().write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Calls the program as [`crate::call`] does, at a terminal; `around` is none for a person who has set nothing.
pub fn at_terminal(around: Option<&Surroundings>, typed: &[&str], answers: &[Key<'_>]) -> Evening {
    let stop = AtomicBool::new(false);
    let (tape, keys, used) = (RefCell::new(Vec::<u8>::new()), Cell::new(0), Cell::new(0));
    let (data, notes, most_lines) = (Cell::new(0), Cell::new(0), Cell::new(0));
    let mut ask = |question: &str| {
        let question = fitted(question.trim_end(), WIDTH);
        most_lines.set(most_lines.get().max(notes.take() + question.lines().count()));
        tape.borrow_mut().extend(format!("{question} ").bytes());
        let answer = answers.get(used.get());
        used.set(used.get() + 1);
        let text = match answer {
            Some(Key::Type(text)) => {
                keys.set(keys.get() + text.chars().count() + 1);
                (*text).to_owned()
            }
            Some(Key::Scan(text)) => {
                keys.set(keys.get() + 1);
                (*text).to_owned()
            }
            Some(Key::ThenStop(text)) => {
                stop.store(true, Ordering::Relaxed);
                (*text).to_owned()
            }
            None => {
                tape.borrow_mut().extend(b"(ended)\n");
                return None;
            }
        };
        tape.borrow_mut().extend(format!("{text}\n").bytes());
        Some(format!("{text}\n"))
    };
    let nothing_set = unset();
    let (mut out, mut err) = (Tape(&tape, &data), Tape(&tape, &notes));
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        ask: Some(&mut ask),
        now: NOON.parse().expect("a timestamp"),
        stated_day: None,
        bench: celltriage_book::BENCH.to_owned(),
        zone: TimeZone::UTC,
        width: WIDTH,
        height: Some(24),
        colour: false,
        live: true,
        bars: None,
        told: Vec::new(),
        loudness: Loudness::Usual,
        in_words: false,
        screen: true,
        stop: &stop,
    };
    let typed = std::iter::once("celltriage").chain(typed.iter().copied()).map(OsString::from);
    let code = celltriage_host::run(typed, around.unwrap_or(&nothing_set), &mut io);
    most_lines.set(most_lines.get().max(notes.get()));
    let left = answers.len().saturating_sub(used.get());
    let screen = String::from_utf8(tape.borrow().clone()).expect("output is UTF-8");
    Evening { code, screen, keys: keys.get(), most_lines: most_lines.get(), left }
}
