//! Bytes to and from a fixture: over a serial port, or into a simulated bench in this process.
//!
//! The floors above see only [`Link`] and do not know which it is; `simulated.rs` is the one file of the host that names
//! the simulated board. A [`Client`] holds one conversation: single questions, or a whole plan that an [`Attendant`] follows.

mod answer;
mod asking;
mod attendant;
mod client;
mod clock;
mod deadline;
pub mod discovery;
mod error;
mod missing;
mod order;
pub mod ports;
mod recording;
mod request_name;
mod resume;
mod run;
mod serial;
mod simulated;
mod take_over;
mod under_way;

pub use attendant::{Attendant, Nobody, Recorder, RunEvent};
pub use client::Client;
pub use deadline::{GRACE, START_WAIT};
pub use error::{Ending, LinkError};
pub use recording::{Recording, read_recording};
pub use resume::PATIENCE;
pub use run::RunEnd;
pub use serial::SerialLink;
pub use simulated::{BenchCell, SERIAL as SIMULATED_SERIAL, SimulatedLink, kinds as simulated_kinds};
pub use under_way::Owned;

use std::time::Duration;

/// A byte link to one fixture.
pub trait Link {
    /// Hands over all bytes.
    ///
    /// # Errors
    /// [`LinkError`] where the other end is gone.
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError>;

    /// Adds to `into` what has come, waiting at most `wait` for the first byte; returns how many bytes came, 0 for
    /// none. A simulated bench waits in its own time.
    ///
    /// # Errors
    /// [`LinkError`] where the other end is gone.
    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError>;

    /// Draws a number that nobody will guess, for the token of a run: from the system where a real fixture is at the other
    /// end, from a seed where all is simulated.
    fn draw(&mut self) -> u64;

    /// Returns what the link is, for records and messages, e.g. `serial port /dev/ttyACM0`.
    fn describe(&self) -> String;

    /// Tries once to open a broken link again, wherever the fixture with this serial number is now. A link inside this
    /// process cannot break.
    ///
    /// # Errors
    /// [`LinkError`] where trying again is of no use.
    fn reopen(&mut self, serial: u64) -> Result<Reopened, LinkError> {
        let _there_is_only_one = serial;
        Ok(Reopened::Never)
    }
}

impl<L: Link + ?Sized> Link for Box<L> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        (**self).send(bytes)
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        (**self).receive(into, wait)
    }

    fn draw(&mut self) -> u64 {
        (**self).draw()
    }

    fn describe(&self) -> String {
        (**self).describe()
    }

    fn reopen(&mut self, serial: u64) -> Result<Reopened, LinkError> {
        (**self).reopen(serial)
    }
}

/// What came of trying to open a broken link again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reopened {
    /// It is open; who is behind it must be asked.
    Yes,
    /// Not now; it may come back.
    NotYet,
    /// It cannot come back.
    Never,
}
