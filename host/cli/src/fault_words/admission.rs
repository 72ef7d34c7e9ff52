//! Faults of the workshop that keep a cell from being assessed: what the book knows of it.

use crate::error::Error;
use celltriage_workshop::Fault;

/// Returns the error of such a fault; `None` if it is another.
pub(super) fn of(fault: &Fault) -> Option<Error> {
    let error = Error::input(fault.to_string());
    Some(match fault {
        Fault::Gone(_) => {
            error.hint("if another cell wears this name, give that one a name of its own with --id").hint(
                "if it came back, write that down first: celltriage return CELL --how HOW --seen TEXT --by NAME",
            )
        }
        Fault::Fitted(_) => error.hint("take it out of the device first: celltriage trial out CELL"),
        Fault::NearlyTheSameName { known, .. } => error.hint(format!(
            "if it is that cell, write {known}; if it is another, give it a name of other letters or digits"
        )),
        Fault::AnotherLabel { .. } => error
            .hint("if it is the same cell, say why: --same-cell REASON --assessor NAME (in a file of looks: same_cell, assessor)")
            .hint("if it is another, give it a name of its own with --id"),
        Fault::NotAName { .. } => error.hint("give it a name of its own with --id"),
        Fault::UnkeptAlarm { .. } => error
            .hint("a small book (.sqlite) is taken in by the next command that writes, which says why where it cannot")
            .hint("a file of an older program (.json): write it down with `celltriage container escalate`, then move that file away from the book"),
        Fault::UnkeptDecision { .. } => {
            error.hint("the next command that writes to the book takes it in, and says why where it cannot")
        }
        _ => return None,
    })
}
