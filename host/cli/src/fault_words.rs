//! The one table that turns faults of the floors below into an error with exit code and hints: only here are options named.

use crate::error::{Error, Kind};
use crate::refusal_hint;
use celltriage_assessment::record::NotAnAssessment;
use celltriage_book::{BookError, Problem};
use celltriage_custody::clock_doubt::Doubt;
use celltriage_custody::{CustodyError, Refusal};
use celltriage_instrument::error::InstrumentError;
use celltriage_link::LinkError;
use celltriage_measure::observation::Sign;
use celltriage_workshop::Fault;
use celltriage_workshop::charge_permit::ChargePermit;

impl From<BookError> for Error {
    fn from(error: BookError) -> Self {
        let hint = match &error.problem {
            Problem::Unreadable { .. } => {
                Some("run `celltriage book verify`, or use the celltriage that wrote it")
            }
            _ => None,
        };
        Self::new(Kind::Book, &error).hints(hint)
    }
}

impl From<LinkError> for Error {
    fn from(error: LinkError) -> Self {
        let hint = match &error {
            LinkError::Ports(_) | LinkError::NoFixture { .. } => Some("name its port with --port"),
            LinkError::Several { .. } => Some("name the one that holds the cell with --port"),
            _ => None,
        };
        Self::new(Kind::Measurement, &error).hints(hint)
    }
}

impl From<InstrumentError> for Error {
    fn from(error: InstrumentError) -> Self {
        let hint = match error {
            InstrumentError::Link(error) => return error.into(),
            InstrumentError::Book(error) => return error.into(),
            InstrumentError::Budget { .. } => {
                "build from an unchanged source, or correct the file".to_owned()
            }
            InstrumentError::NoSuchKind { ref kinds, .. } => format!("the kinds are {}", kinds.join(", ")),
            InstrumentError::Running => {
                "wait for its end, or unplug the fixture: it drops the load by itself".to_owned()
            }
            InstrumentError::Latched { .. } | InstrumentError::Tripped(_) => {
                "look at what is on its leads, then `celltriage fixture acknowledge`".to_owned()
            }
            InstrumentError::NoSample => "see `celltriage fixture watch`".to_owned(),
            InstrumentError::NoFall { .. } => {
                "clip the check standard in with its source behind it, then measure again".to_owned()
            }
            InstrumentError::OutOfPlace { .. } => "power-cycle it".to_owned(),
            InstrumentError::CalibrationRefused(_) => "the old calibration stays in use".to_owned(),
            InstrumentError::CalibrationUnknown(_) => {
                "which calibration it uses now: `celltriage fixture identify`".to_owned()
            }
            InstrumentError::NotStored { .. } => {
                "try again; if it stays so, its permanent store is worn out".to_owned()
            }
            InstrumentError::NoStandard { name: Some(_), ref known } if !known.is_empty() => {
                format!("it knows: {}", known.join(", "))
            }
            InstrumentError::NoStandard { .. } => {
                "tell it what yours is: `celltriage fixture check-standard define --help`".to_owned()
            }
            InstrumentError::SeveralStandards { ref known } => {
                format!("say which with --standard: {}", known.join(", "))
            }
            _ => return Self::new(kind_of(&error), &error),
        };
        Self::new(kind_of(&error), &error).hint(hint)
    }
}

impl From<serde_json::Error> for Error {
    fn from(error: serde_json::Error) -> Self {
        Self::new(Kind::Book, format!("it cannot be written as JSON: {error}"))
    }
}

impl From<NotAnAssessment> for Error {
    fn from(error: NotAnAssessment) -> Self {
        Self::new(Kind::Book, &error)
    }
}

impl From<Refusal> for Error {
    fn from(refusal: Refusal) -> Self {
        CustodyError::from(refusal).into()
    }
}

impl From<CustodyError> for Error {
    fn from(error: CustodyError) -> Self {
        let (kind, hint) = match error {
            CustodyError::Book(error) => return error.into(),
            CustodyError::Refused(ref refusal) => (Kind::Input, refusal_hint::hint(refusal)),
            CustodyError::NoSuchCell { .. } => (Kind::Input, "`celltriage book list` shows what there is"),
            CustodyError::NewerEvent { .. } => (Kind::Book, "use a newer celltriage"),
            _ => (Kind::Book, "try again in a moment"),
        };
        Self::new(kind, &error).hint(hint)
    }
}

/// Where a person says what they answer for, and what was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SaidIn {
    /// In options of the command.
    Options,
    /// In the file of a batch; a trip is forgotten at its fixture, before.
    BatchFile,
}

impl From<Fault> for Error {
    fn from(fault: Fault) -> Self {
        of_workshop(fault, SaidIn::Options)
    }
}

