//! Bytes to and from a fixture: over a serial port, or into a simulated bench in this process.
//!
//! The rest of the host sees only [`Link`] and cannot tell which it is. `simulated.rs` is the one file of the host
//! that names the simulated board.

mod client;
mod error;
mod recording;
mod serial;
mod simulated;

pub use client::{Client, RunEnd, Watch};
pub use error::LinkError;
pub use recording::{Recording, read_recording};
pub use serial::SerialLink;
pub use simulated::{BenchCell, SimulatedLink, kinds as simulated_kinds};

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

    /// Returns what the link is, for records and messages, e.g. `serial port /dev/ttyACM0`.
    fn describe(&self) -> String;
}
