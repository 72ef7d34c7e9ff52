//! Why the workshop cannot do something: data, which each face turns into words of its own.

use crate::fixture::FixtureFault;
use celltriage_assessment::record::NotAnAssessment;
use celltriage_book::BookError;
use celltriage_custody::{CustodyError, Refusal};
use celltriage_instrument::error::InstrumentError;
use celltriage_link::LinkError;
use celltriage_measure::observation::Sign;
use celltriage_measure::plan::PlanError;
use std::path::PathBuf;
use thiserror::Error;

/// What the calls of this crate return.
pub type Result<T, E = Fault> = std::result::Result<T, E>;

/// A fault. Its words say what happened and where; what to do about it depends on the face.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Fault {
    /// The book.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The link to a fixture.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The fixture.
    #[error(transparent)]
    Instrument(#[from] InstrumentError),
    /// What is wanted of the fixture.
    #[error(transparent)]
    Fixture(#[from] FixtureFault),
    /// Custody.
    #[error(transparent)]
    Custody(#[from] CustodyError),
    /// An entry is not what it should be.
    #[error(transparent)]
    NotAnAssessment(#[from] NotAnAssessment),
    /// No plan can be made for the cell.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// What was recorded could not be kept.
    #[error("{0}")]
    NotKept(String),
    /// The cell has left the workshop.
    #[error("{0}; nothing was recorded")]
    Gone(Refusal),
    /// Simulated and real entries of one cell are not mixed.
    #[error(
        "the book has {} entries of cell {cell}; a {} run is not written beside them; nothing was measured",
        sort(!simulated_run),
        sort(*simulated_run)
    )]
    Mixed {
        /// The cell.
        cell: String,
        /// Whether the run is the simulated side.
        simulated_run: bool,
    },
    /// The book knows a cell of nearly the same name, with something against it.
    #[error("the book knows a cell {known}, {what}; {typed} is nearly the same name")]
    NearlyTheSameName {
        /// The name in the book.
        known: String,
        /// What the book has of it.
        what: String,
        /// The name that was typed.
        typed: String,
    },
    /// A watch has raised an alarm that the book could not take.
    #[error(
        "the hot-cell watch raised an alarm about {cell} that the book could not take: {cause} ({})",
        file.display()
    )]
    UnkeptAlarm {
        /// The cell.
        cell: String,
        /// Why it was raised.
        cause: String,
        /// The file beside the book.
        file: PathBuf,
    },
    /// Nobody has checked the cell for these signs.
    #[error("{withheld} before it was looked at for: {}", words(open))]
    NotLookedFor {
        /// What is not done before.
        withheld: String,
        /// The signs.
        open: Vec<Sign>,
    },
    /// Another program uses the fixture.
    #[error("the fixture is running a plan for another program")]
    FixtureBusy,
    /// The fixture has latched a trip that nobody has answered for.
    #[error("the fixture has latched a trip ({cause}) and holds the load off")]
    TripLatched {
        /// Its cause.
        cause: &'static str,
    },
    /// The check standard has stopped the fixture.
    #[error("{fixture} is stopped by its check standard: {stop}")]
    FixtureStopped {
        /// The fixture.
        fixture: String,
        /// Why.
        stop: String,
    },
    /// The book speaks against charging the cell.
    #[error("{cell} is not to be charged: {why}")]
    NotToBeCharged {
        /// The cell.
        cell: String,
        /// What speaks against it.
        why: String,
    },
    /// Not enough is known to charge the cell.
    #[error("{cell} is not to be charged yet: {why}")]
    NotToBeChargedYet {
        /// The cell.
        cell: String,
        /// What is missing.
        why: String,
    },
    /// The rest brought no voltage.
    #[error("{cell}: no rest voltage: {why}")]
    NoRestVoltage {
        /// The cell.
        cell: String,
        /// Why.
        why: String,
    },
    /// The cell is not full; its rest is in the book.
    #[error("{cell}: {why}")]
    NotFull {
        /// The cell.
        cell: String,
        /// What its rest has shown.
        why: String,
        /// What the book says now of charging it again.
        again: crate::charge_permit::ChargePermit,
    },
    /// The label allows more than the one in the book, and nobody has confirmed it.
    #[error(
        "{cell}: this label allows a higher or stronger charge than the one in the book; nothing was written"
    )]
    LabelRaised {
        /// The cell.
        cell: String,
    },
}

impl From<Refusal> for Fault {
    fn from(refusal: Refusal) -> Self {
        CustodyError::from(refusal).into()
    }
}

const fn sort(simulated: bool) -> &'static str {
    if simulated { "simulated" } else { "real" }
}

fn words(signs: &[Sign]) -> String {
    signs.iter().copied().map(Sign::words).collect::<Vec<_>>().join(", ")
}
