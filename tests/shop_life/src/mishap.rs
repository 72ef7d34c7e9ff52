//! What goes wrong while a cell is on the fixture: at its leads and chips, on the line, with the program that asked for it.

use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::{Fault, Injection};
use std::fmt;

/// The most that a loose sense lead takes away, in volts.
const LOOSE_V: f64 = 0.3;

/// What goes wrong. Seconds are the fixture's since it was powered; receptions are the host's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mishap {
    /// The program is killed after so many receptions.
    Killed(u16),
    /// The fixture's supply fails for a moment at this reception.
    Restarts(u16),
    /// The plug is out from this reception on for so many milliseconds.
    Unplugged(u16, u16),
    /// Of so many bytes that the fixture says, one is lost.
    Noisy(u16),
    /// A lead that carries the current comes off.
    ForceLeadOff(u16),
    /// A sense lead hardly touches.
    SenseLeadLoose(u16),
    /// The monitor keeps its voltage.
    VoltageStuck(u16),
    /// No chip answers any more.
    NoAnswer(u16),
}

impl Mishap {
    /// What is wrong at leads and chips, and from when on.
    pub const fn at_the_leads(self) -> Option<(Fault, u16)> {
        match self {
            Self::ForceLeadOff(after) => Some((Fault::OpenForceLead, after)),
            Self::SenseLeadLoose(after) => Some((Fault::LooseSenseLead { spread_v: LOOSE_V }, after)),
            Self::VoltageStuck(after) => Some((Fault::StuckVoltage, after)),
            Self::NoAnswer(after) => Some((Fault::NoAnswer { chip: None }, after)),
            Self::Killed(_) | Self::Restarts(_) | Self::Unplugged(..) | Self::Noisy(_) => None,
        }
    }

    /// What the guard has to end at once, and from when on. A voltage that stands still or reads a little too low under a load
    /// is ended before the cell leaves its window (`held_fault_tests.rs` holds it so): nobody promises when.
    pub fn for_the_guard_at_once(self) -> Option<(Fault, u16)> {
        let at_once = |fault: &Fault| matches!(fault, Fault::OpenForceLead | Fault::NoAnswer { .. });
        self.at_the_leads().filter(|(fault, _)| at_once(fault))
    }

    /// The same as it is put into the bench.
    pub fn injection(self) -> Option<Injection> {
        self.at_the_leads().map(|(fault, after)| fault.at(Micros::from_secs(u64::from(after))))
    }
}

impl fmt::Display for Mishap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Killed(after) => write!(f, "the program is killed after {after} receptions"),
            Self::Restarts(after) => write!(f, "the fixture restarts at reception {after}"),
            Self::Unplugged(after, ms) => write!(f, "the plug is out at reception {after} for {ms} ms"),
            Self::Noisy(one) => write!(f, "one of {one} bytes is lost on the line"),
            Self::ForceLeadOff(after) => write!(f, "a force lead comes off after {after} s"),
            Self::SenseLeadLoose(after) => write!(f, "a sense lead is loose after {after} s"),
            Self::VoltageStuck(after) => write!(f, "the measured voltage stands still after {after} s"),
            Self::NoAnswer(after) => write!(f, "no chip answers after {after} s"),
        }
    }
}
