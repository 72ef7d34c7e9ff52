//! Faults of reading the book: what there is not, and where to see what there is.

use crate::error::Error;
use crate::refusal_hint;
use celltriage_workshop::Fault;

/// Returns the error with its hint; `None` for another fault.
pub(super) fn of(fault: &Fault) -> Option<Error> {
    let hint = match fault {
        Fault::Unknown(refusal) => refusal_hint::hint(refusal),
        Fault::NoSuchEntry { .. } | Fault::NoDecision { .. } => "`celltriage book list` shows what there is",
        Fault::NoPhotograph { .. } => "`celltriage receive --photo FILE` takes a picture of up to 20 MB",
        Fault::NoSuchModel { .. } => "`celltriage model list` shows those there are",
        _ => return None,
    };
    Some(Error::input(fault.to_string()).hint(hint))
}
