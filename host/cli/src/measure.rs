//! Puts one cell through a plan on a fixture and keeps everything that was said.

use crate::arguments::LeaveArguments;
use crate::error::{Error, Kind};
use crate::io::Io;
use crate::session::Session;
use crate::simulated::mixed;
use celltriage_assessment::recorded::Recorded;
use celltriage_book::{Book, RecordingNumber};
use celltriage_custody::state::State;
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_instrument::connected::name_of;
use celltriage_instrument::simulated::BOARD;
use celltriage_instrument::standing::Standing;
use celltriage_link::{Client, Link, LinkError, Recorder};
use celltriage_measure::observation::Sign;
use celltriage_measure::plan::Planned;
use celltriage_protocol::frame::{self, MAX_ENCODED};
use celltriage_protocol::reply::{Activity, Identity, Reply, State as FixtureState};
use celltriage_protocol::request::Request;
use celltriage_verdict::{RunOutcome, trip_key};

/// A measurement as it was kept.
#[derive(Debug)]
pub struct Measured {
    /// All frames.
    pub frames: Vec<u8>,
    /// What they tell.
    pub recorded: Recorded,
    /// The recording in the book.
    pub recording: RecordingNumber,
    /// The link.
    pub source: String,
    /// What the book knows of the calibration that the fixture used; `None` if it was not reached.
    pub calibration_used: Option<CalibrationUsed>,
    /// What was odd about the link.
    pub remarks: Vec<String>,
}

/// What a person takes upon themself.
#[derive(Clone, Debug, Default)]
pub struct Leave {
    /// The cell was looked at: forget the latched trip.
    pub acknowledge_trip: bool,
    /// Measure although the check standard has stopped the fixture, for this reason.
    pub despite_stop: Option<String>,
    /// Where a person says so.
    pub said_in: SaidIn,
}

/// Where a person says what they take upon themself.
#[derive(Clone, Copy, Debug, Default)]
pub enum SaidIn {
    /// In options of the command.
    #[default]
    Options,
    /// In the file of a batch; a trip is forgotten at its fixture, before.
    BatchFile,
}

impl Leave {
    /// Takes what was said in options.
    pub fn by_options(arguments: &LeaveArguments) -> Self {
        Self {
            acknowledge_trip: arguments.acknowledge_trip,
            despite_stop: arguments.despite_stop.clone(),
            said_in: SaidIn::Options,
        }
    }

    /// The same for another run: a trip that came since then was looked at by nobody.
    #[must_use]
    pub fn for_the_next_run(&self) -> Self {
        Self { acknowledge_trip: false, ..self.clone() }
    }
}

impl SaidIn {
    /// Says how to forget a trip.
    const fn forget(self) -> &'static str {
        match self {
            Self::Options => "look at the cell and the leads; then call again with --acknowledge-trip",
            Self::BatchFile => {
                "look at the cell and the leads; then `celltriage fixture acknowledge --port PORT`, and begin anew"
            }
        }
    }

    /// Says how to tell what was looked for.
    pub fn look(self, open: &[Sign]) -> String {
        let names: Vec<&str> = open.iter().copied().map(Sign::key).collect();
        match self {
            Self::Options => format!(
                "look, then answer with --sign NAME=no or --sign NAME=yes (the names: {}); --no-signs answers no to all \
                 signs",
                names.join(", ")
            ),
            Self::BatchFile => {
                "look, then write below its [[cell]] no_signs = true, or observations = \"FILE\" with what was seen"
                    .to_owned()
            }
        }
    }

    /// Says how to use a stopped fixture.
    const fn despite(self) -> &'static str {
        match self {
            Self::Options => {
                "to assess all the same, give a reason with --despite-stop; it is recorded with the decision"
            }
            Self::BatchFile => {
                "to assess all the same, write despite_stop = \"REASON\" below its [[cell]]; it is recorded with the \
                 decision"
            }
        }
    }
}

