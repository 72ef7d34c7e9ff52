//! A thermometer of the TMP117 kind, with the lag of its housing.
//!
//! Takes register writes, the time and the temperature of what it touches; gives register reads. Register map,
//! power-on values and times are those of the TMP117 data sheet, from memory. Alerts and the stored registers do
//! nothing. Reserved registers read as zero.

use super::fill;
use super::noise::Noise;

/// Degrees per code.
const LSB_C: f64 = 7.8125e-3;
/// Noise of a result of eight conversions, rms: about one code (data sheet, from memory).
const NOISE_OF_EIGHT_C: f64 = 7.8125e-3;
/// Time constant with which the sensor follows what it touches: a clip on a pouch (common practice: a few seconds).
pub const LAG_S: f64 = 4.0;
/// Time of one conversion.
const ONE_NS: u64 = 15_500_000;

/// Result before the first conversion: -256 degrees.
const NOTHING_YET: u16 = 0x8000;
const POWER_ON_CONFIG: u16 = 0x0220;
const DATA_READY: u16 = 1 << 13;
/// Bits of the configuration that are kept as written: mode, cycle, averages, alert settings.
const WRITABLE: u16 = 0x0FFC;
const SOFT_RESET: u16 = 1 << 1;

mod register {
    pub const RESULT: u8 = 0x00;
    pub const CONFIGURATION: u8 = 0x01;
    pub const FIRST_KEPT: u8 = 0x02;
    pub const LAST_KEPT: u8 = 0x08;
    pub const DEVICE: u8 = 0x0F;
}

/// The chip.
#[derive(Clone, Debug)]
pub struct Thermometer {
    offset_c: f64,
    noise: Noise,
    /// Keeps its result: `Some(true)` goes on saying that it is new.
    stuck: Option<bool>,
    /// Temperature of the sensor itself.
    sensor_c: f64,
    followed_ns: u64,
    pointer: u8,
    config: u16,
    ready: bool,
    result: u16,
    kept: [u16; 7],
    next_ns: u64,
}

impl Thermometer {
    /// Returns a chip just powered up, at a temperature, with a constant error.
    pub fn new(offset_c: f64, noise: Noise, sensor_c: f64, now_ns: u64) -> Self {
        let mut chip = Self {
            offset_c,
            noise,
            stuck: None,
            sensor_c,
            followed_ns: now_ns,
            pointer: 0,
            config: POWER_ON_CONFIG,
            ready: false,
            result: NOTHING_YET,
            kept: [0x6000, 0x8000, 0, 0, 0, 0, 0],
            next_ns: u64::MAX,
        };
        chip.convert_from(now_ns);
        chip
    }

    /// Puts everything to its power-on value; the sensor keeps its warmth.
    pub fn power_up(&mut self, now_ns: u64) {
        let (stuck, followed_ns) = (self.stuck, self.followed_ns);
        *self = Self::new(self.offset_c, self.noise.clone(), self.sensor_c, now_ns);
        self.stuck = stuck;
        self.followed_ns = followed_ns;
    }

    /// Makes the result stand still (`says_ready`: yet the ready flag goes on), or mends the chip.
    pub const fn set_stuck(&mut self, stuck: Option<bool>) {
        self.stuck = stuck;
    }

    /// Returns when the next result is due.
    pub const fn next_result(&self) -> u64 {
        self.next_ns
    }

    /// Returns how many conversions make a result.
    fn averages(&self) -> u64 {
        match self.config >> 5 & 3 {
            0 => 1,
            1 => 8,
            2 => 32,
            _ => 64,
        }
    }

    /// Returns the time spent converting, and the time from one result to the next.
    fn times_ns(&self) -> (u64, u64) {
        let active = match self.averages() {
            1 => ONE_NS,
            8 => 125_000_000,
            32 => 500_000_000,
            _ => 1_000_000_000,
        };
        let least = match self.config >> 7 & 7 {
            0 => 0,
            1 => 125_000_000,
            2 => 250_000_000,
            3 => 500_000_000,
            4 => 1_000_000_000,
            5 => 4_000_000_000,
            6 => 8_000_000_000,
            _ => 16_000_000_000,
        };
        (active, active.max(least))
    }

    fn convert_from(&mut self, now_ns: u64) {
        let shut_down = self.config >> 10 & 3 == 1;
        self.next_ns = if shut_down { u64::MAX } else { now_ns + self.times_ns().0 };
    }

    /// Tells the sensor what it touches; takes the result that is due now, if one is.
    pub fn take(&mut self, now_ns: u64, touches_c: f64) {
        let seconds = now_ns.saturating_sub(self.followed_ns) as f64 * 1e-9;
        self.followed_ns = now_ns;
        self.sensor_c -= (touches_c - self.sensor_c) * (-seconds / LAG_S).exp_m1();
        if now_ns < self.next_ns {
            return;
        }
        if self.config >> 10 & 3 == 3 {
            self.config = self.config & !0x0C00 | 0x0400; // one shot taken: shut down
            self.next_ns = u64::MAX;
        } else {
            self.next_ns += self.times_ns().1;
        }
        if self.stuck.is_none() {
            let noise_c = self.noise.normal(NOISE_OF_EIGHT_C * (8.0 / self.averages() as f64).sqrt());
            let code = ((self.sensor_c + self.offset_c + noise_c) / LSB_C).round() as i16;
            self.result = code.cast_unsigned();
        }
        self.ready |= self.stuck != Some(false);
    }

    /// Takes the bytes of a write: the register, and perhaps its new value.
    pub fn write(&mut self, bytes: &[u8], now_ns: u64) {
        let [pointer, value @ ..] = bytes else { return };
        self.pointer = *pointer;
        let &[high, low, ..] = value else { return };
        let value = u16::from_be_bytes([high, low]);
        match self.pointer {
            register::CONFIGURATION if value & SOFT_RESET != 0 => self.power_up(now_ns),
            register::CONFIGURATION => {
                self.config = value & WRITABLE;
                self.convert_from(now_ns);
            }
            kept @ register::FIRST_KEPT..=register::LAST_KEPT => {
                if let Some(place) = self.kept.get_mut(usize::from(kept - register::FIRST_KEPT)) {
                    *place = value;
                }
            }
            _ => {} // result and identity cannot be written
        }
    }

    /// Answers a read of the register that was named last; reading result or configuration clears the ready flag.
    pub fn read(&mut self, into: &mut [u8]) {
        let value = match self.pointer {
            register::RESULT => {
                self.ready = false;
                self.result
            }
            register::CONFIGURATION => {
                let ready = if core::mem::take(&mut self.ready) { DATA_READY } else { 0 };
                self.config | ready
            }
            kept @ register::FIRST_KEPT..=register::LAST_KEPT => {
                self.kept.get(usize::from(kept - register::FIRST_KEPT)).copied().unwrap_or(0)
            }
            register::DEVICE => 0x0117,
            _ => 0,
        };
        fill(into, &value.to_be_bytes());
    }
}

#[cfg(test)]
#[path = "thermometer_tests.rs"]
mod tests;
