//! Which fixture a command was told to use: a serial port, or a simulated cell on a simulated bench.

use crate::error::Error;
use crate::link::{BenchCell, Link, LinkError, Reopened, SerialLink, SimulatedLink, simulated_kinds};
use std::time::Duration;

/// A fixture as chosen; connecting comes later, and may be done again.
pub enum FixtureChoice {
    /// A serial port.
    Port(String),
    /// A simulated bench, with the seed of its noise.
    Simulated(Box<BenchCell>, u64),
}

/// A link of either kind.
pub enum ChosenLink {
    /// A serial port.
    Serial(SerialLink),
    /// A simulated bench.
    Simulated(Box<SimulatedLink>),
}

impl FixtureChoice {
    /// Finds a simulated cell by its kind.
    ///
    /// # Errors
    /// An input error that names the kinds there are.
    pub fn simulated(kind: &str, seed: u64) -> Result<Self, Error> {
        bench_cell(kind).map(|cell| Self::Simulated(Box::new(cell), seed))
    }

    /// The same with a charged cell, where it is simulated: the shop's charger is not.
    #[must_use]
    pub fn charged(self) -> Self {
        match self {
            Self::Simulated(cell, seed) => Self::Simulated(Box::new(cell.charged()), seed),
            port => port,
        }
    }

    /// Connects.
    ///
    /// # Errors
    /// A measurement error where the port cannot be opened.
    pub fn connect(&self) -> Result<ChosenLink, Error> {
        Ok(match self {
            Self::Port(name) => ChosenLink::Serial(SerialLink::open(name)?),
            Self::Simulated(cell, seed) => ChosenLink::Simulated(Box::new(cell.on_bench(*seed))),
        })
    }
}

/// Finds a simulated cell by its kind.
///
/// # Errors
/// An input error that names the kinds there are.
pub(super) fn bench_cell(kind: &str) -> Result<BenchCell, Error> {
    BenchCell::find(kind).ok_or_else(|| {
        Error::input(format!("there is no simulated cell `{kind}`"))
            .hint(format!("the kinds are {}", simulated_kinds().join(", ")))
    })
}

impl Link for ChosenLink {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        match self {
            Self::Serial(link) => link.send(bytes),
            Self::Simulated(link) => link.send(bytes),
        }
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        match self {
            Self::Serial(link) => link.receive(into, wait),
            Self::Simulated(link) => link.receive(into, wait),
        }
    }

    fn describe(&self) -> String {
        match self {
            Self::Serial(link) => link.describe(),
            Self::Simulated(link) => link.describe(),
        }
    }

    fn reopen(&mut self, serial: u64) -> Result<Reopened, LinkError> {
        match self {
            Self::Serial(link) => link.reopen(serial),
            Self::Simulated(link) => link.reopen(serial),
        }
    }
}
