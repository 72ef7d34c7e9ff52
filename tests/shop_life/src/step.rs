//! One step of a story, as plain data, with its words.

use crate::cells::{Kind, box_name, name};
use std::fmt;

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
        /// After so many receptions the host is gone.
        dies_after: Option<u16>,
    },
    /// A cell is judged.
    Judged(u8, Judging),
    /// A box is opened.
    Opened(u8, BoxFor),
    /// A cell is put into a box.
    Boxed(u8, u8),
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
    /// The clock is set right, and a cell is watched, looked at, judged and released as the rules want it.
    Settled(u8),
    /// The book is checked as a whole.
    Checked,
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let a_box = |one: u8| format!("box {}", box_name(one));
        match *self {
            Self::Arrives(cell, kind) => write!(f, "a {kind} cell comes in and is tagged {}", name(cell)),
            Self::Tested { cell, tag, eyes, full, dies_after } => {
                write!(f, "{} is {}", name(cell), if full { "discharged" } else { "screened" })?;
                match tag {
                    Tag::Own => {}
                    Tag::Of(other) => write!(f, " under the tag of {}", name(other))?,
                    Tag::Small => write!(f, ", its tag typed in small letters")?,
                }
                f.write_str(match eyes {
                    Eyes::Careful => ", looked at with care",
                    Eyes::Blind => ", every sign ticked \"no\" without a look",
                    Eyes::Hurried => ", no sign answered",
                    Eyes::Wrong => ", \"deformed\" ticked by mistake",
                    Eyes::Alarmed => ", said to be reacting",
                })?;
                match dies_after {
                    Some(after) => write!(f, "; the program is killed after {after} receptions"),
                    None => Ok(()),
                }
            }
            Self::Judged(cell, how) => {
                let how = match how {
                    Judging::AsProposed => "as proposed",
                    Judging::NotWaste => "not waste",
                    Judging::Intact => "intact waste",
                    Judging::Damaged => "damaged",
                    Judging::Critical => "critical",
                };
                write!(f, "{} is judged {how}", name(cell))
            }
            Self::Opened(one, kind) => write!(
                f,
                "{} is opened for {}",
                a_box(one),
                match kind {
                    BoxFor::Intact => "intact waste",
                    BoxFor::Damaged => "damaged cells",
                    BoxFor::Watch => "cells under watch",
                }
            ),
            Self::Boxed(cell, one) => write!(f, "{} is put into {}", name(cell), a_box(one)),
            Self::TakenOut(cell) => write!(f, "{} is taken out of its box", name(cell)),
            Self::Watched(cell, days) => write!(f, "{} is put under watch for {days} days", name(cell)),
            Self::Seen(cell, seen) => write!(f, "{} is looked at: {seen:?}", name(cell)),
            Self::Released(cell) => write!(f, "the watch over {} is ended", name(cell)),
            Self::Reacts(cell) => write!(f, "{} is found reacting", name(cell)),
            Self::Drafted(one) => write!(f, "papers are drafted for {}", a_box(one)),
            Self::Agreed(one) => write!(f, "the receiver of {} agrees", a_box(one)),
            Self::Leaves(one) => write!(f, "{} leaves", a_box(one)),
            Self::Withdrawn(one) => write!(f, "the papers of {} are withdrawn", a_box(one)),
            Self::Recorded(cell) => write!(f, "the record of the used cell {} is made", name(cell)),
            Self::Struck(cell, back) => {
                write!(f, "of the entries about {}, the one {back} before the newest is struck", name(cell))
            }
            Self::Thermometer(cell, warm) => {
                write!(f, "{} is felt to be {}", name(cell), if warm { "warm" } else { "cool" })
            }
            Self::Ended(cell, back) => {
                write!(f, "what the entry {back} before the newest found of {} is to be ended", name(cell))
            }
            Self::Fitted(cell) => write!(f, "{} is fitted for a trial", name(cell)),
            Self::Unfitted(cell) => write!(f, "{} is taken out of its device", name(cell)),
            Self::Shaken(cell, short) => {
                write!(f, "{} is {}", name(cell), if short { "shorted" } else { "dropped" })
            }
            Self::Passes(hours) => write!(f, "{hours} hours pass"),
            Self::ClockWrong(0) => write!(f, "the computer's clock is set right"),
            Self::ClockWrong(days) => write!(f, "the computer's clock goes wrong by {days} days"),
            Self::Restarted => write!(f, "the program is ended and started again"),
            Self::Settled(cell) => {
                write!(
                    f,
                    "with a right clock {} is watched and looked at for 31 days, judged and released",
                    name(cell)
                )
            }
            Self::Checked => write!(f, "the whole book is checked"),
        }
    }
}
