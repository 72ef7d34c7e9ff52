//! Which fixture is meant, and the one door to it: a serial port, a simulated cell, a simulated bench, or a link of the caller's.

use crate::calibration::last_stored;
use crate::connected::Connected;
use crate::error::{InstrumentError, Result};
use celltriage_book::Book;
use celltriage_link::{BenchCell, Client, Link, SIMULATED_SERIAL, SimulatedLink, discovery, simulated_kinds};
use std::sync::Arc;

/// A fixture as chosen; connecting comes later, and may be repeated.
#[derive(Clone)]
pub enum FixtureChoice {
    /// A serial port; `None` for that of the only fixture there is.
    Port(Option<String>),
    /// A simulated cell, with the seed of its noise.
    Cell(Box<BenchCell>, u64),
    /// A simulated bench with a supply, a check standard or a cell on its leads, and the seed of its noise.
    Bench(String, u64),
    /// A link that the calling program supplies, opened again for each use: a fixture behind another transport.
    Supplied(Arc<dyn Fn() -> Result<Box<dyn Link>> + Send + Sync>),
}

impl FixtureChoice {
    /// Chooses a simulated cell if its kind is given, else a port.
    ///
    /// # Errors
    /// [`InstrumentError::NoSuchCell`].
    pub fn cell(port: Option<&str>, simulated: Option<&str>, seed: u64) -> Result<Self> {
        let Some(kind) = simulated else { return Ok(Self::Port(port.map(str::to_owned))) };
        let cell = BenchCell::find(kind)
            .ok_or_else(|| InstrumentError::NoSuchCell { kind: kind.to_owned(), kinds: simulated_kinds() })?;
        Ok(Self::Cell(Box::new(cell), seed))
    }

    /// Chooses a simulated bench if its kind is given, else a port.
    pub fn bench(port: Option<&str>, simulated: Option<&str>, seed: u64) -> Self {
        match simulated {
            Some(kind) => Self::Bench(kind.to_owned(), seed),
            None => Self::Port(port.map(str::to_owned)),
        }
    }

    /// The same with another seed if it is simulated.
    #[must_use]
    pub fn with_seed(self, seed: u64) -> Self {
        match self {
            Self::Cell(cell, _) => Self::Cell(cell, seed),
            Self::Bench(kind, _) => Self::Bench(kind, seed),
            other @ (Self::Port(_) | Self::Supplied(_)) => other,
        }
    }

    /// Returns the simulated cell, if it is one.
    pub fn bench_cell(&self) -> Option<&BenchCell> {
        match self {
            Self::Cell(cell, _) => Some(cell),
            Self::Port(_) | Self::Bench(..) | Self::Supplied(_) => None,
        }
    }

    /// Returns whether it is simulated.
    pub const fn is_simulated(&self) -> bool {
        matches!(self, Self::Cell(..) | Self::Bench(..))
    }

    /// The same with a charged cell if it is simulated: the shop's charger is not.
    #[must_use]
    pub fn charged(self) -> Self {
        match self {
            Self::Cell(cell, seed) => Self::Cell(Box::new(cell.charged()), seed),
            other => other,
        }
    }

    /// Says whether a real fixture is plugged in, where one is meant; opens nothing.
    ///
    /// # Errors
    /// There is none, or several and none is named.
    pub fn is_there(&self) -> Result<()> {
        match self {
            Self::Port(name) => Ok(discovery::is_there(name.as_deref())?),
            Self::Cell(..) | Self::Bench(..) | Self::Supplied(_) => Ok(()),
        }
    }

    /// Opens the link. A simulated fixture keeps in its store what the book has last seen stored there; without a book it
    /// was never calibrated.
    ///
    /// # Errors
    /// No fixture, a port that cannot be opened, a book that cannot be read.
    pub fn link(&self, book: Option<&Book>) -> Result<Box<dyn Link>> {
        match self.simulated(book)? {
            Some(bench) => Ok(Box::new(bench)),
            None => self.real(),
        }
    }

    /// Opens the conversation, with the same store.
    ///
    /// # Errors
    /// As [`Self::link`], and what the fixture answers.
    pub fn connect(&self, book: Option<&Book>) -> Result<Connected> {
        let bench = self.simulated(book)?;
        let (client, identity, state) = match &bench {
            Some(bench) => Client::connect(bench.clone())?,
            None => Client::connect(self.real()?)?,
        };
        Ok(Connected { client, identity, state, bench })
    }

    fn real(&self) -> Result<Box<dyn Link>> {
        match self {
            Self::Supplied(open) => open(),
            Self::Port(name) => Ok(Box::new(discovery::open(name.as_deref())?)),
            Self::Cell(..) | Self::Bench(..) => Ok(Box::new(discovery::open(None)?)),
        }
    }

    /// Puts the simulated bench up, if it is one.
    pub(crate) fn simulated(&self, book: Option<&Book>) -> Result<Option<SimulatedLink>> {
        let stored = match book.filter(|_| self.is_simulated()) {
            Some(book) => last_stored(book, SIMULATED_SERIAL)?,
            None => None,
        };
        match self {
            Self::Port(_) | Self::Supplied(_) => Ok(None),
            Self::Cell(cell, seed) => Ok(Some(cell.on_calibrated_fixture(stored).on_bench(*seed))),
            Self::Bench(kind, seed) => SimulatedLink::with(kind, *seed, stored).map(Some).ok_or_else(|| {
                let sources = ["supply", "check-standard", "drifted"].map(str::to_owned);
                let kinds = sources.into_iter().chain(simulated_kinds()).collect();
                InstrumentError::NoSuchKind { kind: kind.clone(), kinds }
            }),
        }
    }
}
