//! Makes a trace from the fixture's numbered events.
//!
//! Events may come in any order and more than once, as a resend brings them; they are sorted by their number first,
//! so that what is missing shows as a hole in the numbers. Time counts from the start of the plan.

use super::{NoteKind, Place, Point, RunRecord, Source, StepRecord, Trace, TraceNote};
use crate::si::{Amps, Celsius, Seconds, Volts};
use celltriage_protocol::block::Block;
use celltriage_protocol::event::{Event, Sensor};
use celltriage_protocol::limits;
use celltriage_protocol::units::{Micros, NoData};
use std::collections::BTreeMap;

impl Trace {
    /// Builds a trace from events with their sequence numbers.
    pub fn from_events(events: impl IntoIterator<Item = (u32, Event)>) -> Self {
        let mut gathered = Gathered::default();
        let mut sorted: BTreeMap<u32, Event> = BTreeMap::new();
        for (number, event) in events {
            match sorted.get(&number) {
                Some(known) if *known != event => gathered.note(
                    Place::Event(number),
                    NoteKind::NotUsed,
                    "two events carry this number; the first one is used",
                ),
                Some(_) => {}
                None => {
                    sorted.insert(number, event);
                }
            }
        }
        gathered.start = start_of(sorted.values());
        let mut expected: Option<u32> = None;
        for (number, event) in &sorted {
            if let Some(expected) = expected.filter(|expected| expected < number) {
                gathered.lost(expected, number - expected);
            }
            expected = number.checked_add(1);
            gathered.take(*number, event);
        }
        let Gathered { points, notes, run, .. } = gathered;
        let times: Vec<Seconds> = points.iter().map(|point| point.time).collect();
        let place = |index: usize| times.get(index).map_or(Place::Whole, |time| Place::Time(*time));
        let (mut trace, _) = Self::from_points(points, place, Source::Fixture, notes);
        trace.run = Some(run);
        trace
    }
}

/// Returns when the plan started, or failing that when the first event happened.
fn start_of<'a>(events: impl Iterator<Item = &'a Event>) -> Micros {
    let mut first = None;
    for event in events {
        let at = match event {
            Event::PlanStarted { at, .. } => return *at,
            Event::Samples(block) => block.start,
            Event::StepStarted { at, .. }
            | Event::StepEnded { at, .. }
            | Event::PlanEnded { at, .. }
            | Event::Missing { at, .. } => *at,
            Event::Tripped(trip) => trip.at,
            // Not of the run's own course.
            Event::Taps(_) => continue,
        };
        first = first.or(Some(at));
    }
    first.unwrap_or(Micros::ZERO)
}

#[derive(Default)]
struct Gathered {
    start: Micros,
    points: Vec<Point>,
    notes: Vec<TraceNote>,
    run: RunRecord,
}

impl Gathered {
    fn take(&mut self, number: u32, event: &Event) {
        match event {
            Event::Samples(block) => self.samples(number, block),
            Event::PlanStarted { plan, at } => {
                if self.run.plan.is_some() {
                    let text = format!(
                        "another plan ({plan}) starts here, {:.3} s after the first",
                        self.time(*at).0
                    );
                    self.note(Place::Event(number), NoteKind::NotUsed, &text);
                }
                self.run.plan = self.run.plan.or(Some(*plan));
            }
            Event::StepStarted { step, at } => {
                let started = Some(self.time(*at));
                self.run.steps.push(StepRecord { index: *step, started, ..StepRecord::default() });
            }
            Event::StepEnded { step, at, cause, charge } => {
                let (ended, charge) = (Some(self.time(*at)), charge.ok().map(Into::into));
                self.run.counted_charge = charge.or(self.run.counted_charge);
                let end = StepRecord { index: *step, started: None, ended, cause: Some(*cause), charge };
                match self.run.steps.last_mut() {
                    Some(last) if last.index == *step && last.ended.is_none() => {
                        *last = StepRecord { started: last.started, ..end };
                    }
                    _ => self.run.steps.push(end),
                }
            }
            Event::PlanEnded { outcome, .. } => self.run.outcome = Some(*outcome),
            Event::Tripped(trip) => self.run.trip = self.run.trip.or(Some(*trip)),
            Event::Missing { sensor, at, cause } => self.missing(*sensor, *at, *cause),
            Event::Taps(_) => {
                let text = "voltages of the cells of a pack are not used yet";
                self.note(Place::Event(number), NoteKind::NotUsed, text);
            }
        }
    }

    fn samples(&mut self, number: u32, block: &Block) {
        if !block.is_consistent() {
            let text = format!(
                "the block announces {} samples and holds others; what can be read is used",
                block.count
            );
            self.note(Place::Event(number), NoteKind::MissingValue, &text);
        }
        let cell = block.cell_temperature.ok().map(Celsius::from);
        let ambient = block.ambient_temperature.ok().map(Celsius::from);
        self.run.counted_charge = block.charge.ok().map(Into::into).or(self.run.counted_charge);
        for sample in block.samples() {
            let (current, voltage) = (Amps::from(sample.current), Volts::from(sample.voltage));
            self.points.push(Point { time: self.time(sample.at), current, voltage, cell, ambient });
        }
    }

    fn missing(&mut self, sensor: Sensor, at: Micros, cause: NoData) {
        let time = self.time(at);
        let began = self.run.steps.last().and_then(|step| step.started);
        // A new step may change the monitor's averaging, and its first conversion then ends after the first sample is
        // due. That is how the fixture works and no oddity of this trace.
        let settling = Seconds::from(limits::SETTLE);
        if cause == NoData::NotYet && began.is_some_and(|began| (time - began).0 <= settling.0) {
            return;
        }
        let text = format!("no reading of the {}: {}", sensor_words(sensor), cause_words(cause));
        self.note(Place::Time(time), NoteKind::MissingValue, &text);
    }

