//! Faults of the clock: here the day is an option.

use crate::error::Error;
use celltriage_custody::clock_doubt::Doubt;
use celltriage_workshop::Fault;

/// Returns the error with its hints; `None` for another fault.
pub(super) fn of(fault: &Fault) -> Option<Error> {
    Some(match fault {
        Fault::AnotherDay { stated, now } => {
            Error::input(format!("--today says {stated}, this computer says {now}; nothing was written"))
                .hint("set the computer's clock, or give the day that a calendar shows")
        }
        Fault::ClockInDoubt { doubt, today, .. } => {
            let stated = format!("where a calendar says the same, state the day: --today {today}");
            let stated = Some(stated).filter(|_| *doubt != Doubt::BeforeProgram);
            Error::input(fault.to_string()).hint("set the computer's clock").hints(stated)
        }
        _ => return None,
    })
}
