//! What can go wrong between host and fixture, in words a technician can act on.

use celltriage_protocol::reply::{Reject, RejectCause};
use celltriage_protocol::version;
use std::time::Duration;
use thiserror::Error;

/// A fault of the link, or a refusal of the fixture. Not a trip: a trip is a result.
#[derive(Debug, Error)]
pub enum LinkError {
    /// The port cannot be opened.
    #[error("cannot open {port}: {reason}. Is the fixture plugged in, and is no other program using it?")]
    Open {
        /// Name of the port.
        port: String,
        /// What the system says.
        reason: String,
    },
    /// The system does not tell its ports.
    #[error("the serial ports of this computer cannot be listed ({0})")]
    Ports(String),
    /// No port carries the fixture's USB identity.
    #[error("no fixture was found: {}. Plug it in with a cable that carries data", what_else(others))]
    NoFixture {
        /// The ports there are.
        others: Vec<String>,
    },
    /// More than one port carries the fixture's USB identity.
    #[error(
        "{} fixtures are plugged in: {}",
        found.len(),
        found.join("; ")
    )]
    Several {
        /// Their ports.
        found: Vec<String>,
    },
    /// Another program has the port.
    #[error(
        "{port} is in use by another program ({reason}). End that program, or wait until its test is over"
    )]
    Busy {
        /// Name of the port.
        port: String,
        /// What the system says.
        reason: String,
    },
    /// This user may not open the port.
    #[error(
        "{port} may not be opened by this user ({reason}). On Linux join the group that owns it, often `dialout`, then log in again"
    )]
    Forbidden {
        /// Name of the port.
        port: String,
        /// What the system says.
        reason: String,
    },
    /// The link came back with another fixture behind it.
    #[error(
        "{link}: the link broke and came back with another fixture (serial {found}, it was {before}). Look at both: the first drops its load by itself within 3 s"
    )]
    Another {
        /// The link.
        link: String,
        /// Serial number before.
        before: u64,
        /// Serial number now.
        found: u64,
    },
    /// The fixture was without power, or its firmware restarted.
    #[error(
        "{link}: the fixture has restarted in the middle of the test; load off, and the charge counted after the last sample that came is lost. Check its supply and cable, then test the cell again"
    )]
    Restarted {
        /// The link.
        link: String,
    },
    /// The other end went away.
    #[error(
        "{link}: the fixture went away ({reason}). Its own watch drops the load within 3 s; check that its load lamp is off"
    )]
    Gone {
        /// The link.
        link: String,
        /// What the system says.
        reason: String,
    },
    /// Nothing came.
    #[error("{link}: no answer to `{asked}` within {:.1} s. Is this port a fixture, and is it powered?", waited.as_secs_f64())]
    Silent {
        /// The link.
        link: String,
        /// What was asked.
        asked: &'static str,
        /// How long was waited.
        waited: Duration,
    },
    /// Bytes come, but none of them is a frame of ours.
    #[error(
        "{link}: something answers, but it is not a celltriage fixture ({damaged} unreadable pieces). Choose another port"
    )]
    NotOurs {
        /// The link.
        link: String,
        /// How many pieces were not frames.
        damaged: u32,
    },
    /// The fixture speaks an older wire version than this host reads.
    #[error(
        "the fixture speaks wire version {theirs}, this program reads {} and newer. Update the fixture's firmware",
        version::MIN
    )]
    TooOld {
        /// The fixture's version.
        theirs: u8,
    },
    /// The fixture knows no owner of a run.
    #[error(
        "{link}: the fixture's firmware speaks wire version {theirs}, in which a run has no owner: it keeps the load on for \
         whichever program talks to it. This program can look at it and stop it, and runs nothing on it. Update the fixture's firmware"
    )]
    NoOwnership {
        /// The link.
        link: String,
        /// The newest version that the fixture speaks.
        theirs: u8,
    },
    /// The fixture says something this host does not know.
    #[error(
        "the fixture speaks wire version {theirs}, newer than the {} of this program. Update this program",
        version::CURRENT
    )]
    TooNew {
        /// The fixture's version.
        theirs: u8,
    },
    /// The fixture refused.
    #[error("the fixture refused `{asked}`: {}", explain(reject))]
    Refused {
        /// What was asked.
        asked: &'static str,
        /// Its refusal.
        reject: Reject,
    },
    /// The fixture answered something that does not fit the question.
    #[error("the fixture answered `{asked}` with something else: a fault of its firmware. Power-cycle it")]
    OutOfPlace {
        /// What was asked.
        asked: &'static str,
    },
    /// The host ended the run, and the fixture's word on its end did not come or could not be its own.
    #[error("{link}: {why}; {}", load_after_stop(*why, *heard))]
    Stopped {
        /// The link.
        link: String,
        /// Why.
        why: Ending,
        /// Whether the fixture has said that the load is off.
        heard: bool,
    },
    /// The plan has ended, and how was lost.
    #[error(
        "{link}: the plan has ended and the load is off, but how it ended was lost on the way. Check the cable, then test the cell again"
    )]
    EndLost {
        /// The link.
        link: String,
    },
    /// The run is over, and another program's runs.
    #[error(
        "{link}: another program has begun a run on this fixture; this one is over, and how it ended was lost on the way. Let one program at a time use a fixture, then test the cell again"
    )]
    TakenOver {
        /// The link.
        link: String,
    },
    /// What came could not be kept.
    #[error("the measurement could not be kept: {0}. The load was switched off")]
    NotKept(String),
}

