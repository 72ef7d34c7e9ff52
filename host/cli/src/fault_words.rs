//! The one table that turns faults of the floors below into an error with exit code and hints: only here are options named.

use crate::error::{Error, Kind};
use crate::fixture_fault_words::which_standard;
use crate::refusal_hint;
use celltriage_assessment::record::NotAnAssessment;
use celltriage_book::{BookError, Problem};
use celltriage_custody::{CustodyError, Refusal};
use celltriage_instrument::error::InstrumentError;
use celltriage_link::LinkError;
use celltriage_workshop::Fault;

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
            InstrumentError::SeveralStandards { ref known } => which_standard(known),
            _ => return Self::new(kind_of(&error), &error),
        };
        Self::new(kind_of(&error), &error).hint(hint)
    }
}

impl From<Fault> for Error {
    fn from(fault: Fault) -> Self {
        match fault {
            Fault::Book(error) => error.into(),
            Fault::Link(error) => error.into(),
            Fault::Instrument(error) => error.into(),
            Fault::Custody(error) => error.into(),
            Fault::NotAnAssessment(error) => error.into(),
            Fault::Fixture(fault) => fault.into(),
            Fault::Mixed { cell, simulated_run } => crate::simulated::mixed(&cell, simulated_run),
            other => Self::new(Kind::Input, &other),
        }
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

const fn kind_of(error: &InstrumentError) -> Kind {
    if error.is_of_measurement() { Kind::Measurement } else { Kind::Input }
}
