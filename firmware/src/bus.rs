//! The bus as the fixture uses it: a refused transfer is tried once more, a line that is held low is freed or told apart.
//!
//! Takes the board's bus, which waits for nothing longer than [`LONGEST_TRANSFER`], and gives one that bears a single fault:
//! half a metre of cable beside a lead of 5 A may spoil a bit, and one refusal must not end a test of five hours. What
//! persists is passed on, and the guard judges it as a missing reading. Each help is counted and logged.
//!
//! | what the board's bus says | what is done | what is told if it does not help |
//! |---|---|---|
//! | not acknowledged | tried once more | [`NoData::NoAnswer`] |
//! | anything else (a line held low, no end in time, arbitration lost) | the lines are freed, tried once more | [`NoData::BusLocked`] where a line stays low, [`NoData::BusRecovered`] where the bus is free and the transfer fails again |

use crate::log::{note, warning};
use celltriage_protocol::units::{Micros, NoData};
use embedded_hal::i2c::{Error, ErrorKind, ErrorType, I2c, Operation};

/// A board gives a transfer up after this time. The longest one, a read of five bytes, is nine bytes of nine clocks at
/// 400 kHz and so takes 0.2 ms; none of the chips stretches the clock (our choice: five times that).
pub const LONGEST_TRANSFER: Micros = Micros::from_millis(1);
/// Clock pulses after which a chip that was cut off in the midst of a byte must have let go of the data line: eight bits
/// and the acknowledge (I2C specification UM10204 revision 7, 3.1.16).
pub const MOST_PULSES: u8 = 9;

/// The state of the two lines after an attempt to free them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lines {
    /// Both are high: the bus can be used.
    Free {
        /// Clock pulses that it took, at most [`MOST_PULSES`].
        pulses: u8,
    },
    /// A line is held low.
    Held,
}

/// A bus whose lines can be looked at and freed.
pub trait Freeable: I2c {
    /// Frees the lines: where the data line is low, clocks until it is high, at most [`MOST_PULSES`] times, and ends with a
    /// stop that no start comes before (a stop right after a start is not a legal message: UM10204, 3.1.10). Looks at the
    /// lines afterwards, and waits for nobody.
    fn free(&mut self) -> Lines;
}

/// How often the bus needed help, since the program started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Help {
    /// Transfers that were not acknowledged and tried once more.
    pub tried_again: u32,
    /// Times that the lines were freed.
    pub freed: u32,
    /// Times that the bus was found locked after it had been free.
    pub locked: u32,
    is_locked: bool,
}

impl Help {
    /// Returns the board's bus, helped.
    pub const fn on<'a, B>(&'a mut self, bus: &'a mut B) -> Helped<'a, B> {
        Helped { bus, help: self }
    }

    /// Returns whether the bus was locked at the last transfer.
    pub const fn is_locked(&self) -> bool {
        self.is_locked
    }
}

/// A bus that bears a single fault.
#[derive(Debug)]
pub struct Helped<'a, B> {
    bus: &'a mut B,
    help: &'a mut Help,
}

/// The bus is locked: a line stays low.
const LOCKED: ErrorKind = ErrorKind::Bus;
/// The lines are free, but a transfer fails for another reason than a refusal.
const FAILED_WHEN_FREE: ErrorKind = ErrorKind::Other;

/// Returns what an error of a [`Helped`] bus means for a reading.
pub fn no_data(error: &impl Error) -> NoData {
    match error.kind() {
        ErrorKind::Bus => NoData::BusLocked,
        ErrorKind::NoAcknowledge(_) => NoData::NoAnswer,
        _ => NoData::BusRecovered,
    }
}

impl<B: Freeable> Helped<'_, B> {
    /// Frees the lines; a bus that stays locked is logged once.
    fn free(&mut self) -> Result<(), ErrorKind> {
        match self.bus.free() {
            Lines::Free { pulses } => {
                self.help.is_locked = false;
                self.help.freed = self.help.freed.saturating_add(1);
                warning!("bus freed after {} clock pulses", pulses);
                Ok(())
            }
            Lines::Held => {
                if !self.help.is_locked {
                    self.help.locked = self.help.locked.saturating_add(1);
                    warning!("bus locked: a line stays low");
                }
                self.help.is_locked = true;
                Err(LOCKED)
            }
        }
    }
}

impl<B: Freeable> ErrorType for Helped<'_, B> {
    type Error = ErrorKind;
}

impl<B: Freeable> I2c for Helped<'_, B> {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        // A locked bus is looked at before it is waited for: so a whole pass on one takes no longer than on a good one.
        if self.help.is_locked {
            self.free()?;
        }
        let Err(error) = self.bus.transaction(address, operations) else { return Ok(()) };
        match error.kind() {
            ErrorKind::NoAcknowledge(_) => {
                self.help.tried_again = self.help.tried_again.saturating_add(1);
                note!("chip {=u8:#x} has not acknowledged: tried once more", address);
            }
            _ => self.free()?,
        }
        self.bus.transaction(address, operations).map_err(|error| match error.kind() {
            refused @ ErrorKind::NoAcknowledge(_) => refused,
            _ => FAILED_WHEN_FREE,
        })
    }
}

#[cfg(test)]
mod tests;
