//! A recording of frames becomes a trace and the story of its run.
//!
//! Live measurements take this way too: `assess` reads back the very frames it has just kept.

use crate::adapter::AdapterUsed;
use crate::guard::GuardUsed;
use celltriage_link::{Recording, read_recording};
use celltriage_measure::estimate::FrontEnd;
use celltriage_measure::trace::{RunRecord, Trace};
use celltriage_protocol::description::Description;
use celltriage_protocol::event::{Outcome, StepEnd};
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::frame::Message;
use celltriage_protocol::reply::{Identity, Reply};
use celltriage_verdict::RunOutcome;

/// What a recording tells.
#[derive(Debug)]
pub struct Recorded {
    /// The trace; `None` if the recording holds no sample.
    pub trace: Option<Trace>,
    /// How the run went.
    pub run: RunOutcome,
    /// The fixture, where its answer to "who are you" was kept.
    pub identity: Option<Identity>,
    /// Its program and limits, where they were kept: since wire version 2.
    pub description: Option<Description>,
    /// The adapter that the fixture was told of, where there was one.
    pub adapter: Option<Adapter>,
    /// What could not be read.
    pub damage: Vec<String>,
}

impl Recorded {
    /// Reads a recording. `lost` says why the link broke off, if it did.
    pub fn read(bytes: &[u8], lost: Option<&str>) -> Self {
        let Recording { events, others, settled, damage } = read_recording(bytes);
        let (mut identity, mut description, mut adapter) = (None, None, None);
        for frame in others {
            match frame.message {
                Message::Reply(Reply::Identity(told)) => identity = identity.or(Some(told)),
                Message::Reply(Reply::Description(told)) => description = description.or(Some(told)),
                Message::Reply(Reply::Adapter(told)) => adapter = adapter.or(Some(told)),
                _ => {}
            }
        }
        let trace = Trace::from_events(events);
        let run = match &trace.run {
            _ if trace.points.is_empty() && !tripped(trace.run.as_ref()) => {
                RunOutcome::NotMeasured { why: lost.unwrap_or("the recording holds no sample").to_owned() }
            }
            Some(record) => outcome(record, settled, lost),
            None => RunOutcome::Unfinished {
                why: lost.unwrap_or("the recording stops before the run ends").to_owned(),
            },
        };
        let trace = (!trace.points.is_empty()).then_some(trace);
        Self { trace, run, identity, description, adapter, damage }
    }

    /// Returns the fixture in words, for the record.
    pub fn fixture(&self) -> Option<String> {
        self.identity.as_ref().map(|identity| {
            format!("{} board, serial {}, firmware {}", identity.board, identity.serial, identity.firmware)
        })
    }

    /// Returns which guard watched over the run, where it was kept.
    pub fn guard(&self) -> Option<GuardUsed> {
        self.description.as_ref().map(GuardUsed::from)
    }

    /// Returns the adapter that was on, where the fixture was told of one.
    pub fn adapter(&self) -> Option<AdapterUsed> {
        self.adapter.as_ref().and_then(AdapterUsed::of)
    }

    /// Returns the calibration's number.
    pub fn calibration(&self) -> Option<u32> {
        self.identity.as_ref().map(|identity| identity.calibration)
    }

    /// Returns the measuring budget of the fixture that made the recording.
    pub fn front_end(&self) -> FrontEnd {
        match self.calibration() {
            Some(0) => FrontEnd::calibrated(None, None, None),
            _ => FrontEnd::fixture(),
        }
    }
}

fn tripped(run: Option<&RunRecord>) -> bool {
    run.is_some_and(|record| record.trip.is_some())
}

fn outcome(record: &RunRecord, settled: bool, lost: Option<&str>) -> RunOutcome {
    if let Some(trip) = &record.trip {
        return RunOutcome::from_trip(trip);
    }
    match record.outcome {
        Some(Outcome::Complete) => RunOutcome::Complete,
        Some(Outcome::Stopped) if settled => RunOutcome::Settled,
        // Where the host stopped it for a reason of its own, that is told.
        Some(Outcome::Stopped) => {
            RunOutcome::Unfinished { why: lost.unwrap_or("stopped by a person").to_owned() }
        }
        Some(Outcome::Tripped) => {
            RunOutcome::Unfinished { why: "the fixture tripped; its word on why was lost".to_owned() }
        }
        Some(Outcome::Bounded) => {
            let cause = record.steps.iter().rev().find_map(|step| step.cause);
            RunOutcome::Unfinished { why: format!("ended early: {}", bound(cause)) }
        }
        None => RunOutcome::Unfinished {
            why: lost.unwrap_or("the recording stops before the run ends").to_owned(),
        },
    }
}

const fn bound(cause: Option<StepEnd>) -> &'static str {
    match cause {
        Some(StepEnd::BoundVoltage) => "the voltage fell to the lowest the plan allows",
        Some(StepEnd::BoundTemperature) => "the cell reached the highest temperature the plan allows",
        Some(StepEnd::BoundRise) => "the cell rose over the air by the most the plan allows",
        Some(StepEnd::BoundCharge) => "more charge came out than such a cell can hold",
        _ => "a bound of the plan was reached",
    }
}