/// Runs a plan and keeps it in the book as it grows.
///
/// A link that breaks during the run is no error: the run is then unfinished, and says why.
///
/// # Errors
/// A measurement error where the run could not begin; a book error where it could not be kept.
pub fn measure<'l>(
    link: impl Link + 'l,
    planned: &Planned,
    leave: &Leave,
    cell_id: &str,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Measured, Error> {
    let source = link.describe();
    let (mut client, identity, state) = match Client::connect_unless(link, &mut || io.stop_wanted()) {
        Err(stopped @ LinkError::Stopped { .. }) => {
            return not_reached(&stopped.to_string(), source, cell_id, book, io);
        }
        connected => connected?,
    };
    not_mixed(book, cell_id, identity.board.as_str() == BOARD)?;
    ready(&mut client, &state, leave)?;
    let calibration_used = in_order(&identity, leave, book, io)?;
    io.note(&format!(
        "{source}: {} board, serial {}, firmware {}, calibration {}",
        identity.board,
        identity.serial,
        identity.firmware,
        if identity.calibration == 0 { "none".to_owned() } else { identity.calibration.to_string() }
    ));
    for deviation in &planned.deviations {
        io.note(&format!("note: {deviation}"));
    }
    let recording = book.begin_recording(cell_id, io.now)?;
    let mut session = Session::new(io, planned, Some((book, recording)));
    session.keep(&identity_frame(&identity)).map_err(Error::book)?;
    let end = client.run(&planned.plan, &mut session);
    let remarks = session.take_remarks();
    let frames = session.finish().map_err(Error::book)?;
    let lost = match end {
        Ok(_) => None,
        Err(LinkError::NotKept(why)) => return Err(Error::book(why)),
        Err(error) => {
            let text = error.to_string();
            io.note(&format!("warning: {text}"));
            Some(text)
        }
    };
    let recorded = Recorded::read(&frames, lost.as_deref());
    let calibration_used = Some(calibration_used);
    Ok(Measured { frames, recorded, recording, source, calibration_used, remarks })
}

/// What is kept where a person did not want to wait for the fixture's first answer: a recording without a frame.
fn not_reached(
    why: &str,
    source: String,
    cell_id: &str,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Measured, Error> {
    io.note(&format!("warning: {why}"));
    let recording = book.begin_recording(cell_id, io.now)?;
    let recorded = Recorded::read(&[], Some(why));
    let (frames, remarks) = (Vec::new(), Vec::new());
    Ok(Measured { frames, recorded, recording, source, calibration_used: None, remarks })
}

/// Sees that nothing simulated is written beside what is real, and the reverse.
///
/// # Errors
/// An input error that says what the book has of the cell, and a book error.
pub fn not_mixed(book: &Book, cell_id: &str, simulated_run: bool) -> Result<(), Error> {
    match State::read(book)?.cells.get(cell_id) {
        Some(cell) if simulated_run && cell.is_real() || !simulated_run && cell.is_simulated() => {
            Err(mixed(cell_id, simulated_run))
        }
        _ => Ok(()),
    }
}

/// Sees that the check standard has not stopped the fixture, tells what is overdue, and returns what is known of the
/// calibration in use.
fn in_order(
    identity: &Identity,
    leave: &Leave,
    book: &Book,
    io: &mut Io<'_>,
) -> Result<CalibrationUsed, Error> {
    let name = name_of(identity.serial);
    let standing = Standing::read(book, &name)?;
    let mut used = standing.used(identity.calibration);
    if let Some(stop) = standing.stop(identity.calibration) {
        let Some(reason) = &leave.despite_stop else {
            let message = format!("{name} is stopped by its check standard: {stop}");
            return Err(Error { kind: Kind::Measurement, message, hints: Vec::new() }
                .hint("find out why, calibrate, and measure the check standard again; or use another fixture")
                .hint(leave.said_in.despite()));
        };
        io.note(&format!(
            "warning: {name} is stopped by its check standard, and used all the same: {reason}"
        ));
        used.despite_stop = Some(format!("{reason} (the stop: {stop})"));
    }
    let today = io.today();
    for overdue in standing.overdue(&name, identity.calibration, today) {
        io.note(&format!("warning: {overdue}"));
    }
    Ok(used)
}

/// Sees that the fixture is free; forgets a latched trip only where the person says that the cell was looked at.
fn ready(client: &mut Client<'_>, state: &FixtureState, leave: &Leave) -> Result<(), Error> {
    let busy = |message: String| Error { kind: Kind::Measurement, message, hints: Vec::new() };
    match (state.activity, state.trip) {
        (Activity::Idle, _) => Ok(()),
        (Activity::Running, _) => Err(busy("the fixture is running a plan for another program".to_owned())
            .hint("wait for it to end, or unplug the fixture: it drops the load by itself")),
        (Activity::Tripped, Some(trip)) if leave.acknowledge_trip => {
            client.ask(&Request::AcknowledgeTrip { trip: trip.number })?;
            Ok(())
        }
        (Activity::Tripped, trip) => {
            let cause = trip.map_or("unknown", |trip| trip_key(trip.cause));
            Err(busy(format!("the fixture has latched a trip ({cause}) and holds the load off"))
                .hint(leave.said_in.forget()))
        }
    }
}

/// The fixture's answer to "who are you", to stand at the head of the recording.
fn identity_frame(identity: &Identity) -> Vec<u8> {
    let mut out = [0u8; MAX_ENCODED + 1];
    frame::encode_reply(0, &Reply::Identity(identity.clone()), &mut out)
        .map_or_else(|_| Vec::new(), <[u8]>::to_vec)
}

/// Returns whether the test came to its end.
pub fn finished(run: &RunOutcome) -> bool {
    run.is_finished()
}
