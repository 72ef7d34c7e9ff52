//! The fault of mixing simulated and real entries of one cell.

use crate::error::Error;
use celltriage_workshop::Fault;

/// Returns its error; `None` if it is another.
pub(super) fn of(fault: &Fault) -> Option<Error> {
    let error = Error::input(fault.to_string());
    Some(match fault {
        Fault::Mixed { .. } => error
            .hint("take another name with --id, or another book with --book")
            .hint("where an earlier entry is wrong, a person strikes it: celltriage container correct ENTRY --strike"),
        _ => return None,
    })
}
