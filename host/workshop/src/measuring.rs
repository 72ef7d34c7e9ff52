//! Puts one cell through a plan on a fixture and keeps everything that was said.

use crate::adapter::fit;
use crate::admission::not_mixed_in;
use crate::event::{Attendant, WorkEvent};
use crate::fault::{Fault, Result};
use crate::recorder::{MOST_BYTES, RunRecorder};
use crate::settling::Settling;
use crate::shop::Workshop;
use celltriage_assessment::case::Case;
use celltriage_assessment::recorded::Recorded;
use celltriage_book::{RecordingTerms, Writer};
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_instrument::connected::name_of;
use celltriage_instrument::simulated::BOARD;
use celltriage_instrument::standing::Standing;
use celltriage_link::{Client, Link, LinkError};
use celltriage_measure::plan::Planned;
use celltriage_protocol::frame::{self, MAX_ENCODED};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::reply::{Activity, Identity, Reply, State as FixtureState};
use celltriage_protocol::request::Request;
use celltriage_verdict::trip_key;

/// A measurement as it was kept.
#[derive(Debug)]
pub struct Measured {
    /// What its frames say.
    pub recorded: Recorded,
    /// Who has its frames, and brings them into the book.
    pub writer: Writer,
    /// The link.
    pub source: String,
    /// What the book knows of the calibration that the fixture used; `None` if it was not reached.
    pub calibration_used: Option<CalibrationUsed>,
    /// What was odd about the link.
    pub remarks: Vec<String>,
}

/// What the operator answers for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Overrides {
    /// The cell was looked at: forget the latched trip.
    pub acknowledge_trip: bool,
    /// Measure although the check standard has stopped the fixture, for this reason.
    pub despite_stop: Option<String>,
}

impl Overrides {
    /// The same for another run: a trip that came since then was looked at by nobody.
    #[must_use]
    pub fn for_the_next_run(&self) -> Self {
        Self { acknowledge_trip: false, ..self.clone() }
    }
}

impl Workshop<'_> {
    /// Runs a plan and keeps it in the book as it grows; ends it early for a case whose answer is settled. A link that breaks during the
    /// run is not an error: the run is then unfinished, and says why. Nor is a book that takes nothing: the frames are in memory then.
    ///
    /// # Errors
    /// The run could not begin.
    pub fn measure<'l>(
        &mut self,
        link: impl Link + 'l,
        planned: &Planned,
        overrides: &Overrides,
        cell: &str,
        ends_when_settled: Option<&Case>,
        attendant: &mut Attendant<'_>,
    ) -> Result<Measured> {
        let source = link.describe();
        let (mut client, identity, state) =
            match Client::connect_unless(link, &mut || attendant.stop_wanted()) {
                Err(stopped @ LinkError::Stopped { .. }) => {
                    return Ok(self.not_reached(&stopped.to_string(), source, cell, attendant));
                }
                connected => connected?,
            };
        not_mixed_in(&self.book, cell, identity.board.as_str() == BOARD)?;
        ready(&mut client, &state, overrides)?;
        let calibration_used = Some(self.in_order(&identity, overrides, attendant)?);
        attendant.sees(&WorkEvent::FixtureReached { source: source.clone(), identity: identity.clone() });
        for deviation in &planned.deviations {
            attendant.sees(&WorkEvent::Deviation(deviation.clone()));
        }
        let told = fit(&mut client, planned, attendant)?;
        let writer = self.writer(cell);
        attendant.sees(&WorkEvent::RunBegins(planned.clone()));
        let settling =
            ends_when_settled.map(|case| Settling::of(case, &planned.plan, calibration_used.clone()));
        let mut recorder = RunRecorder::new(writer, attendant).until_settled(settling);
        recorder.take(&reply_frame(Reply::Identity(identity)));
        if let Some(description) = client.description() {
            recorder.take(&reply_frame(Reply::Description(description.clone())));
        }
        if let Some(adapter) = told.adapter {
            recorder.take(&reply_frame(Reply::Adapter(adapter)));
        }
        let plan = CellPlan { label: planned.label, plan: planned.plan.clone() };
        let end = client.run(plan, &mut recorder);
        let (writer, mut remarks) = recorder.finish();
        remarks.splice(0..0, told.notes);
        let lost = match end {
            Ok(_) => None,
            Err(error) => {
                attendant.sees(&WorkEvent::CutShort(error.to_string()));
                Some(error.to_string())
            }
        };
        let recorded = writer.read(|_, frames| Recorded::read(frames, lost.as_deref()));
        Ok(Measured { recorded, writer, source, calibration_used, remarks })
    }

    /// What is kept if a person did not want to wait for the fixture's first answer: a recording without a frame.
    fn not_reached(&self, why: &str, source: String, cell: &str, attendant: &mut Attendant<'_>) -> Measured {
        attendant.sees(&WorkEvent::CutShort(why.to_owned()));
        let (writer, recorded) = (self.writer(cell), Recorded::read(&[], Some(why)));
        Measured { recorded, writer, source, calibration_used: None, remarks: Vec::new() }
    }

    /// Begins the recording of a run, by a connection to the book that nobody waits for.
    fn writer(&self, cell: &str) -> Writer {
        Writer::begin_in_open_book(RecordingTerms {
            book: self.book.path().to_owned(),
            cell: cell.to_owned(),
            began: self.now(),
            most_bytes: MOST_BYTES,
        })
    }

    /// Checks that the check standard has not stopped the fixture, reports what is overdue, and returns what is known of the
    /// calibration in use.
    fn in_order(
        &self,
        identity: &Identity,
        overrides: &Overrides,
        attendant: &mut Attendant<'_>,
    ) -> Result<CalibrationUsed> {
        let fixture = name_of(identity.serial);
        let standing = Standing::read(&self.book, &fixture)?;
        let mut used = standing.used(identity.calibration);
        if let Some(stop) = standing.stop(identity.calibration) {
            let Some(reason) = overrides.despite_stop.clone() else {
                return Err(Fault::FixtureStopped { fixture, stop: stop.to_string() });
            };
            used.despite_stop = Some(format!("{reason} (the stop: {stop})"));
            attendant.sees(&WorkEvent::UsedDespiteStop { fixture: fixture.clone(), reason });
        }
        for overdue in standing.overdue(&fixture, identity.calibration, self.today()) {
            attendant.sees(&WorkEvent::Overdue(overdue));
        }
        Ok(used)
    }
}

/// Checks that the fixture is free; forgets a latched trip only if the operator says that the cell was looked at.
fn ready(client: &mut Client<'_>, state: &FixtureState, overrides: &Overrides) -> Result<()> {
    match (state.activity, state.trip) {
        (Activity::Idle, _) => Ok(()),
        (Activity::Running, _) => Err(Fault::FixtureBusy),
        (Activity::Tripped, Some(trip)) if overrides.acknowledge_trip => {
            client.ask(&Request::AcknowledgeTrip { trip: trip.number })?;
            Ok(())
        }
        (Activity::Tripped, trip) => {
            Err(Fault::TripLatched { cause: trip.map_or("unknown", |trip| trip_key(trip.cause)) })
        }
    }
}

/// What the fixture has said of itself, at the head of the recording.
fn reply_frame(reply: Reply) -> Vec<u8> {
    let mut out = [0u8; MAX_ENCODED + 1];
    frame::encode_reply(0, &reply, &mut out).map_or_else(|_| Vec::new(), <[u8]>::to_vec)
}
