//! Faults of the link to a fixture.

use crate::error::{Error, Kind};
use celltriage_link::LinkError;

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
