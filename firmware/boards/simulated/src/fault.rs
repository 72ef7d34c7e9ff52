//! Faults that can be put into the simulated bench, and when they begin.
//!
//! A fault begins at a time or with the n-th transaction on the bus. It stays until all faults are mended, but for
//! the single refusal, which is over with its transaction.

use crate::chips::Chip;
use celltriage_protocol::units::Micros;

/// Something that goes wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// A sense lead is off: the voltage wanders near zero.
    OpenSenseLead,
    /// A sense lead hardly touches: the voltage reads too low by a random amount of up to `spread_v` volts.
    LooseSenseLead {
        /// Largest amount in volts.
        spread_v: f64,
    },
    /// A lead that carries the current is off: no current flows, the voltage is still seen.
    OpenForceLead,
    /// A sensor keeps its registers.
    StuckSensor {
        /// Which one (the set point is no sensor: nothing happens).
        chip: Chip,
        /// Whether it goes on saying that its results are new; nobody can then tell by asking the chip alone.
        says_ready: bool,
    },
    /// The power monitor keeps its voltage; current and ready flag go on.
    StuckVoltage,
    /// The cell is suddenly at this temperature, and then loses heat as its parameters say.
    WarmCell {
        /// Temperature in degrees Celsius.
        temperature_c: f64,
    },
    /// The protection circuit of the cell has switched off: next to nothing is left at the connector, and no current comes.
    OpenProtection {
        /// What leaks through, in volts.
        leaks_v: f64,
    },
    /// The cell is connected the wrong way round.
    ReversedCell,
    /// The sink conducts although it is off.
    SinkStuckOn {
        /// Current in amperes; far above what the circuit can drive stands for a transistor fully on.
        current_a: f64,
    },
    /// A chip, or with `None` each chip, acknowledges nothing any more.
    NoAnswer {
        /// Which one.
        chip: Option<Chip>,
    },
    /// The transaction with which the fault begins, or the first one after its time, is not acknowledged.
    NoAnswerOnce,
    /// So many transactions in a row are not acknowledged, from the one with which the fault begins.
    NoAnswerTimes {
        /// How many.
        count: u32,
    },
    /// A chip holds the data line of the bus low until it has seen so many clock pulses in a row, as one does that was cut
    /// off in the midst of a read (up to nine); one that wants more never lets go.
    DataHeld {
        /// How many.
        pulses: u8,
    },
    /// Somebody holds the clock line of the bus low for a while.
    ClockHeld {
        /// For how long.
        time: Micros,
    },
    /// The cell's thermometer has come off and tells the temperature of the air.
    ThermometerOffCell,
    /// The negative sense lead has slipped off: the amplifier then gives half of the cell's voltage.
    OpenNegativeSenseLead,
    /// The sense leads touch each other.
    ShortedSenseLeads,
    /// The monitor's converter goes on with what it saw when the fault began, noise and flags included.
    ReplayedMonitor,
    /// Something between sense leads and monitor adds to the voltage.
    VoltageOffset {
        /// In volts.
        volts: f64,
    },
    /// Something between sense leads and monitor multiplies the voltage.
    VoltageGain {
        /// By this.
        factor: f64,
    },
    /// The monitor adds to the current.
    CurrentOffset {
        /// In amperes.
        amps: f64,
    },
    /// The shunt is another one than it was: the monitor multiplies the current.
    CurrentGain {
        /// By this.
        factor: f64,
    },
    /// The shunt has broken: nothing flows, and the monitor sees nothing.
    OpenShunt,
    /// Solder bridges the shunt: what flows is not seen.
    ShortedShunt,
    /// The output of the set-point converter stands still; it acknowledges all that is written.
    StuckSetPoint {
        /// The set point in amperes.
        current_a: f64,
    },
    /// The enable line stays on, whatever the program drives.
    EnableStuckOn,
    /// The regulating transistor has failed short: the second one in series, on the enable line, still opens the path.
    ShortedTransistor {
        /// Current in amperes that the loop lets through.
        current_a: f64,
    },
    /// The program hangs; the watchdog is not fed.
    ProgramHangs,
    /// The controller's own converter fails.
    NoSecondLook,
    /// The controller's own converter repeats what it read when the fault began.
    StuckSecondLook,
    /// A leaking pin, or the converter's zero, adds to what the controller reads of the force lead.
    SecondLookOffset {
        /// At the cell, in volts.
        volts: f64,
    },
    /// Something adds to what the controller reads of the current.
    SecondLookCurrentOffset {
        /// In amperes.
        amps: f64,
    },
    /// The reference that the second look is measured by is another one than it was.
    SecondLookReference {
        /// By this factor.
        factor: f64,
    },
}

impl Fault {
    /// Returns the fault, to begin at a time of the bench.
    pub const fn at(self, at: Micros) -> Injection {
        Injection { fault: self, start: Start::At(at) }
    }

    /// Returns the fault, to begin with the n-th transaction since the bench was made; the first one is 1.
    pub const fn from_transaction(self, number: u64) -> Injection {
        Injection { fault: self, start: Start::Transaction(number) }
    }
}

/// When a fault begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// At a time of the bench.
    At(Micros),
    /// With the n-th transaction on the bus; the first one is 1.
    Transaction(u64),
}

/// A fault and when it begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Injection {
    /// What goes wrong.
    pub fault: Fault,
    /// When.
    pub start: Start,
}

/// Faults that are still to begin.
#[derive(Clone, Debug, Default)]
pub struct Pending {
    waiting: Vec<Injection>,
}

impl Pending {
    /// Adds a fault.
    pub fn add(&mut self, injection: Injection) {
        self.waiting.push(injection);
    }

    /// Forgets all of them.
    pub fn clear(&mut self) {
        self.waiting.clear();
    }

    /// Returns when the next fault begins that waits for a time, in nanoseconds; the end of time where none does.
    pub fn next_ns(&self) -> u64 {
        let times = self.waiting.iter().filter_map(|injection| match injection.start {
            Start::At(at) => Some(at.get().saturating_mul(1_000)),
            Start::Transaction(_) => None,
        });
        times.min().unwrap_or(u64::MAX)
    }

    /// Takes out one fault that is due, if there is one.
    pub fn take_due(&mut self, now_ns: u64, transaction: u64) -> Option<Fault> {
        let due = self.waiting.iter().position(|injection| match injection.start {
            Start::At(at) => at.get().saturating_mul(1_000) <= now_ns,
            Start::Transaction(number) => number <= transaction,
        })?;
        Some(self.waiting.remove(due).fault)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_begin_at_their_time_or_transaction_and_once() {
        let mut pending = Pending::default();
        pending.add(Fault::ReversedCell.at(Micros::from_millis(5)));
        pending.add(Fault::NoAnswerOnce.from_transaction(3));
        assert_eq!(pending.next_ns(), 5_000_000);
        assert_eq!(pending.take_due(4_999_999, 2), None);
        assert_eq!(pending.take_due(4_999_999, 3), Some(Fault::NoAnswerOnce));
        assert_eq!(pending.take_due(5_000_000, 4), Some(Fault::ReversedCell));
        assert_eq!(pending.take_due(u64::MAX, u64::MAX), None);
        assert_eq!(pending.next_ns(), u64::MAX);
    }
}
