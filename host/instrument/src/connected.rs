//! A fixture that answers: who it is, what it does, the calibration it uses.

use crate::error::{InstrumentError, Result};
use crate::program::Program;
use celltriage_link::{Client, LinkError, SimulatedLink};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::reply::{Activity, Identity, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_verdict::trip_key;

/// A fixture that answers.
pub struct Connected {
    /// The conversation.
    pub client: Client<'static>,
    /// Who it is.
    pub identity: Identity,
    /// What it was doing when it was asked.
    pub state: State,
    /// The simulated bench, where it is one: somebody must turn its knobs.
    pub bench: Option<SimulatedLink>,
}

impl Connected {
    /// Returns the fixture's name in the book.
    pub fn name(&self) -> String {
        name_of(self.identity.serial)
    }

    /// Returns the program that runs on it; `None` before wire version 2.
    pub fn program(&self) -> Option<Program> {
        self.client.description().map(Program::from)
    }

    /// Returns the fixture in one line.
    pub fn describe(&self) -> String {
        let Identity { board, firmware, calibration, .. } = &self.identity;
        let calibration = match calibration {
            0 => "never calibrated".to_owned(),
            number => format!("calibration {number}"),
        };
        format!(
            "{} on {}: {board} board, firmware {firmware}, {calibration}",
            self.name(),
            self.client.describe()
        )
    }

    /// Checks that no plan runs and no trip is latched.
    ///
    /// # Errors
    /// [`InstrumentError::Running`] and [`InstrumentError::Latched`].
    pub fn must_be_idle(&self) -> Result<()> {
        match (self.state.activity, self.state.trip) {
            (Activity::Idle, _) => Ok(()),
            (Activity::Running, _) => Err(InstrumentError::Running),
            (Activity::Tripped, trip) => {
                Err(InstrumentError::Latched { cause: trip.map_or("unknown", |trip| trip_key(trip.cause)) })
            }
        }
    }

    /// Reads the calibration in use.
    ///
    /// # Errors
    /// A fault of the link, or an answer of the wrong kind.
    pub fn calibration(&mut self) -> Result<Calibration> {
        match self.client.ask(&Request::ReadCalibration)? {
            Reply::Calibration(calibration) => Ok(calibration),
            _ => Err(InstrumentError::OutOfPlace { asked: "read calibration" }),
        }
    }

    /// Has the fixture store a calibration and checks that it did, also if the answer was lost on the way.
    ///
    /// # Errors
    /// The variants that name a calibration say which one is in use then, as far as that is known.
    pub fn store(&mut self, new: &Calibration) -> Result<()> {
        match self.client.ask(&Request::Calibrate(*new)) {
            Ok(Reply::Done) | Err(LinkError::Silent { .. }) => {}
            Ok(_) => return Err(InstrumentError::OutOfPlace { asked: "calibrate" }),
            Err(error @ LinkError::Refused { .. }) => return Err(InstrumentError::CalibrationRefused(error)),
            Err(error) => return Err(InstrumentError::CalibrationUnknown(error)),
        }
        let stored = self.calibration()?;
        if stored == *new {
            return Ok(());
        }
        Err(InstrumentError::NotStored { wanted: new.number, used: stored.number })
    }
}

/// Returns the name of a fixture in the book: the digits that its USB port reports as serial number.
pub fn name_of(serial: u64) -> String {
    format!("fixture {serial:016X}")
}