/// Turns a fault of the workshop into an error with hints for the place where the person answers it.
pub fn of_workshop(fault: Fault, said_in: SaidIn) -> Error {
    let text = fault.to_string();
    match fault {
        Fault::Book(error) => error.into(),
        Fault::Link(error) => error.into(),
        Fault::Instrument(error) => error.into(),
        Fault::Custody(error) => error.into(),
        Fault::NotAnAssessment(error) => error.into(),
        Fault::NotKept(_) => Error::new(Kind::Book, text),
        Fault::Plan(_) => {
            Error::input(text).hint("test it by other means, or send it for recycling untested")
        }
        Fault::Gone(_) => Error::input(text)
            .hint("if another cell wears this name, give that one a name of its own with --id")
            .hint("if the cell came back, give it a name of its own, and say in its --note where it came from"),
        Fault::Mixed { .. } => Error::input(text)
            .hint("take another name with --id, or another book with --book")
            .hint("where an earlier entry is wrong, a person strikes it: celltriage container correct ENTRY --strike"),
        Fault::NearlyTheSameName { known, .. } => Error::input(text).hint(format!(
            "if it is that cell, write {known}; if it is another, give it a name of other letters or digits"
        )),
        Fault::UnkeptAlarm { .. } => Error::input(text)
            .hint("write it down: `celltriage container escalate`; then move that file away from the book"),
        Fault::NotLookedFor { open, .. } => Error::input(text).hint(look(said_in, &open)),
        Fault::FixtureBusy => Error::new(Kind::Measurement, text)
            .hint("wait for it to end, or unplug the fixture: it drops the load by itself"),
        Fault::TripLatched { .. } => Error::new(Kind::Measurement, text).hint(match said_in {
            SaidIn::Options => "look at the cell and the leads; then call again with --acknowledge-trip",
            SaidIn::BatchFile => {
                "look at the cell and the leads; then `celltriage fixture acknowledge --port PORT`, and begin again"
            }
        }),
        Fault::FixtureStopped { .. } => Error::new(Kind::Measurement, text)
            .hint("find out why, calibrate, and measure the check standard again; or use another fixture")
            .hint(match said_in {
                SaidIn::Options => {
                    "to assess anyway, give a reason with --despite-stop; it is recorded with the decision"
                }
                SaidIn::BatchFile => {
                    "to assess anyway, write despite_stop = \"REASON\" below its [[cell]]; it is recorded with the decision"
                }
            }),
        Fault::NotToBeCharged { cell, .. } => Error::input(text)
            .hint(format!(
                "keep it apart, away from anything that burns; its whole story: celltriage book show {cell} --cell"
            ))
            .hint("where the ground no longer holds, it is assessed again (celltriage assess), and a person judges (celltriage judge)"),
        Fault::NotToBeChargedYet { .. } | Fault::NoRestVoltage { .. } => {
            Error::new(Kind::Measurement, text).hint("check the clips, then call again")
        }
        Fault::NotFull { cell, again, .. } => Error::new(Kind::Measurement, text).hint(match again {
            ChargePermit::Given => format!(
                "charge it again until the charger ends by itself; after charging: celltriage guided --id {cell} --charged"
            ),
            ChargePermit::Open { why } => {
                format!("before it is charged again ({why}): celltriage guided --id {cell}")
            }
            ChargePermit::Refused { why } => format!("{cell} is not to be charged again: {why}"),
        }),
        Fault::LabelRaised { .. } => Error::input(text)
            .hint("read the figures off the cell itself")
            .hint("where this label is right, assess the cell with it first: celltriage assess --id NAME --cell FILE"),
        Fault::NoFrames { .. } => Error::input(text)
            .hint("give a CSV file in the columns of the Battery Data Format, or a recording made by celltriage"),
        Fault::Trace { many: true, .. } => Error::input(text).hint("a file of many cells is for `grade --many`"),
        Fault::ManyUnreadable { begun: true, .. } => {
            Error::input(text).hint("the cells read so far were graded")
        }
        Fault::NoCellColumn { .. } => Error::input(text)
            .hint("name the column that tells the cells apart `Cell ID`; without it, grade one cell a file"),
        // Here the day is an option.
        Fault::AnotherDay { stated, now } => {
            Error::input(format!("--today says {stated}, this computer says {now}; nothing was written"))
                .hint("set the computer's clock, or give the day that a calendar shows")
        }
        Fault::ClockInDoubt { doubt, today, .. } => {
            let stated = format!("where a calendar says the same, state the day: --today {today}");
            let stated = Some(stated).filter(|_| doubt != Doubt::BeforeProgram);
            Error::input(text).hint("set the computer's clock").hints(stated)
        }
        Fault::Unknown(refusal) => Error::input(text).hint(refusal_hint::hint(&refusal)),
        Fault::NoSuchEntry { .. } | Fault::NoDecision { .. } => {
            Error::input(text).hint("`celltriage book list` shows what there is")
        }
        Fault::NoSuchModel { .. } => Error::input(text).hint("`celltriage model list` shows those there are"),
        _ => Error::input(text),
    }
}

/// Says how to report what was looked for.
fn look(said_in: SaidIn, open: &[Sign]) -> String {
    let names: Vec<&str> = open.iter().copied().map(Sign::key).collect();
    match said_in {
        SaidIn::Options => format!(
            "look, then answer with --sign NAME=no or --sign NAME=yes (the names: {}); --no-signs answers no to all \
             signs",
            names.join(", ")
        ),
        SaidIn::BatchFile => {
            "look, then write below its [[cell]] no_signs = true, or observations = \"FILE\" with what was seen"
                .to_owned()
        }
    }
}

const fn kind_of(error: &InstrumentError) -> Kind {
    if error.is_of_measurement() { Kind::Measurement } else { Kind::Input }
}
