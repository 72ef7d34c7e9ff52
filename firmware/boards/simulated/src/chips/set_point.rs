//! A 12-bit converter of the MCP4725 kind, which gives the sink its set point.
//!
//! Takes and gives bus bytes; gives the output as a fraction of full scale. Written from the Linux driver
//! (drivers/iio/dac/mcp4725.c: bytes of write, store and read, ready bit) and the Zephyr driver (dac_mcp4725.c: fast write,
//! time of a store), and from figures 6-2 and 6-3 of the data sheet DS22039D for what both leave out: a write while the chip
//! stores is ignored. A chip fresh from the maker powers up at half scale: a program that enables the sink without writing a
//! set point first would draw half the full current, and this model lets it.
//!
//! Not as in the chip: it hears no general call (reset, wake up), and a store that loses its supply is whole.

use super::fill;

/// Codes of full scale.
const CODES: f64 = 4_096.0;
/// Half scale, as the maker stores it.
const AS_MADE: u16 = 0x800;
/// Time that a store takes at most; typically half of it.
const STORE_NS: u64 = 50_000_000;

/// Upper bits of the first byte: which command it is. All others are reserved and ignored.
const COMMAND_AT: u8 = 5;
const FAST: core::ops::RangeInclusive<u8> = 0..=1;
const WRITE: u8 = 2;
const WRITE_AND_STORE: u8 = 3;
/// Where the two power-down bits stand: in a fast write, in the other commands and the status, beside what is stored.
const FAST_POWER_AT: u8 = 4;
const POWER_AT: u8 = 1;
const STORED_POWER_AT: u8 = 5;
const POWER_BITS: u8 = 3;
/// Upper four bits of a code in a fast write.
const FAST_CODE_BITS: u8 = 0x0F;
/// Below a code in the other commands.
const BELOW_CODE: u16 = 4;
/// Status: nothing is being stored; the supply is there.
const READY: u8 = 1 << 7;
const POWERED: u8 = 1 << 6;

/// The chip.
#[derive(Clone, Copy, Debug)]
pub struct SetPoint {
    code: u16,
    power_down: u8,
    stored_code: u16,
    stored_power_down: u8,
    /// Until when it stores.
    stores_until_ns: u64,
}

impl Default for SetPoint {
    fn default() -> Self {
        Self { code: AS_MADE, power_down: 0, stored_code: AS_MADE, stored_power_down: 0, stores_until_ns: 0 }
    }
}

impl SetPoint {
    /// Loads what is stored.
    pub const fn power_up(&mut self) {
        self.code = self.stored_code;
        self.power_down = self.stored_power_down;
        self.stores_until_ns = 0;
    }

    /// Returns the output as a fraction of full scale; powered down it is pulled to zero.
    pub fn output(&self) -> f64 {
        if self.power_down == 0 { f64::from(self.code) / CODES } else { 0.0 }
    }

    /// Takes the bytes of a write that ends at an instant.
    pub fn write(&mut self, bytes: &[u8], now_ns: u64) {
        if now_ns < self.stores_until_ns {
            return;
        }
        let [command, ..] = bytes else { return };
        match command >> COMMAND_AT {
            kind if FAST.contains(&kind) => self.write_fast(bytes),
            kind @ (WRITE | WRITE_AND_STORE) => self.write_slow(bytes, kind == WRITE_AND_STORE, now_ns),
            _ => {} // reserved
        }
    }

    /// Two bytes each, as often as wanted; the last counts.
    fn write_fast(&mut self, bytes: &[u8]) {
        for pair in bytes.chunks_exact(2) {
            if let &[high, low] = pair {
                self.power_down = high >> FAST_POWER_AT & POWER_BITS;
                self.code = u16::from_be_bytes([high & FAST_CODE_BITS, low]);
            }
        }
    }

    /// Three bytes each: command, upper eight bits, lower four. The first that stores makes the rest ignored.
    fn write_slow(&mut self, bytes: &[u8], stores: bool, now_ns: u64) {
        for three in bytes.chunks_exact(3) {
            if let &[command, high, low] = three {
                self.power_down = command >> POWER_AT & POWER_BITS;
                self.code = u16::from_be_bytes([high, low]) >> BELOW_CODE;
            }
            if stores {
                self.stored_code = self.code;
                self.stored_power_down = self.power_down;
                self.stores_until_ns = now_ns + STORE_NS;
                return;
            }
        }
    }

    /// Answers a read: status and output register, then what is stored.
    pub fn read(&self, into: &mut [u8], now_ns: u64) {
        let [high, low] = (self.code << BELOW_CODE).to_be_bytes();
        let [stored_high, stored_low] = self.stored_code.to_be_bytes();
        let ready = if now_ns < self.stores_until_ns { 0 } else { READY };
        let status = ready | POWERED | self.power_down << POWER_AT;
        let stored = self.stored_power_down << STORED_POWER_AT | stored_high;
        fill(into, &[status, high, low, stored, stored_low]);
    }
}

#[cfg(test)]
#[path = "set_point_tests.rs"]
mod tests;
