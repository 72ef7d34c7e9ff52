//! Words shared by the cross-crate checks: a bench one can look into, a watch that collects, a terminal held still.

mod breaking;
mod foreign;
mod losing;
mod real_day;
mod short_plan;
mod stopping;

pub use breaking::{Break, BreakingLink};
pub use foreign::foreign_frame;
pub use losing::{LosingLink, Passing, at_random};
pub use real_day::real_day;
pub use short_plan::{samples, short_plan};
pub use stopping::call_stopped_at;

use celltriage_host::io::Io;
use celltriage_link::{Attendant, Link, LinkError, Recorder, RunEvent};
use celltriage_protocol::event::Event;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fixture::SimulatedFixture;
use std::cell::RefCell;
use std::ffi::OsString;
use std::rc::Rc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// A simulated fixture that the test can look into while the host talks to it.
#[derive(Clone)]
pub struct SharedBench(pub Rc<RefCell<SimulatedFixture>>);

impl SharedBench {
    /// Shares a fixture.
    pub fn new(fixture: SimulatedFixture) -> Self {
        Self(Rc::new(RefCell::new(fixture)))
    }
}

impl Link for SharedBench {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.0.borrow_mut().send(bytes);
        Ok(())
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let span = Micros::new(u64::try_from(wait.as_micros()).unwrap_or(u64::MAX));
        Ok(self.0.borrow_mut().receive(span, into))
    }

    fn describe(&self) -> String {
        "shared bench".to_owned()
    }
}

/// Collects frames and events; stops after a number of events, if told to.
#[derive(Default)]
pub struct Collector {
    /// All frames as they stood on the wire.
    pub frames: Vec<u8>,
    /// All events in order.
    pub events: Vec<Event>,
    /// Wants to stop once this many events were seen.
    pub stop_after: Option<usize>,
    /// Wants to stop once something odd was said of the link.
    pub stop_at_remark: bool,
    /// What was said of the link.
    pub remarks: Vec<String>,
}

impl Attendant<RunEvent> for Collector {
    fn sees(&mut self, event: &RunEvent) {
        match event {
            RunEvent::Fixture(event) => {
                self.events.push(event.clone());
            }
            RunEvent::Remark(text) => {
                self.remarks.push(text.to_owned());
            }
        }
    }

    fn stop_wanted(&self) -> bool {
        self.stop_after.is_some_and(|limit| self.events.len() >= limit)
            || self.stop_at_remark && !self.remarks.is_empty()
    }
}

impl Recorder for Collector {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.frames.extend_from_slice(frame);
        Ok(())
    }
}

/// Returns the text of a file of the project, named from its top folder.
pub fn read_of_project(path: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

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

/// Calls the program in this process, with the clock held at noon of 25 November 2026 UTC, no colour, 100 columns.
/// Answers to questions come from `answers`; none means that nobody is there.
pub fn call(typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_unstated("2026-11-25T12:00:00Z", typed, answers)
}

/// The same at another time; nobody says that the clock is right.
pub fn call_unstated(now: &str, typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_with(now, jiff::tz::TimeZone::UTC, typed, answers)
}

/// The same by somebody who states the day, as a shop does that has not written for days.
pub fn call_at(now: &str, typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_in(now, jiff::tz::TimeZone::UTC, typed, answers)
}

/// The same in another time zone.
pub fn call_in(now: &str, zone: jiff::tz::TimeZone, typed: &[&str], answers: Option<&[&str]>) -> Call {
    let time: jiff::Timestamp = now.parse().expect("a timestamp");
    let day = time.to_zoned_datetime(zone.clone()).date().to_string();
    call_with(now, zone, &[typed, &["--today", &day]].concat(), answers)
}

fn call_with(now: &str, zone: jiff::tz::TimeZone, typed: &[&str], answers: Option<&[&str]>) -> Call {
    let mut waiting = answers.unwrap_or_default().iter();
    let mut answer = || waiting.next().map(|answer| (*answer).to_owned());
    call_seen(now, zone, None, typed, answers.is_some().then_some(&mut answer))
}

/// The same on a terminal with so many lines, at which somebody presses Enter at every question.
pub fn call_on_screen(lines: usize, typed: &[&str]) -> Call {
    let mut enter = || Some(String::new());
    call_seen("2026-11-25T12:00:00Z", jiff::tz::TimeZone::UTC, Some(lines), typed, Some(&mut enter))
}

fn call_seen(
    now: &str,
    zone: jiff::tz::TimeZone,
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
        zone,
        width: 100,
        height: lines,
        colour: false,
        live: false,
        bars: None,
        told: Vec::new(),
        screen: lines.is_some(),
        stop: &stop,
    };
    let typed = std::iter::once("celltriage").chain(typed.iter().copied()).map(OsString::from);
    let code = celltriage_host::run(typed, &mut io);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("output is UTF-8");
    let mut call = Call { code, out: text(out), err: text(err) };
    for question in asked {
        call.err.push_str(&format!("asked: {question}\n"));
    }
    call
}
