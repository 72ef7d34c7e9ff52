//! Which fixture, as options say it.

use crate::arguments::{BenchArguments, BookPath};
use crate::error::Error;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_instrument::connected::Connected;
use celltriage_workshop::fixture::look;
use clap::Args;

/// Seed of the simulated noise of a cell that is measured alone: the same cell gives the same bytes.
const SEED: u64 = 1;

/// Which fixture.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "Fixture")]
pub struct FixtureArguments {
    /// Serial port of the fixture, e.g. /dev/ttyACM0 or COM5; by default the only one that is plugged in.
    #[arg(long, value_name = "PORT", conflicts_with = "simulated")]
    pub port: Option<String>,
    /// A simulated fixture instead, with this on its leads: a cell such as `sound`, a bench `supply`, a
    /// `check-standard`, or `drifted`: the same on a fixture whose shunt has changed.
    #[arg(long, value_name = "KIND")]
    pub simulated: Option<String>,
}

impl FixtureArguments {
    /// Returns the choice; a simulated fixture begins with `seed`.
    pub fn choice(&self, seed: u64) -> FixtureChoice {
        FixtureChoice::bench(self.port.as_deref(), self.simulated.as_deref(), seed)
    }

    /// Connects for a command that keeps no book: without one a simulated fixture was never calibrated.
    ///
    /// # Errors
    /// No fixture, a port that cannot be opened, a book that cannot be read.
    pub fn connect_to_look(&self, book: &BookPath) -> Result<Connected, Error> {
        Ok(look::connect_to_look(&self.choice(SEED), &book.path)?)
    }
}

impl BenchArguments {
    /// Returns the choice of fixture or simulated cell.
    ///
    /// # Errors
    /// There is no such cell.
    pub fn choice(&self) -> Result<FixtureChoice, Error> {
        Ok(FixtureChoice::cell(self.port.as_deref(), self.simulated.as_deref(), SEED)?)
    }
}
