//! Which fixture a command was told to use: a serial port, or a simulated cell on a simulated bench.

use crate::arguments::BenchArguments;
use crate::error::Error;
use crate::fixture::calibration::last_stored;
use crate::link::{
    BenchCell, Link, LinkError, Reopened, SIMULATED_SERIAL, SerialLink, SimulatedLink, discovery,
    simulated_kinds,
};
use celltriage_book::Book;
use std::time::Duration;

/// Seed of the simulated noise where a cell is measured alone: the same cell gives the same bytes.
const SEED: u64 = 1;

/// A fixture as chosen; connecting comes later, and may be done again.
pub enum FixtureChoice {
    /// A serial port; where none is named, that of the only fixture there is.
    Port(Option<String>),
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
    /// Takes what was typed.
    ///
    /// # Errors
    /// An input error that names the kinds there are.
    pub fn by_options(bench: &BenchArguments) -> Result<Self, Error> {
        Self::new(bench.port.as_deref(), bench.simulated.as_deref(), SEED)
    }

    /// Takes a simulated cell where its kind is given, else a port.
    ///
    /// # Errors
    /// An input error that names the kinds there are.
    pub fn new(port: Option<&str>, simulated: Option<&str>, seed: u64) -> Result<Self, Error> {
        match simulated {
            Some(kind) => bench_cell(kind).map(|cell| Self::Simulated(Box::new(cell), seed)),
            None => Ok(Self::Port(port.map(str::to_owned))),
        }
    }

    /// Returns the simulated cell, where it is one.
    pub fn bench_cell(&self) -> Option<&BenchCell> {
        match self {
            Self::Simulated(cell, _) => Some(cell),
            Self::Port(_) => None,
        }
    }

    /// The same with a charged cell, where it is simulated: the shop's charger is not.
    #[must_use]
    pub fn charged(self) -> Self {
        match self {
            Self::Simulated(cell, seed) => Self::Simulated(Box::new(cell.charged()), seed),
            port => port,
        }
    }

    /// Connects. A simulated fixture keeps in its store what the book has last seen stored there.
    ///
    /// # Errors
    /// A measurement error where there is no fixture or its port cannot be opened, a book error.
    pub fn connect(&self, book: &Book) -> Result<ChosenLink, Error> {
        Ok(match self {
            Self::Port(name) => ChosenLink::Serial(discovery::open(name.as_deref())?),
            Self::Simulated(cell, seed) => {
                let cell = cell.on_calibrated_fixture(last_stored(book, SIMULATED_SERIAL)?);
                ChosenLink::Simulated(Box::new(cell.on_bench(*seed)))
            }
        })
    }
}

/// Finds a simulated cell by its kind.
///
/// # Errors
/// An input error that names the kinds there are.
fn bench_cell(kind: &str) -> Result<BenchCell, Error> {
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
