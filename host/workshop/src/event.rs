//! What happens while the workshop does something: every face shows it in its own way.

use celltriage_link::RunEvent;
use celltriage_measure::plan::Planned;
use celltriage_protocol::reply::Identity;
use std::path::PathBuf;

/// Who attends the work: sees what happens, and passes on the wish to stop.
pub type Attendant<'a> = dyn celltriage_link::Attendant<WorkEvent> + 'a;

/// Something that happens.
// Passed by reference, as the events of a run are.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug)]
pub enum WorkEvent {
    /// A cell is reacting: what to do, to be shown before anything else.
    Emergency(Vec<String>),
    /// The clock may be wrong; what is written about a reacting cell is not held up by that.
    ClockInDoubt(String),
    /// The fixture answers.
    FixtureReached {
        /// The link.
        source: String,
        /// Who it is.
        identity: Identity,
    },
    /// The plan deviates from the standard's currents.
    Deviation(String),
    /// The check standard has stopped the fixture, and the operator uses it anyway.
    UsedDespiteStop {
        /// The fixture.
        fixture: String,
        /// The operator's reason.
        reason: String,
    },
    /// Something about the fixture is overdue.
    Overdue(String),
    /// The plan is handed to the fixture.
    RunBegins(Planned),
    /// The fixture reports, or the link is odd.
    Run(RunEvent),
    /// Another program holds the book locked; frames wait in memory.
    BookLocked(PathBuf),
    /// The book takes the frames again.
    BookTakesAgain,
    /// No more is heard of the run.
    RunEnds,
    /// The run was cut short, or was not begun; it is recorded so.
    CutShort(String),
    /// A rest has shown that the cell is full; it is discharged now.
    Full {
        /// The cell.
        cell: String,
        /// Its rest voltage in V.
        rest_v: f64,
        /// What is to be noted of it.
        note: Option<String>,
    },
    /// A rest has shown that the cell is neither discharged nor charged again.
    NotDischarged {
        /// The cell.
        cell: String,
        /// Why.
        why: String,
    },
}
