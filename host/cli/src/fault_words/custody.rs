//! Faults of custody: a refusal, or the book.

use crate::error::{Error, Kind};
use crate::refusal_hint;
use celltriage_custody::{CustodyError, Refusal};

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