/// Why the host ended a run.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
pub enum Ending {
    /// A person wanted it.
    #[error("stopped by a person")]
    ByPerson,
    /// What it was for is known.
    #[error("ended by the program, since the answer was settled")]
    Settled,
    /// A person wanted it before the plan was started.
    #[error("stopped by a person before the plan was started")]
    BeforeStart,
    /// Its time was over.
    #[error(
        "the plan takes {} s at the longest, and its end was not heard of; the host has stopped it",
        longest.as_secs()
    )]
    Overdue {
        /// The longest time that the plan can take.
        longest: Duration,
    },
}

/// Says what is known of the load after the host has stopped a run.
const fn load_after_stop(why: Ending, heard: bool) -> &'static str {
    match (why, heard) {
        (Ending::BeforeStart, _) => "this program has put no load on",
        (_, true) => "the fixture has said that the load is off",
        (_, false) => {
            "its answer to the stop never came. The host keeps silent now, and the fixture drops the load by itself \
             within 3 s of that; check that its load lamp is off"
        }
    }
}

fn what_else(others: &[String]) -> String {
    match others {
        [] => "this computer has no serial port at all".to_owned(),
        others => format!("the ports there are belong to something else: {}", others.join("; ")),
    }
}

/// Says a refusal in words, with the figures in customary units.
fn explain(reject: &Reject) -> String {
    let Reject { cause, asked, limit } = *reject;
    let scaled = |divisor: f64, unit: &str| {
        format!("asked {:.3} {unit}, limit {:.3} {unit}", asked as f64 / divisor, limit as f64 / divisor)
    };
    match cause {
        RejectCause::Busy => "a plan is running; stop it first".to_owned(),
        RejectCause::Tripped => format!("trip {limit} is latched; look at the cell, then acknowledge it"),
        RejectCause::WrongPlan => format!("plan {asked} is not the loaded one ({limit})"),
        RejectCause::EmptyPlan => "the plan has no steps".to_owned(),
        RejectCause::Current => format!("current ({})", scaled(1e6, "A")),
        RejectCause::Duration => format!("duration ({})", scaled(1e6, "s")),
        RejectCause::SamplePeriod => format!("sample period ({})", scaled(1e3, "ms")),
        RejectCause::ReportEvery => format!("report interval (asked {asked}, limit {limit})"),
        RejectCause::LowestVoltage => format!("lowest voltage ({})", scaled(1e6, "V")),
        RejectCause::ChargeLimit => format!("charge limit ({})", scaled(1e6, "V")),
        RejectCause::Temperature => format!("temperature bound ({})", scaled(1e3, "degC")),
        RejectCause::WatchOnly => "the cell is marked watch only and must not be loaded".to_owned(),
        RejectCause::WrongTrip => format!("trip {asked} is not the latched one ({limit})"),
        RejectCause::CauseRemains => {
            format!("the cause of the trip is still there (value {asked}, limit {limit})")
        }
        RejectCause::Calibration => format!("calibration out of bounds (asked {asked}, limit {limit})"),
        RejectCause::Store => "its permanent store failed; the old calibration stays".to_owned(),
        RejectCause::Gone => format!("events from {asked} on are no longer kept (oldest: {limit})"),
        RejectCause::Unreadable => "it could not read the request".to_owned(),
        RejectCause::NoOwner => {
            "it takes no plan from a program that does not say who owns the run; update this program"
                .to_owned()
        }
        RejectCause::OtherBoot => {
            format!("it has restarted since then (start {asked} of its program, now {limit})")
        }
        RejectCause::NotAbove => {
            format!("the request came late or twice (number {asked}, it has taken {limit})")
        }
        RejectCause::OtherToken => {
            "the run belongs to another program, or to an earlier start of this one".to_owned()
        }
        RejectCause::NoRun => "no run of this program is under way".to_owned(),
        RejectCause::OtherLoading => {
            format!("another plan was loaded meanwhile (loading {asked}, now {limit})")
        }
        RejectCause::NotSupported => "this fixture cannot do that".to_owned(),
        RejectCause::EndOfDischarge => format!("end-of-discharge voltage ({})", scaled(1e6, "V")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_tells_both_figures_in_customary_units() {
        let reject = Reject { cause: RejectCause::Current, asked: 6_000_000, limit: 5_000_000 };
        let text = LinkError::Refused { asked: "load plan", reject }.to_string();
        assert_eq!(text, "the fixture refused `load plan`: current (asked 6.000 A, limit 5.000 A)");
    }
}
