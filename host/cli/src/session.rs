//! Follows one run: keeps every frame, shows progress, passes on the wish to stop.
//!
//! Frames go into the book's recording about once a second while the run lasts, so that a crash of the host loses at
//! most the last second, and into memory for the estimates.

use crate::io::Io;
use crate::plain_text::shown;
use celltriage_book::{Book, Problem, RecordingNumber};
use celltriage_link::{Attendant, Recorder, RunEvent};
use celltriage_measure::plan::Planned;
use celltriage_protocol::block::Block;
use celltriage_protocol::event::Event;
use celltriage_protocol::plan::{Action, Step};
use celltriage_protocol::units::Micros;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::fmt::Write as _;
use std::time::{Duration, Instant};

/// How often the recording is brought to the disk.
const FLUSH_EVERY: Duration = Duration::from_secs(1);
/// A recording that grows faster than this is brought to the disk earlier.
const FLUSH_BYTES: usize = 256 * 1024;

/// A run of at least this many seconds tells how far it is even where no bar can be drawn.
const LONG_S: u64 = 1_800;

/// What follows a run.
pub struct Session<'a, 'io> {
    io: &'a mut Io<'io>,
    planned: &'a Planned,
    book: Option<(&'a mut Book, RecordingNumber)>,
    bar: Option<ProgressBar>,
    frames: Vec<u8>,
    flushed: usize,
    flushed_at: Instant,
    /// Another program holds the book locked: frames wait in memory.
    locked: bool,
    began: Option<Micros>,
    told: u64,
    remarks: Vec<String>,
}

impl<'a, 'io> Session<'a, 'io> {
    /// Makes a session; frames also go to the book where one is given.
    pub fn new(
        io: &'a mut Io<'io>,
        planned: &'a Planned,
        book: Option<(&'a mut Book, RecordingNumber)>,
    ) -> Self {
        let bar = io.live.then(|| {
            let length = planned.expected.get() / 1_000_000;
            // Beside others the bar is one of theirs before it draws anything: what it drew by itself would stay.
            let bar = match &io.bars {
                Some((all, _)) => all.add(ProgressBar::new(length)),
                None => ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr_with_hz(5)),
            };
            if let Ok(style) = ProgressStyle::with_template("  {prefix}[{bar:30}] {percent:>3} %  {wide_msg}")
            {
                bar.set_style(style.progress_chars("#> "));
            }
            if let Some((_, name)) = &io.bars {
                bar.set_prefix(shown(&format!("{name}  ")));
            }
            bar
        });
        Self {
            io,
            planned,
            book,
            bar,
            frames: Vec::new(),
            flushed: 0,
            flushed_at: Instant::now(),
            locked: false,
            began: None,
            told: 0,
            remarks: Vec::new(),
        }
    }

    /// Gives up what was odd about the link.
    pub fn take_remarks(&mut self) -> Vec<String> {
        std::mem::take(&mut self.remarks)
    }

    /// Ends the session: brings the rest to the disk and returns all frames.
    ///
    /// # Errors
    /// A sentence where the book did not take the rest.
    pub fn finish(mut self) -> Result<Vec<u8>, String> {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
        self.flush()?;
        Ok(self.frames)
    }

    fn flush(&mut self) -> Result<(), String> {
        if let Some((book, number)) = &mut self.book
            && let Some(rest) = self.frames.get(self.flushed..)
            && !rest.is_empty()
        {
            book.append_recording(*number, rest).map_err(|error| error.to_string())?;
        }
        self.flushed = self.frames.len();
        self.flushed_at = Instant::now();
        Ok(())
    }

    /// Brings the frames to the disk while the fixture runs. Who waits for another program's lock says no word to the
    /// fixture, which then takes the host for gone: what is not kept now is tried again a second later.
    fn flush_soon(&mut self) -> Result<(), String> {
        self.flushed_at = Instant::now();
        let Some((book, number)) = &mut self.book else { return Ok(()) };
        let Some(rest) = self.frames.get(self.flushed..).filter(|rest| !rest.is_empty()) else {
            return Ok(());
        };
        let was_locked = self.locked;
        match book.append_recording_soon(*number, rest) {
            Ok(()) => {
                self.flushed = self.frames.len();
                self.locked = false;
                if was_locked {
                    self.told_of_book("the book takes the frames again; none is missing");
                }
                Ok(())
            }
            Err(error) if matches!(error.problem, Problem::Locked) => {
                self.locked = true;
                if !was_locked {
                    let text = format!(
                        "book {}: another program holds it locked; the test goes on, its frames wait in memory",
                        error.path.display()
                    );
                    self.told_of_book(&text);
                }
                Ok(())
            }
            Err(error) => Err(error.to_string()),
        }
    }

