//! A measurement over time: points in order, what was odd about them, and how the fixture's run went.
//!
//! Recorded files (`bdf`) and the fixture's events (`Trace::from_events`) both end here, so that every estimate takes
//! the same path whatever the origin. Points are sorted by time; two may share a time where the current steps.
//! Whatever was left out on the way has a [`TraceNote`] that says where and why: nothing is lost silently.

mod events;
mod frozen;
mod moments;
mod order;
mod points;
mod resolution;
mod summary;

use crate::si::{AmpHours, Amps, Celsius, Kelvins, Seconds, Volts};
use celltriage_protocol::event::{Outcome, StepEnd, Trip};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::Range;

pub use moments::Moments;
pub use order::put_in_order;
pub use points::{BLOCK_ROWS, Points};
pub use resolution::{Resolution, left_by_rounding};
pub use summary::{Currents, Gather, Steps, Summary, Temperatures, ValueRange, Voltages};

/// One row of a measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Since the start of the trace.
    pub time: Seconds,
    /// Positive discharging.
    pub current: Amps,
    /// At the cell's terminals.
    pub voltage: Volts,
    /// Cell's surface.
    pub cell: Option<Celsius>,
    /// Air around.
    pub ambient: Option<Celsius>,
}

impl Point {
    /// Returns how far the cell is above the air, where both are known.
    pub fn rise(&self) -> Option<Kelvins> {
        Some(self.cell? - self.ambient?)
    }

    /// Returns the charge that flows from this row to another, as if the current went straight from one to the other.
    pub fn charge_until(&self, next: &Self) -> AmpHours {
        (self.current + next.current) / 2.0 * (next.time - self.time)
    }
}

/// Where a trace came from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind", content = "name")]
pub enum Source {
    /// A file of the open Battery Data Format.
    File(String),
    /// The events of our fixture, live, simulated or recorded.
    Fixture,
}

/// The place that a note speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// Line of the file, counted from 1.
    Line(u64),
    /// Time in the trace.
    Time(Seconds),
    /// Sequence number of the event.
    Event(u32),
    /// All of it.
    Whole,
}

impl fmt::Display for Place {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Line(line) => write!(out, "line {line}"),
            Place::Time(time) => write!(out, "at {:.3} s", time.0),
            Place::Event(number) => write!(out, "event {number}"),
            Place::Whole => write!(out, "whole trace"),
        }
    }
}

/// Kinds of oddities.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoteKind {
    /// Time runs backwards; rows are left out.
    TimeBackwards,
    /// Time stands still without a current step.
    TimeRepeats,
    /// No rows for much longer than around it.
    Gap,
    /// A value is missing or no number; the row is left out, or only that value.
    MissingValue,
    /// Events of the fixture were lost on the way.
    Lost,
    /// Something in the input was not used.
    NotUsed,
    /// A converter stands still; its rows are left out.
    Frozen,
    /// Some steps contradict the sign of the current.
    Sign,
}

/// Something odd, where it is, and what was done about it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TraceNote {
    /// Where.
    pub place: Place,
    /// What kind.
    pub kind: NoteKind,
    /// What happened and what was done, for people.
    pub text: String,
}

impl TraceNote {
    /// Makes a note.
    pub fn new(place: Place, kind: NoteKind, text: impl Into<String>) -> Self {
        Self { place, kind, text: text.into() }
    }

    /// Returns whether every number taken from the trace must carry this note.
    pub fn concerns_every_estimate(&self) -> bool {
        matches!(self.kind, NoteKind::TimeBackwards | NoteKind::Lost | NoteKind::Sign)
    }
}

impl fmt::Display for TraceNote {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: {}", self.place, self.text)
    }
}

/// One step of the fixture's plan as it was run.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StepRecord {
    /// Index in the plan.
    pub index: u8,
    /// When its set point was applied.
    pub started: Option<Seconds>,
    /// When it ended.
    pub ended: Option<Seconds>,
    /// Why it ended.
    pub cause: Option<StepEnd>,
    /// Charge that the fixture had counted since the plan's start when the step ended.
    pub charge: Option<AmpHours>,
}

/// How the fixture's run went.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunRecord {
    /// Number of the plan.
    pub plan: Option<u32>,
    /// How the plan ended; `None` if the recording stops before the run ends.
    pub outcome: Option<Outcome>,
    /// The trip, if there was one.
    pub trip: Option<Trip>,
    /// Steps in the order in which they were run.
    pub steps: Vec<StepRecord>,
    /// Charge that the fixture counted since the plan's start, newest report.
    pub counted_charge: Option<AmpHours>,
    /// How many events were lost on the way.
    pub lost_events: u32,
}

/// A measurement over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Points, sorted by time.
    pub points: Points,
    /// What was odd.
    pub notes: Vec<TraceNote>,
    /// Origin.
    pub source: Source,
    /// The fixture's run; `None` for a trace from elsewhere.
    pub run: Option<RunRecord>,
    /// Smallest step of the clock where it is too coarse to tell neighbouring rows apart; else zero.
    pub clock_step: Seconds,
}

impl Trace {
    /// Makes a trace from points of any order of trust: sorts out faulty times and notes what it did.
    ///
    /// `place` says where a point with a given index came from. Also returns how many places had a faulty time.
    pub fn from_points(
        points: Vec<Point>,
        place: impl Fn(usize) -> Place,
        source: Source,
        mut notes: Vec<TraceNote>,
    ) -> (Self, usize) {
        let is_number =
            |point: &Point| point.time.is_finite() && point.current.is_finite() && point.voltage.is_finite();
        let kept: Vec<usize> =
            points.iter().enumerate().filter(|(_, point)| is_number(point)).map(|(index, _)| index).collect();
        if let Some(first) = (0..points.len()).find(|index| kept.get(*index) != Some(index)) {
            let text = format!(
                "{} rows hold no number for time, current or voltage; they are left out",
                points.len() - kept.len()
            );
            notes.push(TraceNote::new(place(first), NoteKind::MissingValue, text));
        }
        let points = points.into_iter().filter(is_number).collect();
        let place = |index: usize| place(kept.get(index).copied().unwrap_or(index));
        let ordered = put_in_order(points, place, &mut notes);
        let points = Points::new(ordered.points);
        let trace = Self { points, notes, source, run: None, clock_step: ordered.clock_step };
        (trace, ordered.faults)
    }

    /// Returns the time between first and last point.
    pub fn duration(&self) -> Seconds {
        match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) => last.time - first.time,
            _ => Seconds(0.0),
        }
    }

    /// Returns the points of a range of indices; none where the range is not inside.
    pub fn slice(&self, range: Range<usize>) -> &[Point] {
        self.points.get(range).unwrap_or(&[])
    }
}
