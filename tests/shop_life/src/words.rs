//! A step in plain words.

use crate::cells::{box_name, name};
use crate::step::{BoxFor, Eyes, Heat, Judging, Meanwhile, Step, Tag};
use std::fmt;

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let a_box = |one: u8| format!("box {}", box_name(one));
        match *self {
            Self::Arrives(cell, kind) => write!(f, "a {kind} cell comes in and is tagged {}", name(cell)),
            Self::Tested { cell, tag, eyes, full, mishap } => {
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
                match mishap {
                    Some(mishap) => write!(f, "; {mishap}"),
                    None => Ok(()),
                }
            }
            Self::Graded(cell) => {
                write!(f, "a trace of a good cell is graded under the name {}", name(cell))
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
            Self::AtOnce(cell, one, meanwhile) => {
                let (cell, one) = (name(cell), a_box(one));
                write!(f, "{cell} is put into {one}; at the same moment, at the other bench, it is ")?;
                match meanwhile {
                    Meanwhile::Boxed(other) => write!(f, "put into {}", a_box(other)),
                    Meanwhile::Reacts => f.write_str("found reacting"),
                }
            }
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
            Self::OtherBench => write!(f, "work goes on at the other bench of the shop"),
            Self::Away(true) => write!(f, "work goes on at a bench away, with a book of its own"),
            Self::Away(false) => write!(f, "work goes on in the shop"),
            Self::Merged => write!(f, "the book of the bench away is merged into the shop's"),
            Self::Standard => write!(f, "the fixture measures its check standard"),
            Self::Drifts(0, 0) => write!(f, "the fixture is mended, or another takes its place"),
            Self::Drifts(thousandths, millivolts) => {
                write!(
                    f,
                    "the fixture's currents are off by {thousandths} thousandths, its voltages by {millivolts} mV"
                )
            }
            Self::HotWatched(cell, hours, heat) => {
                write!(f, "{} is watched on the fixture for {hours} hours", name(cell))?;
                match heat {
                    Heat::AsItIs => Ok(()),
                    Heat::WarmBefore => write!(f, "; it lay in the sun before"),
                    Heat::HotAfter(minutes) => write!(f, "; it is hot after {minutes} minutes"),
                }
            }
            Self::DiskFull(left) => write!(f, "the book's disk is full but for {left} kB"),
            Self::DiskFreed => write!(f, "there is room on the disk, and the program is started again"),
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
