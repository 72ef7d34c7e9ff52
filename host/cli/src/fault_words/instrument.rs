//! Faults of a fixture as an instrument.

use super::fixture::which_standard;
use crate::error::{Error, Kind};
use celltriage_instrument::error::InstrumentError;

impl From<InstrumentError> for Error {
    fn from(error: InstrumentError) -> Self {
        let hint = match error {
            InstrumentError::Link(error) => return error.into(),
            InstrumentError::Book(error) => return error.into(),
            InstrumentError::Budget { .. } => {
                "build from an unchanged source, or correct the file".to_owned()
            }
            InstrumentError::NoSuchCell { ref kinds, .. } | InstrumentError::NoSuchKind { ref kinds, .. } => {
                format!("the kinds are {}", kinds.join(", "))
            }
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

const fn kind_of(error: &InstrumentError) -> Kind {
    if error.is_of_measurement() { Kind::Measurement } else { Kind::Input }
}
