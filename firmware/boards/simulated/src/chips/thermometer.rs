//! A thermometer of the TMP117 kind, with the lag of its housing.
//!
//! Takes register writes, the time and the temperature of what it touches; gives register reads. Written from the Linux and
//! Zephyr drivers (tmp117.c, tmp11x.h: registers, bits, identity, step), the SparkFun library (times by cycle and average) and
//! a Rust driver (xgroleau/tmp117-rs: alerts, busy flag, memory, reset); from the data sheet only what these leave out, the
//! 1.5 ms after power-up (of the TMP116, SBOS740A, 7.3.1) and the 7 ms of programming (from memory).
//!
//! Not as in the chip: settings that are written, and a power-up, begin a conversion at once (no source says what becomes of
//! the one under way; the chip needs 1.5 ms to wake, here it is only busy so long), the pin is not there, it hears no general
//! call. Reserved registers read as zero.

use super::fill;
use super::noise::Noise;

/// Degrees per code.
const LSB_C: f64 = 7.8125e-3;
/// Noise of a result of eight conversions, rms: about one code (from memory).
const NOISE_OF_EIGHT_C: f64 = 7.8125e-3;
/// Time constant with which the sensor follows what it touches: a clip on a pouch (common practice: a few seconds).
pub const LAG_S: f64 = 4.0;
/// Times of 1, 8, 32 and 64 conversions.
const CONVERSIONS_NS: [u64; 4] = [15_500_000, 125_000_000, 500_000_000, 1_000_000_000];
/// Conversions in a result, by code.
const AVERAGES: [u64; 4] = [1, 8, 32, 64];
/// Shortest times from one result to the next, by code.
const CYCLES_NS: [u64; 8] =
    [0, 125_000_000, 250_000_000, 500_000_000, 1_000_000_000, 4_000_000_000, 8_000_000_000, 16_000_000_000];
/// Times of waking, of a reset and of programming the memory.
const WAKES_NS: u64 = 1_500_000;
const RESETS_NS: u64 = 2_000_000;
const PROGRAMS_NS: u64 = 7_000_000;

/// Result before the first conversion: -256 degrees.
const NOTHING_YET: u16 = 0x8000;
const POWER_ON_CONFIG: u16 = 0x0220;
/// High and low limit and the five words after them, as the maker stores them (the user's three words: unknown, here zero).
const WORDS_AS_MADE: [u16; 7] = [0x6000, 0x8000, 0, 0, 0, 0, 0];
const IDENTITY: u16 = 0x0117;
const HIGH_ALERT: u16 = 1 << 15;
const LOW_ALERT: u16 = 1 << 14;
const DATA_READY: u16 = 1 << 13;
const BUSY: u16 = 1 << 12;
/// Bits of the configuration that are kept as written: mode, cycle, averages, alert settings.
const WRITABLE: u16 = 0x0FFC;
const MODE: u16 = 3 << 10;
const SHUT_DOWN: u16 = 1 << 10;
const ONE_SHOT: u16 = 3 << 10;
/// A second code of continuous conversion, which reads back as the first, zero.
const CONTINUOUS_TOO: u16 = 2 << 10;
const CYCLE_AT: u16 = 7;
const CYCLE_BITS: u16 = 7;
const AVERAGE_AT: u16 = 5;
const AVERAGE_BITS: u16 = 3;
/// The limits are a thermostat's and not a pair of alarms.
const THERM: u16 = 1 << 4;
const SOFT_RESET: u16 = 1 << 1;
/// The register that opens the memory: open, and busy.
const OPEN: u16 = 1 << 15;
const OPEN_BUSY: u16 = 1 << 14;

mod register {
    pub const RESULT: u8 = 0x00;
    pub const CONFIGURATION: u8 = 0x01;
    pub const HIGH_LIMIT: u8 = 0x02;
    pub const LOW_LIMIT: u8 = 0x03;
    pub const OPENS_MEMORY: u8 = 0x04;
    pub const OFFSET: u8 = 0x07;
    pub const LAST_WORD: u8 = 0x08;
    pub const DEVICE: u8 = 0x0F;
}

/// What the registers hold, and what the memory brings back at power-up: configuration and the words from the high limit on.
#[derive(Clone, Copy, Debug)]
struct Kept {
    config: u16,
    words: [u16; 7],
}

impl Kept {
    /// Returns the word of a register, or zero where there is none.
    fn word(&self, register: u8) -> u16 {
        self.words.get(usize::from(register.wrapping_sub(register::HIGH_LIMIT))).copied().unwrap_or(0)
    }

    fn set_word(&mut self, register: u8, value: u16) {
        if let Some(word) = self.words.get_mut(usize::from(register.wrapping_sub(register::HIGH_LIMIT))) {
            *word = value;
        }
    }
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
    kept: Kept,
    stored: Kept,
    /// High alert, low alert and data ready.
    flags: u16,
    result: u16,
    next_ns: u64,
    /// Until when it wakes or programs its memory.
    busy_until_ns: u64,
}

impl Thermometer {
    /// Returns a chip just powered up, at a temperature, with a constant error.
    pub fn new(offset_c: f64, noise: Noise, sensor_c: f64, now_ns: u64) -> Self {
        let made = Kept { config: POWER_ON_CONFIG, words: WORDS_AS_MADE };
        let mut chip = Self {
            offset_c,
            noise,
            stuck: None,
            sensor_c,
            followed_ns: now_ns,
            pointer: 0,
            kept: made,
            stored: made,
            flags: 0,
            result: NOTHING_YET,
            next_ns: u64::MAX,
            busy_until_ns: 0,
        };
        chip.power_up(now_ns);
        chip
    }

