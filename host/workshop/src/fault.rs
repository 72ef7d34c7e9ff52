//! Why the workshop cannot do something: data, which each face turns into words of its own.

use crate::fixture::FixtureFault;
use crate::keeping_fault::KeepingFault;
use celltriage_assessment::record::NotAnAssessment;
use celltriage_book::BookError;
use celltriage_custody::cell_name::NotAName;
use celltriage_custody::clock_doubt::Doubt;
use celltriage_custody::{CustodyError, Refusal};
use celltriage_instrument::error::InstrumentError;
use celltriage_link::LinkError;
use celltriage_measure::observation::Sign;
use celltriage_measure::plan::PlanError;
use jiff::civil::Date;
use std::path::PathBuf;
use thiserror::Error;

/// What the calls of this crate return.
pub type Result<T, E = Fault> = std::result::Result<T, E>;

/// Why a file is not a usable trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoTrace {
    /// It holds several cells.
    ManyCells,
    /// It is written in another way than the open Battery Data Format.
    OtherColumns,
    /// Its rows cannot be used.
    Rows,
}

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
    /// A copy of the book, a checkpoint, a key, or the blanking of names.
    #[error(transparent)]
    Keeping(#[from] KeepingFault),
    /// Custody.
    #[error(transparent)]
    Custody(Box<CustodyError>),
    /// An entry is not what it should be.
    #[error(transparent)]
    NotAnAssessment(#[from] NotAnAssessment),
    /// The contacts of the adapter are not what they must be for a load.
    #[error("the adapter is not in order: {what}; nothing more was loaded and nothing was recorded")]
    AdapterContact {
        /// What was found.
        what: String,
    },
    /// No plan can be made for the cell.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The cell has left the workshop.
    #[error("{0}; nothing was recorded")]
    Gone(Box<Refusal>),
    /// The cell is in a device.
    #[error("{0}; nothing was recorded")]
    Fitted(Box<Refusal>),
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
    /// The label contradicts the one that the book has of the cell, and nobody has said why it is the same cell.
    #[error("this may be another cell than {cell}: {told}; nothing was measured")]
    AnotherLabel {
        /// The cell.
        cell: String,
        /// What contradicts.
        told: String,
    },
    /// A name that no new cell may have.
    #[error("`{cell}` is no name for a new cell: {why}")]
    NotAName {
        /// The name.
        cell: String,
        /// What is wrong with it.
        why: NotAName,
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
    /// A decision on the cell lies beside the book, which has not taken it in yet.
    #[error("a decision on {cell} is not in the book yet: it lies in {}", file.display())]
    UnkeptDecision {
        /// The cell.
        cell: String,
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
    /// A file is of a kind that is not read.
    #[error("{}: this is {kind}, which is not read", file.display())]
    ForeignFile {
        /// The file.
        file: PathBuf,
        /// What it is, in words.
        kind: &'static str,
        /// What makes a file of it that is read.
        remedy: &'static str,
    },
    /// A file holds no frames.
    #[error("{}: no celltriage frames found ({pieces} unreadable pieces)", file.display())]
    NoFrames {
        /// The file.
        file: PathBuf,
        /// How many pieces could not be read.
        pieces: usize,
    },
    /// A file is not a usable trace.
    #[error("{what}")]
    Trace {
        /// The file.
        file: PathBuf,
        /// What is wrong, with file and line.
        what: String,
        /// What kind of fault it is.
        why: NoTrace,
    },
    /// A file cannot be read by the mapping given for it.
    #[error("{what}")]
    Mapped {
        /// The file.
        file: PathBuf,
        /// What is wrong, with file and line.
        what: String,
    },
    /// A file is not taken as a photograph.
    #[error("{}: not taken as a photograph: {why}; nothing was written", file.display())]
    NoPhotograph {
        /// The file.
        file: PathBuf,
        /// Why.
        why: String,
    },
    /// No columns of a trace can be recognised in a file.
    #[error("{what}")]
    NoColumns {
        /// What is wrong, with the file.
        what: String,
    },
    /// A mapping is a guess that nobody has looked at.
    #[error("{}: nobody has confirmed how its columns are read", file.display())]
    NotConfirmed {
        /// The file with the trace.
        file: PathBuf,
    },
    /// A file of many cells cannot be read.
    #[error("cannot read the traces {file}: {error}")]
    ManyUnreadable {
        /// The file.
        file: String,
        /// What the system says.
        error: String,
        /// Whether cells were graded before.
        begun: bool,
    },
    /// A file of many cells does not tell them apart.
    #[error("{file}: line 1: column `Cell ID` is missing")]
    NoCellColumn {
        /// The file.
        file: String,
    },
    /// The thread that reads a file has ended without a word.
    #[error("{file}: the reader ended unexpectedly")]
    ReaderEnded {
        /// The file.
        file: String,
    },
    /// The label allows more than the one in the book, and nobody has confirmed it.
    #[error(
        "{cell}: this label allows a higher or stronger charge than the one in the book; nothing was written"
    )]
    LabelRaised {
        /// The cell.
        cell: String,
    },
    /// A day was stated that is not the clock's.
    #[error("the day was stated as {stated}, this computer says {now}; nothing was written")]
    AnotherDay {
        /// The day that was stated.
        stated: Date,
        /// What the clock says.
        now: String,
    },
    /// The clock may be wrong, and nobody answers for it.
    #[error("{told}; nothing was written")]
    ClockInDoubt {
        /// Why.
        doubt: Doubt,
        /// The same in words.
        told: String,
        /// The day that the clock shows.
        today: Date,
    },
    /// The book knows no such container or shipment.
    #[error("{0}")]
    Unknown(Refusal),
    /// The book has no entry of this number.
    #[error("{} has no entry {number}", book.display())]
    NoSuchEntry {
        /// The book's file.
        book: PathBuf,
        /// The number.
        number: u64,
    },
    /// The book has no decision on a cell.
    #[error("{} has no decision on a cell `{cell}`", book.display())]
    NoDecision {
        /// The book's file.
        book: PathBuf,
        /// The cell.
        cell: String,
    },
    /// The book knows no such model.
    #[error("{} knows no model `{model}`", book.display())]
    NoSuchModel {
        /// The book's file.
        book: PathBuf,
        /// The model.
        model: String,
    },
    /// A recording cannot be written as a table.
    #[error("cannot write {name}.csv: {why}")]
    NoTable {
        /// The recording.
        name: String,
        /// Why.
        why: String,
    },
}

impl From<CustodyError> for Fault {
    fn from(error: CustodyError) -> Self {
        // Boxed: the largest of all, and every call carries room for it.
        Self::Custody(Box::new(error))
    }
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