    fn lost(&mut self, first: u32, count: u32) {
        self.run.lost_events = self.run.lost_events.saturating_add(count);
        let text = format!("{count} events from this number on were lost between fixture and host");
        self.note(Place::Event(first), NoteKind::Lost, &text);
    }

    fn note(&mut self, place: Place, kind: NoteKind, text: &str) {
        self.notes.push(TraceNote::new(place, kind, text));
    }

    /// Returns the time since the start; what was before it is negative.
    fn time(&self, at: Micros) -> Seconds {
        Seconds::from(at) - Seconds::from(self.start)
    }
}

const fn sensor_words(sensor: Sensor) -> &'static str {
    match sensor {
        Sensor::Voltage => "voltage",
        Sensor::Current => "current",
        Sensor::CellTemperature => "cell's temperature",
        Sensor::AmbientTemperature => "air's temperature",
        Sensor::Charge => "counted charge",
    }
}

const fn cause_words(cause: NoData) -> &'static str {
    match cause {
        NoData::NotYet => "no new result yet",
        NoData::NoAnswer => "the chip did not answer",
        NoData::Implausible => "the chip answered with something it cannot mean",
        NoData::OutOfRange => "at the end of the chip's range",
        NoData::Stale => "the last result is too old",
        NoData::BusLocked => "a line of the bus is held low",
        NoData::BusRecovered => "the bus had to be freed, and failed again",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_protocol::block::BlockWriter;
    use celltriage_protocol::event::{Outcome, Sensor, StepEnd, Trip, TripCause};
    use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, MilliCelsius, NoData};

    fn block(start_ms: u64, count: u64) -> Event {
        let mut writer = BlockWriter::new(0, Micros::from_millis(start_ms), 1_000);
        for index in 0..count {
            writer.push(MicroVolts::new(3_800_000 - index as i32), MicroAmps::new(500_000)).unwrap();
        }
        let charge = Ok(MicroCoulombs::new(3_600_000));
        Event::Samples(writer.finish(Ok(MilliCelsius::new(25_500)), Err(NoData::Stale), charge))
    }

    fn run() -> Vec<(u32, Event)> {
        let at = Micros::from_millis;
        let charge = Ok(MicroCoulombs::new(7_200_000));
        vec![
            (10, Event::PlanStarted { plan: 7, at: at(1_000) }),
            (11, Event::StepStarted { step: 0, at: at(1_000) }),
            (12, block(1_001, 50)),
            (13, block(1_051, 50)),
            (14, Event::Missing { sensor: Sensor::Voltage, at: at(1_101), cause: NoData::NoAnswer }),
            (15, block(1_102, 10)),
            (16, Event::StepEnded { step: 0, at: at(1_112), cause: StepEnd::Time, charge }),
            (17, Event::PlanEnded { plan: 7, at: at(1_112), outcome: Outcome::Complete }),
        ]
    }

    #[test]
    fn a_run_becomes_points_in_si_units_counted_from_the_plans_start() {
        let trace = Trace::from_events(run());
        assert_eq!(trace.points.len(), 110);
        let first = trace.points[0];
        approx::assert_relative_eq!(first.time.0, 0.001, epsilon = 1e-9);
        approx::assert_relative_eq!(first.current.0, 0.5);
        assert_eq!(first.cell, Some(Celsius(25.5)));
        assert_eq!(first.ambient, None);
        let run = trace.run.unwrap();
        assert_eq!((run.plan, run.outcome, run.lost_events), (Some(7), Some(Outcome::Complete), 0));
        assert_eq!(run.steps.len(), 1);
        approx::assert_relative_eq!(run.steps[0].ended.unwrap().0, 0.112, epsilon = 1e-9);
        approx::assert_relative_eq!(run.counted_charge.unwrap().0, 0.002);
        assert!(trace.notes.iter().any(|note| note.kind == NoteKind::MissingValue));
    }

    #[test]
    fn order_and_repetition_of_the_events_do_not_matter() {
        let mut shuffled = run();
        shuffled.reverse();
        shuffled.extend(run().drain(2..4));
        assert_eq!(Trace::from_events(shuffled), Trace::from_events(run()));
    }

    #[test]
    fn lost_events_are_counted_and_their_gap_is_noted() {
        let mut events = run();
        events.remove(3);
        let trace = Trace::from_events(events);
        assert_eq!(trace.run.as_ref().unwrap().lost_events, 1);
        assert!(trace.notes.iter().any(|note| note.kind == NoteKind::Lost && note.place == Place::Event(13)));
        assert!(trace.notes.iter().any(|note| note.kind == NoteKind::Gap), "{:?}", trace.notes);
    }

    #[test]
    fn a_trip_and_an_end_never_heard_of_are_kept_as_such() {
        let trip = Trip {
            number: 1,
            cause: TripCause::OverTemperature,
            value: 46_000,
            limit: 45_000,
            at: Micros::ZERO,
        };
        let trace = Trace::from_events([(0, Event::Tripped(trip))]);
        let run = trace.run.unwrap();
        assert_eq!((run.trip, run.outcome), (Some(trip), None));
    }

    #[test]
    fn no_events_are_an_empty_trace() {
        let trace = Trace::from_events([]);
        assert!(trace.points.is_empty() && trace.notes.is_empty());
    }
}