    /// Puts everything to what the memory has; the sensor keeps its warmth.
    pub fn power_up(&mut self, now_ns: u64) {
        self.wake(now_ns + WAKES_NS, now_ns);
    }

    /// Loads the memory until an instant; conversions begin at another.
    fn wake(&mut self, busy_until_ns: u64, from_ns: u64) {
        self.kept = self.stored;
        self.kept.set_word(register::OPENS_MEMORY, 0);
        self.pointer = 0;
        self.flags = 0;
        self.result = NOTHING_YET;
        self.busy_until_ns = busy_until_ns;
        self.convert_from(from_ns);
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
        of(AVERAGES, self.kept.config >> AVERAGE_AT & AVERAGE_BITS)
    }

    /// Returns the time spent converting, and the time from one result to the next.
    fn times_ns(&self) -> (u64, u64) {
        let active = of(CONVERSIONS_NS, self.kept.config >> AVERAGE_AT & AVERAGE_BITS);
        (active, active.max(of(CYCLES_NS, self.kept.config >> CYCLE_AT & CYCLE_BITS)))
    }

    fn convert_from(&mut self, now_ns: u64) {
        let shut_down = self.kept.config & MODE == SHUT_DOWN;
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
        if self.kept.config & MODE == ONE_SHOT {
            self.kept.config = self.kept.config & !MODE | SHUT_DOWN;
            self.next_ns = u64::MAX;
        } else {
            self.next_ns += self.times_ns().1;
        }
        if self.stuck.is_none() {
            let noise_c = self.noise.normal(NOISE_OF_EIGHT_C * (8.0 / self.averages() as f64).sqrt());
            let code = ((self.sensor_c + self.offset_c + noise_c) / LSB_C).round() as i16;
            let code = code.saturating_add(self.kept.word(register::OFFSET).cast_signed());
            self.result = code.cast_unsigned();
            self.compare(code);
        }
        if self.stuck != Some(false) {
            self.flags |= DATA_READY;
        }
    }

    /// Compares a result with the limits: two alarms that stay until they are read, or a thermostat with its hysteresis.
    fn compare(&mut self, code: i16) {
        let high = code > self.kept.word(register::HIGH_LIMIT).cast_signed();
        let low = code < self.kept.word(register::LOW_LIMIT).cast_signed();
        if high {
            self.flags |= HIGH_ALERT;
        }
        if self.kept.config & THERM == 0 {
            self.flags |= if low { LOW_ALERT } else { 0 };
        } else if low {
            self.flags &= !HIGH_ALERT;
        }
    }

    /// Takes the bytes of a write: the register, and perhaps its new value.
    pub fn write(&mut self, bytes: &[u8], now_ns: u64) {
        let [pointer, value @ ..] = bytes else { return };
        self.pointer = *pointer;
        let &[high, low, ..] = value else { return };
        let value = u16::from_be_bytes([high, low]);
        match self.pointer {
            register::CONFIGURATION if value & SOFT_RESET != 0 => {
                self.wake(now_ns + RESETS_NS, now_ns + RESETS_NS)
            }
            register::CONFIGURATION => {
                let second = value & MODE == CONTINUOUS_TOO;
                self.kept.config = value & WRITABLE & if second { !MODE } else { !0 };
                self.convert_from(now_ns);
                self.program(now_ns, |stored, kept| stored.config = kept.config);
            }
            register::OPENS_MEMORY => self.kept.set_word(register::OPENS_MEMORY, value & OPEN),
            word @ register::HIGH_LIMIT..=register::LAST_WORD => {
                self.kept.set_word(word, value);
                self.program(now_ns, |stored, kept| stored.set_word(word, kept.word(word)));
            }
            _ => {} // result and identity cannot be written
        }
    }

    /// Keeps in the memory what a write changed, if the memory is open.
    fn program(&mut self, now_ns: u64, change: impl Fn(&mut Kept, &Kept)) {
        if self.kept.word(register::OPENS_MEMORY) & OPEN != 0 {
            change(&mut self.stored, &self.kept);
            self.busy_until_ns = now_ns + PROGRAMS_NS;
        }
    }

    /// Answers a read of the register that was named last; reading result or configuration clears the ready flag, reading
    /// the configuration the alarms too.
    pub fn read(&mut self, into: &mut [u8], now_ns: u64) {
        let busy = |flag| if now_ns < self.busy_until_ns { flag } else { 0 };
        let value = match self.pointer {
            register::RESULT => {
                self.flags &= !DATA_READY;
                self.result
            }
            register::CONFIGURATION => {
                let told = self.kept.config | self.flags | busy(BUSY);
                self.flags &= if self.kept.config & THERM == 0 { 0 } else { HIGH_ALERT };
                told
            }
            register::OPENS_MEMORY => self.kept.word(register::OPENS_MEMORY) | busy(OPEN_BUSY),
            word @ register::HIGH_LIMIT..=register::LAST_WORD => self.kept.word(word),
            register::DEVICE => IDENTITY,
            _ => 0,
        };
        fill(into, &value.to_be_bytes());
    }
}

/// Returns the entry of a table for a code of its width.
fn of<const ENTRIES: usize>(table: [u64; ENTRIES], code: u16) -> u64 {
    table.get(usize::from(code)).copied().unwrap_or(0)
}

#[cfg(test)]
#[path = "thermometer_tests.rs"]
mod tests;
