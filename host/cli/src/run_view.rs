//! Shows a run while it lasts: a bar where a line can be redrawn, lines elsewhere; and passes on the wish to stop.

use crate::beside;
use crate::io::Io;
use crate::plain_text::shown;
use celltriage_book::RETRY_EVERY;
use celltriage_link::{Attendant, RunEvent};
use celltriage_measure::plan::Planned;
use celltriage_protocol::block::Block;
use celltriage_protocol::event::Event;
use celltriage_protocol::plan::{Action, Step};
use celltriage_protocol::units::Micros;
use celltriage_verdict::hours_and_minutes;
use celltriage_workshop::event::WorkEvent;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::fmt::Write as _;

/// A run of at least this many seconds says how far it is even where no bar can be drawn.
const LONG_S: u64 = 1_800;

/// What is shown of the work, run after run.
pub struct RunView<'a, 'io> {
    io: &'a mut Io<'io>,
    planned: Option<Planned>,
    bar: Option<ProgressBar>,
    began: Option<Micros>,
    tenths: u64,
    /// What the cell has given at least, and what is asked for, as shares of the rated capacity.
    at_least: Option<[f64; 2]>,
}

impl<'a, 'io> RunView<'a, 'io> {
    /// Shows on this terminal.
    pub fn on(io: &'a mut Io<'io>) -> Self {
        Self { io, planned: None, bar: None, began: None, tenths: 0, at_least: None }
    }

    fn begins(&mut self, planned: &Planned) {
        (self.began, self.tenths, self.at_least) = (None, 0, None);
        self.bar = self.io.draws().then(|| self.drawn(planned.expected.get() / 1_000_000));
        self.planned = Some(planned.clone());
        if self.io.live && self.io.bars.is_none() && !self.io.is_quiet() {
            self.line("  Ctrl-C ends the test: the load goes off, the cell is recorded as unfinished");
        }
    }

    fn drawn(&self, seconds: u64) -> ProgressBar {
        // Beside others the bar is one of theirs before it draws anything: what it drew by itself would stay.
        let bar = match &self.io.bars {
            Some((all, _)) => all.add(ProgressBar::new(seconds)),
            None => ProgressBar::with_draw_target(Some(seconds), ProgressDrawTarget::stderr_with_hz(5)),
        };
        // What is left and what is measured stay readable on 80 columns.
        let wide = if self.io.width < 100 { 10 } else { 30 };
        let template = format!("  {{prefix}}[{{bar:{wide}}}] {{percent:>3}} %  {{wide_msg}}");
        if let Ok(style) = ProgressStyle::with_template(&template) {
            bar.set_style(style.progress_chars("#> "));
        }
        if let Some((_, name)) = &self.io.bars {
            bar.set_prefix(shown(&format!("{name}  ")));
        }
        bar
    }

    /// Writes a line, above the bar where there is one.
    fn line(&mut self, text: &str) {
        match &self.bar {
            Some(bar) => bar.println(shown(text)),
            None => self.io.note(text),
        }
    }

    fn warn(&mut self, text: &str) {
        self.line(&format!("warning: {text}"));
    }

    fn step_started(&mut self, index: u8) {
        let steps = self.planned.iter().flat_map(|planned| &planned.plan.steps);
        let (count, step) = (steps.clone().count(), steps.clone().nth(usize::from(index)));
        let Some(step) = step else { return };
        let text = format!("step {} of {count}: {}", index + 1, words(step));
        if self.io.is_quiet() {
            return;
        }
        // Beside others the bar alone says where it is.
        if self.bar.is_none() || self.io.bars.is_none() {
            self.line(&format!("  {text}"));
        }
    }

    /// Where no bar can be drawn, a long run reports every tenth of its way in a line.
    fn tenth(&mut self, elapsed: u64, expected: u64, text: &str) {
        if expected < LONG_S {
            return;
        }
        let tenths = (10 * elapsed / expected).min(10);
        if tenths > self.tenths {
            self.tenths = tenths;
            self.io.progress(&format!("  {} % {text}", tenths * 10));
        }
    }

    fn progress(&mut self, block: &Block) {
        let began = *self.began.get_or_insert(block.start);
        let elapsed = block.next_at().get().saturating_sub(began.get()) / 1_000_000;
        let expected = self.planned.as_ref().map_or(0, |planned| planned.expected.get() / 1_000_000);
        let mut text = left(expected.saturating_sub(elapsed));
        if let Some(sample) = block.samples().last() {
            let _infallible = write!(
                text,
                "  {:.3} V  {:.3} A",
                f64::from(sample.voltage.get()) / 1e6,
                f64::from(sample.current.get()) / 1e6
            );
        }
        if let Some([share, asked]) = self.at_least {
            let _infallible = write!(text, "  at least {:.0} of {:.0} %", share * 100.0, asked * 100.0);
        }
        if let Ok(temperature) = block.cell_temperature {
            let _infallible = write!(text, "  {:.1} degC", f64::from(temperature.get()) / 1e3);
        }
        match &self.bar {
            Some(bar) => {
                bar.set_position(elapsed);
                bar.set_message(text);
            }
            None => self.tenth(elapsed, expected, &text),
        }
    }

