//! The program called in this process, with its terminal and its clock held still.

use crate::NOON;
use celltriage_host::io::Io;
use celltriage_host::settings::surroundings::Surroundings;
use jiff::tz::TimeZone;
use std::ffi::OsString;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// What one call of the program printed, and its exit code.
#[derive(Debug)]
pub struct Call {
    /// Exit code.
    pub code: u8,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Call {
    /// Everything as a person would see it.
    pub fn shown(&self) -> String {
        format!("exit code {}\n--- stdout\n{}\n--- stderr\n{}", self.code, self.out, self.err)
    }

    /// Standard output as one JSON value.
    ///
    /// # Panics
    /// If it is none.
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {}\n{}", self.out, self.err))
    }
}

/// Calls the program in this process, with the clock held at noon of 25 November 2026 UTC, no colour, 100 columns.
/// Answers to questions come from `answers`; none means that nobody is there.
pub fn call(typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_unstated(NOON, typed, answers)
}

/// The same by a person with these folders and variables; every other call has none, so it reaches no file of whoever runs
/// the tests.
pub fn call_around(around: &Surroundings, typed: &[&str], answers: Option<&[&str]>) -> Call {
    let mut waiting = answers.unwrap_or_default().iter();
    let mut answer = || waiting.next().map(|answer| (*answer).to_owned());
    call_seen((NOON, TimeZone::UTC, around), None, typed, answers.is_some().then_some(&mut answer))
}

/// The same at another time; nobody says that the clock is right.
pub fn call_unstated(now: &str, typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_with(now, TimeZone::UTC, typed, answers)
}

/// The same by somebody who states the day, as a shop does that has not written for days.
pub fn call_at(now: &str, typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_in(now, TimeZone::UTC, typed, answers)
}

/// The same in another time zone.
pub fn call_in(now: &str, zone: TimeZone, typed: &[&str], answers: Option<&[&str]>) -> Call {
    let time: jiff::Timestamp = now.parse().expect("a timestamp");
    let day = time.to_zoned_datetime(zone.clone()).date().to_string();
    call_with(now, zone, &[typed, &["--today", &day]].concat(), answers)
}

fn call_with(now: &str, zone: TimeZone, typed: &[&str], answers: Option<&[&str]>) -> Call {
    let mut waiting = answers.unwrap_or_default().iter();
    let mut answer = || waiting.next().map(|answer| (*answer).to_owned());
    call_seen((now, zone, &unset()), None, typed, answers.is_some().then_some(&mut answer))
}

/// The same on a terminal with so many lines, at which somebody presses Enter at every question.
pub fn call_on_screen(lines: usize, typed: &[&str]) -> Call {
    let mut enter = || Some(String::new());
    call_seen((NOON, TimeZone::UTC, &unset()), Some(lines), typed, Some(&mut enter))
}

/// Surroundings of a person who has set nothing and has no folder for a book: whoever calls has to name it.
pub(crate) fn unset() -> Surroundings {
    Surroundings::with_settings_in(&Path::new(env!("CARGO_MANIFEST_DIR")).join("no-settings-are-here"))
}

fn call_seen(
    (now, zone, around): (&str, TimeZone, &Surroundings),
    lines: Option<usize>,
    typed: &[&str],
    answer: Option<&mut dyn FnMut() -> Option<String>>,
) -> Call {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let stop = AtomicBool::new(false);
    let mut asked = Vec::new();
    let mut ask = answer.map(|answer| {
        |question: &str| {
            asked.push(question.to_owned());
            answer()
        }
    });
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        ask: ask.as_mut().map(|ask| ask as _),
        now: now.parse().expect("a timestamp"),
        stated_day: None,
        bench: celltriage_book::BENCH.to_owned(),
        zone,
        width: 100,
        height: lines,
        colour: false,
        live: false,
        bars: None,
        told: Vec::new(),
        loudness: celltriage_host::io::Loudness::Usual,
        in_words: false,
        screen: lines.is_some(),
        stop: &stop,
    };
    let typed = std::iter::once("celltriage").chain(typed.iter().copied()).map(OsString::from);
    let code = celltriage_host::run(typed, around, &mut io);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("output is UTF-8");
    let mut call = Call { code, out: text(out), err: text(err) };
    for question in asked {
        call.err.push_str(&format!("asked: {question}\n"));
    }
    call
}
