//! One step of a story, as plain data; its words are in `words.rs`.

use crate::cells::Kind;
use crate::mishap::Mishap;

/// How the person looks at a cell before a test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Eyes {
    /// Looks for every sign and says what is there.
    Careful,
    /// Ticks "none" without looking.
    Blind,
    /// Answers nothing.
    Hurried,
    /// Ticks a sign that is not there.
    Wrong,
    /// Says that it is reacting.
    Alarmed,
}

/// What the tag says that is typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tag {
    /// The cell's own.
    Own,
    /// That of another cell.
    Of(u8),
    /// The cell's own in small letters.
    Small,
}

/// How a cell is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judging {
    /// As proposed.
    AsProposed,
    /// Not waste.
    NotWaste,
    /// Intact waste.
    Intact,
    /// Damaged.
    Damaged,
    /// Critical.
    Critical,
}

/// What is seen of a cell under watch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// Cool and as before.
    Cool,
    /// As before, but warm.
    Warm,
    /// As before; nobody measured.
    Unmeasured,
    /// Worse.
    Worse,
    /// Reacting.
    Reacting,
}

/// What a cell does while it is watched on the fixture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heat {
    /// What its kind does.
    AsItIs,
    /// It lay in the sun before, and cools.
    WarmBefore,
    /// After so many minutes it is hot.
    HotAfter(u16),
}

/// What is written at the other bench of the shop at the same moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meanwhile {
    /// The cell is put into this box.
    Boxed(u8),
    /// The cell is found reacting.
    Reacts,
}

/// What a box is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoxFor {
    /// Intact waste.
    Intact,
    /// Damaged cells.
    Damaged,
    /// Cells under watch.
    Watch,
}

/// One step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// A cell comes into the shop.
    Arrives(u8, Kind),
    /// A cell is put on the fixture.
    Tested {
        /// The cell.
        cell: u8,
        /// The tag that is typed.
        tag: Tag,
        /// How it is looked at.
        eyes: Eyes,
        /// Whether it is discharged.
        full: bool,
        /// What goes wrong meanwhile.
        mishap: Option<Mishap>,
    },
    /// A trace of a good cell is graded under a cell's name.
    Graded(u8),
    /// A cell is judged.
    Judged(u8, Judging),
    /// A box is opened.
    Opened(u8, BoxFor),
    /// A cell is put into a box.
    Boxed(u8, u8),
    /// A cell is put into a box, and at the same moment something is written about it at the other bench.
    AtOnce(u8, u8, Meanwhile),
    /// A cell is taken out of its box.
    TakenOut(u8),
    /// A cell is put under watch for so many days.
    Watched(u8, u8),
    /// A look at a cell under watch.
    Seen(u8, Seen),
    /// A watch is ended.
    Released(u8),
    /// A cell is found reacting.
    Reacts(u8),
    /// Papers for a box.
    Drafted(u8),
    /// The receiver agrees.
    Agreed(u8),
    /// A box leaves.
    Leaves(u8),
    /// Papers are withdrawn.
    Withdrawn(u8),
    /// A used cell's record.
    Recorded(u8),
    /// An entry about a cell is struck: so many back from the newest.
    Struck(u8, u8),
    /// A cell's temperature is looked at: warmer than the air, or not.
    Thermometer(u8, bool),
    /// What an entry about a cell found is to be ended by its rule: so many back from the newest.
    Ended(u8, u8),
    /// A cell goes into a device for a trial.
    Fitted(u8),
    /// A cell is taken out of its device.
    Unfitted(u8),
    /// A short happens to a cell, or it is dropped.
    Shaken(u8, bool),
    /// Hours pass.
    Passes(u16),
    /// The computer's clock goes wrong by so many days.
    ClockWrong(i16),
    /// The program is ended and started again.
    Restarted,
    /// Work goes on at the other bench of the shop: another program that has the same book open.
    OtherBench,
    /// Work goes on at a bench away with a book of its own, or in the shop again.
    Away(bool),
    /// The bench away is back, and its book is merged into the shop's.
    Merged,
    /// The fixture measures currents too large by so many thousandths, and voltages by so many millivolts.
    Drifts(i8, i8),
    /// The fixture measures its check standard.
    Standard,
    /// A cell is watched on the fixture for so many hours.
    HotWatched(u8, u8, Heat),
    /// The disk of the book is full but for so many kilobytes.
    DiskFull(u8),
    /// There is room on it again, and the program is started again.
    DiskFreed,
    /// The clock is set right, and a cell is watched, looked at, judged and released as the rules want it.
    Settled(u8),
    /// The book is checked as a whole.
    Checked,
}