    fn run(&mut self, event: &RunEvent) {
        match event {
            RunEvent::Fixture(Event::StepStarted { step, .. }) => self.step_started(*step),
            RunEvent::Fixture(Event::Samples(block)) => self.progress(block),
            RunEvent::Fixture(_) => {}
            RunEvent::Remark(text) => self.warn(text),
        }
    }
}

impl Attendant<WorkEvent> for RunView<'_, '_> {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::Emergency(texts) => self.io.emergency_again(texts.iter().map(String::as_str)),
            WorkEvent::FixtureReached { source, identity } => {
                let calibration = match identity.calibration {
                    0 => "none".to_owned(),
                    number => number.to_string(),
                };
                self.io.note(&format!(
                    "{source}: {} board, serial {}, firmware {}, calibration {calibration}",
                    identity.board, identity.serial, identity.firmware
                ));
            }
            WorkEvent::Deviation(text) => self.io.note(&format!("note: {text}")),
            WorkEvent::UsedDespiteStop { fixture, reason } => {
                self.warn(&format!("{fixture} is stopped by its check standard, and used anyway: {reason}"))
            }
            WorkEvent::ClockInDoubt(text) | WorkEvent::Overdue(text) | WorkEvent::CutShort(text) => {
                self.warn(text);
            }
            WorkEvent::RunBegins(planned) => self.begins(planned),
            WorkEvent::Run(event) => self.run(event),
            WorkEvent::NotKept(why) => self.warn(&format!(
                "THE TEST GOES ON BUT IS NOT KEPT: {why}. Its frames wait in memory; the book is tried again every {} s",
                RETRY_EVERY.as_secs()
            )),
            WorkEvent::KeptAgain { lost_frames: 0 } => {
                self.warn("THE TEST IS KEPT AGAIN: the book takes the frames again, none is missing");
            }
            WorkEvent::KeptAgain { lost_frames } => self.warn(&format!(
                "THE TEST IS KEPT AGAIN: the book takes the frames again; {lost_frames} are lost"
            )),
            WorkEvent::FramesLost => {
                self.warn("memory is full of frames that the book has not taken: from now on they are lost");
            }
            WorkEvent::NotInBook { cell, kept } => {
                beside::tell_not_in_book(&format!("what was measured and decided of {cell}"), kept, self.io);
            }
            WorkEvent::LabelReadOnce { rated_ah, expected } => self.io.note(&format!(
                "note: the label of {rated_ah} Ah was read once, so the discharge goes on to its end, some {}; where somebody reads it \
                 again on the cell (--label-again AH, or label_again_ah among the observations), a sound cell needs a fifth less",
                hours_and_minutes(expected.get() as f64 / 3_600e6)
            )),
            WorkEvent::AtLeast { share, asked } => self.at_least = Some([*share, *asked]),
            WorkEvent::Settled => self.line("  the answer is settled: the test ends here, and the load goes off"),
            WorkEvent::RunEnds => {
                if let Some(bar) = self.bar.take() {
                    bar.finish_and_clear();
                }
            }
            WorkEvent::Full { cell, rest_v, note } => {
                self.io.note(&format!("3 of 3  {cell} rests at {rest_v:.3} V: full; discharging"));
                if let Some(note) = note {
                    self.io.note(&format!("note: {note}"));
                }
            }
            WorkEvent::NotDischarged { cell, why } => {
                self.warn(&format!("{cell} is not discharged, and not to be charged again: {why}"));
            }
        }
    }

    fn stop_wanted(&self) -> bool {
        self.io.stop_wanted()
    }
}

/// Says how long it will still take, as finely as a person cares.
fn left(seconds: u64) -> String {
    match seconds {
        0..120 => format!("{seconds} s left"),
        120..7_200 => format!("{} min left", seconds / 60),
        _ => format!("{} h {:02} min left", seconds / 3_600, seconds / 60 % 60),
    }
}

/// Says a step in a few words.
fn words(step: &Step) -> String {
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

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use jiff::tz::TimeZone;
    use std::sync::atomic::AtomicBool;

    #[test]
    fn a_book_that_is_locked_and_taken_again_is_reported_once_each() {
        let (mut out, mut err, stop) = (Vec::new(), Vec::new(), AtomicBool::new(false));
        let mut io = Io {
            out: &mut out,
            err: &mut err,
            ask: None,
            now: Timestamp::UNIX_EPOCH,
            stated_day: None,
            bench: celltriage_book::BENCH.to_owned(),
            zone: TimeZone::UTC,
            width: 100,
            height: None,
            colour: false,
            live: false,
            bars: None,
            screen: false,
            told: Vec::new(),
            loudness: crate::io::Loudness::Usual,
            in_words: false,
            stop: &stop,
        };
        let mut view = RunView::on(&mut io);
        view.sees(&WorkEvent::NotKept("book book.sqlite: another program holds it locked".to_owned()));
        view.sees(&WorkEvent::KeptAgain { lost_frames: 0 });
        let told = String::from_utf8(err).unwrap();
        assert_eq!(
            told.matches(
                "THE TEST GOES ON BUT IS NOT KEPT: book book.sqlite: another program holds it locked."
            )
            .count(),
            1,
            "{told}"
        );
        assert_eq!(told.matches("takes the frames again, none is missing").count(), 1, "{told}");
    }
}