    fn told_of_book(&mut self, text: &str) {
        match &self.bar {
            Some(bar) => bar.println(shown(&format!("warning: {text}"))),
            None => self.io.note(&format!("warning: {text}")),
        }
    }

    fn step_started(&mut self, index: u8) {
        let Some(step) = self.planned.plan.steps.get(usize::from(index)) else { return };
        let text = format!("step {} of {}: {}", index + 1, self.planned.plan.steps.len(), words(step));
        match (&self.bar, &self.io.bars) {
            // Beside others the bar alone tells where it is.
            (Some(_), Some(_)) => {}
            (Some(bar), None) => bar.println(shown(&format!("  {text}"))),
            (None, _) => self.io.note(&format!("  {text}")),
        }
    }

    /// Where no bar can be drawn, a long run tells every tenth of its way in a line.
    fn tenth(&mut self, elapsed: u64, text: &str) {
        let expected = self.planned.expected.get() / 1_000_000;
        if expected < LONG_S {
            return;
        }
        let tenths = (10 * elapsed / expected).min(10);
        if tenths > self.told {
            self.told = tenths;
            self.io.note(&format!("  {} % {text}", tenths * 10));
        }
    }

    fn progress(&mut self, block: &Block) {
        let began = *self.began.get_or_insert(block.start);
        let elapsed = block.next_at().get().saturating_sub(began.get()) / 1_000_000;
        let mut text = left((self.planned.expected.get() / 1_000_000).saturating_sub(elapsed));
        if let Some(sample) = block.samples().last() {
            let _infallible = write!(
                text,
                "  {:.3} V  {:.3} A",
                f64::from(sample.voltage.get()) / 1e6,
                f64::from(sample.current.get()) / 1e6
            );
        }
        if let Ok(temperature) = block.cell_temperature {
            let _infallible = write!(text, "  {:.1} degC", f64::from(temperature.get()) / 1e3);
        }
        match &self.bar {
            Some(bar) => {
                bar.set_position(elapsed);
                bar.set_message(text);
            }
            None => self.tenth(elapsed, &text),
        }
    }
}

impl Attendant<RunEvent> for Session<'_, '_> {
    fn sees(&mut self, event: &RunEvent) {
        match event {
            RunEvent::Fixture(Event::StepStarted { step, .. }) => self.step_started(*step),
            RunEvent::Fixture(Event::Samples(block)) => self.progress(block),
            RunEvent::Fixture(_) => {}
            RunEvent::Remark(text) => {
                match &self.bar {
                    Some(bar) => bar.println(shown(&format!("warning: {text}"))),
                    None => self.io.note(&format!("warning: {text}")),
                }
                self.remarks.push(format!("link: {text}"));
            }
        }
    }

    fn stop_wanted(&self) -> bool {
        self.io.stop_wanted()
    }
}

impl Recorder for Session<'_, '_> {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.frames.extend_from_slice(frame);
        let waiting = self.frames.len() - self.flushed;
        if self.flushed_at.elapsed() >= FLUSH_EVERY || waiting >= FLUSH_BYTES && !self.locked {
            self.flush_soon()?;
        }
        Ok(())
    }
}

/// Says how long it will take still, as finely as a person cares.
fn left(seconds: u64) -> String {
    match seconds {
        0..120 => format!("{seconds} s left"),
        120..7_200 => format!("{} min left", seconds / 60),
        _ => format!("{} h {:02} min left", seconds / 3_600, seconds / 60 % 60),
    }
}

/// Says a step in a few words.
pub fn words(step: &Step) -> String {
    let amps = f64::from(step.action.current().get()) / 1e6;
    let seconds = step.duration.get() / 1_000_000;
    match step.action {
        Action::Rest => format!("rest for {seconds} s"),
        Action::Hold { .. } => format!("{amps:.2} A for {seconds} s"),
        Action::Discharge { floor, .. } => format!(
            "discharge with {amps:.2} A to {:.2} V, at most {:.1} h",
            f64::from(floor.get()) / 1e6,
            seconds as f64 / 3_600.0
        ),
    }
}
