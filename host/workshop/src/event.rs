//! What happens while the workshop does something: every face shows it in its own way.

use celltriage_book::Kept;
use celltriage_link::RunEvent;
use celltriage_measure::plan::Planned;
use celltriage_protocol::reply::Identity;
use celltriage_protocol::units::Micros;

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
    /// The book takes nothing at present, for this reason; the run goes on, and its frames wait in memory.
    NotKept(String),
    /// The book has taken all that waited.
    KeptAgain {
        /// Frames that are nowhere: more than memory is kept for.
        lost_frames: u64,
    },
    /// Memory is full of frames that the book has not taken: they are lost from now on.
    FramesLost,
    /// What came of the work is not in the book.
    NotInBook {
        /// The cell.
        cell: String,
        /// Why, and where it is.
        kept: Kept,
    },
    /// The label was read once, so a lower bound will not end the discharge: it goes on to its end voltage.
    LabelReadOnce {
        /// The rated capacity that was read, in Ah.
        rated_ah: f64,
        /// How long the run takes then.
        expected: Micros,
    },
    /// A discharge has shown that the cell holds this share of its rated capacity or more, where the second is asked for.
    AtLeast {
        /// As a share of the rated capacity, less what the count may be off by.
        share: f64,
        /// The share that reuse needs.
        asked: f64,
    },
    /// What the run is for is known; it is ended.
    Settled,
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
