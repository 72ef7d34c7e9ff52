//! The power monitor's flags (DIAG_ALRT) and the limits that raise them: what sets each, what clears it.
//!
//! Takes results at the end of a conversion, reads and writes of the registers; gives the registers. Written from PX4's
//! header ina228.h (places, clearing with ALATCH), the qtest of QEMU's proposed INA238 model (qemu-devel, msg1223978: what a
//! read and a conversion do to a latched flag) and an answer of the maker's engineer (E2E forum, thread 1391284: CNVRF
//! without the latch); the driver is written from the data sheet SLYS021A. Overflow flags are in the data sheet alone.
//!
//! | flag | set by | cleared by |
//! |---|---|---|
//! | CNVRF | each conversion, with the latch | a read; settings that begin a conversion; without the latch by itself |
//! | limits | a conversion of that channel beyond the limit | latch: a read; else a conversion within the limit |
//! | MATHOF | a current that does not fit its register | the next conversion that fits; RSTACC |
//! | ENERGYOF, CHARGEOF | a counter past its end | a read of that counter |
//!
//! How long CNVRF stands without the latch, no source tells (a user's notes say "nearly always set", the engineer's drawing
//! is a short pulse): here too short for any read to see it. Limits are compared with what the result registers hold, also
//! where SLOWALERT asks for single conversions of an average. The pin itself is not there.

/// DIAG_ALRT: the bits that are settings; the others are flags.
const SETTINGS: u16 = 0xF000;
const LATCH: u16 = 1 << 15;
const ENERGY_OVERFLOW: u16 = 1 << 11;
const CHARGE_OVERFLOW: u16 = 1 << 10;
const MATH_OVERFLOW: u16 = 1 << 9;
const TOO_WARM: u16 = 1 << 7;
const SHUNT_OVER: u16 = 1 << 6;
const SHUNT_UNDER: u16 = 1 << 5;
const BUS_OVER: u16 = 1 << 4;
const BUS_UNDER: u16 = 1 << 3;
const POWER_OVER: u16 = 1 << 2;
const CONVERSION_READY: u16 = 1 << 1;
const MEMORY_GOOD: u16 = 1;
const LIMIT_FLAGS: u16 = TOO_WARM | SHUNT_OVER | SHUNT_UNDER | BUS_OVER | BUS_UNDER | POWER_OVER;

/// SOVL, SUVL, BOVL, BUVL, TEMP_LIMIT, PWR_LIMIT as the chip wakes.
const LIMITS_AS_MADE: [u16; 6] = [0x7FFF, 0x8000, 0x7FFF, 0x0000, 0x7FFF, 0xFFFF];
/// Bits of a limit of the bus voltage; the one above reads as zero.
const BUS_LIMIT: u16 = 0x7FFF;
/// A limit has the upper 16 of a result's 20 bits, or of the power's 24 bits.
const BELOW_SHUNT_LIMIT: i32 = 4;
const BELOW_POWER_LIMIT: u32 = 8;

/// Results of a conversion; what was not converted is missing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Results {
    /// Code of VSHUNT.
    pub shunt: Option<i32>,
    /// Code of VBUS.
    pub bus: Option<i32>,
    /// Code of DIETEMP.
    pub die: Option<i16>,
    /// Code of POWER.
    pub power: Option<u32>,
    /// Whether the current did not fit its register.
    pub overflow: bool,
}

/// The counters that can run over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counter {
    /// ENERGY.
    Energy,
    /// CHARGE.
    Charge,
}

impl Counter {
    const fn flag(self) -> u16 {
        match self {
            Self::Energy => ENERGY_OVERFLOW,
            Self::Charge => CHARGE_OVERFLOW,
        }
    }
}

/// Flags and limits.
#[derive(Clone, Copy, Debug)]
pub struct Alerts {
    register: u16,
    limits: [u16; 6],
}

impl Default for Alerts {
    fn default() -> Self {
        Self { register: MEMORY_GOOD, limits: LIMITS_AS_MADE }
    }
}

impl Alerts {
    const fn is_latched(&self) -> bool {
        self.register & LATCH != 0
    }

    /// Takes a write of the register: only settings can be written.
    pub const fn write(&mut self, value: u16) {
        self.register = value & SETTINGS | self.register & !SETTINGS;
        if !self.is_latched() {
            self.register &= !CONVERSION_READY;
        }
    }

    /// Answers a read of the register, and clears what a read clears.
    pub const fn read(&mut self) -> u16 {
        let told = self.register;
        self.register &= !CONVERSION_READY;
        if self.is_latched() {
            self.register &= !LIMIT_FLAGS;
        }
        told
    }

    /// Takes a limit by its place after SOVL.
    pub fn write_limit(&mut self, place: usize, value: u16) {
        if let Some(limit) = self.limits.get_mut(place) {
            *limit = if matches!(place, 2 | 3) { value & BUS_LIMIT } else { value };
        }
    }

    /// Returns a limit by its place after SOVL.
    pub fn limit(&self, place: usize) -> u16 {
        self.limits.get(place).copied().unwrap_or(0)
    }

    /// Takes that conversions begin again, or stop.
    pub const fn restarted(&mut self, shut_down: bool) {
        if !shut_down {
            self.register &= !CONVERSION_READY;
        }
    }

    /// Says that a conversion has ended; without the latch the flag is gone at once.
    pub const fn tell_ready(&mut self) {
        if self.is_latched() {
            self.register |= CONVERSION_READY;
        }
    }

    /// Compares results with the limits; flags of channels that were not converted stay as they are.
    pub fn compare(&mut self, results: &Results) {
        let [shunt_over, shunt_under, bus_over, bus_under, warm, power] = self.limits;
        let signed = |limit: u16| i32::from(limit.cast_signed());
        if let Some(code) = results.shunt {
            let code = code >> BELOW_SHUNT_LIMIT;
            self.hold(SHUNT_OVER, code > signed(shunt_over));
            self.hold(SHUNT_UNDER, code < signed(shunt_under));
            self.set(MATH_OVERFLOW, results.overflow);
        }
        if let Some(code) = results.bus {
            let code = code >> BELOW_SHUNT_LIMIT;
            self.hold(BUS_OVER, code > i32::from(bus_over));
            self.hold(BUS_UNDER, code < i32::from(bus_under));
        }
        if let Some(code) = results.die {
            self.hold(TOO_WARM, i32::from(code) > signed(warm));
        }
        if let Some(code) = results.power {
            self.hold(POWER_OVER, code >> BELOW_POWER_LIMIT > u32::from(power));
        }
        self.tell_ready();
    }

    /// Says that a counter has run over its end.
    pub const fn ran_over(&mut self, counter: Counter) {
        self.register |= counter.flag();
    }

    /// Takes that a counter was read.
    pub const fn counter_was_read(&mut self, counter: Counter) {
        self.register &= !counter.flag();
    }

    /// Takes that the counters were cleared.
    pub const fn counters_were_cleared(&mut self) {
        self.register &= !MATH_OVERFLOW;
    }

    const fn set(&mut self, flag: u16, on: bool) {
        if on {
            self.register |= flag;
        } else {
            self.register &= !flag;
        }
    }

    /// A flag of a limit follows the results, and with the latch it stays until it is read.
    const fn hold(&mut self, flag: u16, beyond: bool) {
        if beyond || !self.is_latched() {
            self.set(flag, beyond);
        }
    }
}

#[cfg(test)]
#[path = "alerts_tests.rs"]
mod tests;
