//! A power monitor of the INA228 kind: voltage at the bus pin, voltage over the shunt, charge.
//!
//! Takes register writes and spans of voltage and current; gives register reads. Register map, power-on values and
//! units are written from PX4's driver (ina228.h) and from a Rust driver (xorza/ina228), where those say them, else from
//! the data sheet SLYS021A; `hardware-notes/chip_facts.toml` has both beside each fact. Flags and limits: [`super::alerts`].
//!
//! Not as in the chip: the shunt's temperature coefficient and the delay of conversions are kept and do nothing; the 300 us
//! that the chip needs to wake are not waited for; without averaging both results come at the end of the cycle; the counters
//! move at the end of a whole cycle, the chip's with each conversion, so writing the settings again loses more here.
//! Reserved registers read as zero.

use super::alerts::{Alerts, Counter, Results};
use super::channel::{
    BUS_LSB_V, ChannelErrors, DIE_LSB_C, bus_noise_v, code, lowest_code, shunt_lsb_v, shunt_noise_v,
};
use super::conversion::{Conversion, Finished, Settings};
use super::fill;
use super::noise::Noise;

mod register {
    pub const CONFIG: u8 = 0x00;
    pub const ADC_CONFIG: u8 = 0x01;
    pub const SHUNT_CAL: u8 = 0x02;
    pub const SHUNT_TEMPERATURE: u8 = 0x03;
    pub const VSHUNT: u8 = 0x04;
    pub const VBUS: u8 = 0x05;
    pub const DIE_TEMPERATURE: u8 = 0x06;
    pub const CURRENT: u8 = 0x07;
    pub const POWER: u8 = 0x08;
    pub const ENERGY: u8 = 0x09;
    pub const CHARGE: u8 = 0x0A;
    pub const DIAGNOSIS: u8 = 0x0B;
    pub const FIRST_LIMIT: u8 = 0x0C;
    pub const LAST_LIMIT: u8 = 0x11;
    pub const MANUFACTURER: u8 = 0x3E;
    pub const DEVICE: u8 = 0x3F;
}

/// ADC_CONFIG and SHUNT_CAL as the chip wakes.
const SETTINGS_AS_MADE: u16 = 0xFB68;
const SHUNT_CAL_AS_MADE: u16 = 0x1000;
/// CONFIG: reset, clear the counters, and the bits that are kept (delay, compensation, range).
const RESET: u16 = 1 << 15;
const CLEAR_COUNTERS: u16 = 1 << 14;
const CONFIG_KEPT: u16 = 0x3FF0;
const NARROW_RANGE: u16 = 1 << 4;
/// Bits of SHUNT_CAL and of the shunt's temperature coefficient.
const SHUNT_CAL_BITS: u16 = 0x7FFF;
const COEFFICIENT_BITS: u16 = 0x3FFF;
/// ADC_CONFIG: the channels that are converted; none of them is a shutdown.
const CHANNELS: u16 = 7 << 12;
/// Identity: the maker's letters, and the chip with its revision.
const MAKER: u16 = 0x5449;
const CHIP: u16 = 0x2281;
/// Current in codes is the shunt's code times this over SHUNT_CAL, in both ranges (13107.2e6 x 312.5 nV).
const CURRENT_SCALE: f64 = 4_096.0;
/// A code of POWER is 3.2 times the current's and a volt: bus code x 195.3125 uV / 3.2 V.
const POWER_SCALE: i64 = 16_384;
const LARGEST_POWER: i64 = 0xFF_FFFF;
/// A code of ENERGY is this many of POWER and a second.
const ENERGY_SCALE: f64 = 16.0;
/// Where the counters run over: 40 bits, the charge's with a sign.
const CHARGE_END: f64 = 549_755_813_888.0;
const ENERGY_END: f64 = 1_099_511_627_776.0;

/// The chip.
#[derive(Clone, Debug)]
pub struct PowerMonitor {
    errors: ChannelErrors,
    noise: Noise,
    die_c: f64,
    /// Keeps its results: `Some(true)` goes on saying that they are new.
    stuck: Option<bool>,
    /// Keeps its voltage alone.
    voltage_stuck: bool,
    conversion: Conversion,
    pointer: u8,
    config: u16,
    adc_config: u16,
    shunt_cal: u16,
    shunt_temperature: u16,
    alerts: Alerts,
    shunt_code: i32,
    bus_code: i32,
    die_code: i16,
    current_code: i32,
    power_code: u32,
    energy: f64,
    charge: f64,
}

impl PowerMonitor {
    /// Returns a chip just powered up, in air of `die_c` degrees Celsius.
    pub fn new(errors: ChannelErrors, noise: Noise, die_c: f64, now_ns: u64) -> Self {
        let adc_config = SETTINGS_AS_MADE;
        Self {
            errors,
            noise,
            die_c,
            stuck: None,
            voltage_stuck: false,
            conversion: Conversion::start(Settings::from_register(adc_config), now_ns),
            pointer: 0,
            config: 0,
            adc_config,
            shunt_cal: SHUNT_CAL_AS_MADE,
            shunt_temperature: 0,
            alerts: Alerts::default(),
            shunt_code: 0,
            bus_code: 0,
            die_code: 0,
            current_code: 0,
            power_code: 0,
            energy: 0.0,
            charge: 0.0,
        }
    }

    /// Puts everything to its power-on value.
    pub fn power_up(&mut self, now_ns: u64) {
        let (stuck, voltage_stuck) = (self.stuck, self.voltage_stuck);
        *self = Self::new(self.errors, self.noise.clone(), self.die_c, now_ns);
        (self.stuck, self.voltage_stuck) = (stuck, voltage_stuck);
    }

    /// Makes the results stand still (`says_ready`: yet the ready flag goes on), or mends the chip.
    pub const fn set_stuck(&mut self, stuck: Option<bool>) {
        self.stuck = stuck;
    }

    /// Makes the voltage alone stand still, or mends it.
    pub const fn set_voltage_stuck(&mut self, stuck: bool) {
        self.voltage_stuck = stuck;
    }

    /// Returns when the next result is due.
    pub const fn next_result(&self) -> u64 {
        self.conversion.next_result()
    }

    /// Returns the next instant at which a span must end; see [`Conversion::next_stop`].
    pub fn next_stop(&self, now_ns: u64, until_ns: u64) -> u64 {
        self.conversion.next_stop(now_ns, until_ns)
    }

    /// Takes a span of mean voltage at the bus pin and mean current through the shunt (positive discharges).
    pub fn take(&mut self, from_ns: u64, to_ns: u64, bus_v: f64, shunt_a: f64) {
        if let Some(finished) = self.conversion.take(from_ns, to_ns, bus_v, shunt_a) {
            match self.stuck {
                None => self.keep(finished),
                Some(true) => self.alerts.tell_ready(),
                Some(false) => {}
            }
        }
    }

    /// Turns what a cycle saw into codes.
    fn keep(&mut self, finished: Finished) {
        let settings = *self.conversion.settings();
        let shunt_lsb = shunt_lsb_v(self.config & NARROW_RANGE != 0);
        let per_code = if self.shunt_cal == 0 { 0.0 } else { CURRENT_SCALE / f64::from(self.shunt_cal) };
        let mut results = Results::default();

        let cycle_s = settings.cycle_ns() as f64 * 1e-9;
        let cycles = finished.cycles as f64;
        let noise_v = self.noise.normal(shunt_noise_v(&settings));
        if settings.shunt_ns > 0 {
            // The counter adds up the mean of every cycle; noise of several cycles adds as its root.
            let mean_v =
                self.errors.shunt_v(finished.charge_c / (cycles * cycle_s)) + noise_v / cycles.sqrt();
            self.charge += mean_v / shunt_lsb * per_code * cycles * cycle_s;
            // Past its end the counter begins at zero.
            if self.charge.abs() >= CHARGE_END {
                self.charge %= CHARGE_END;
                self.alerts.ran_over(Counter::Charge);
            }
        }
        if let Some(amps) = finished.shunt_a {
            self.shunt_code = code(self.errors.shunt_v(amps) + noise_v, shunt_lsb, lowest_code());
            let current = f64::from(self.shunt_code) * per_code;
            self.current_code = code(current, 1.0, lowest_code());
            results.shunt = Some(self.shunt_code);
            results.overflow = (current - f64::from(self.current_code)).abs() > 1.0;
        }
        if let Some(volts) = finished.bus_v {
            let noise_v = self.noise.normal(bus_noise_v(&settings));
            if !self.voltage_stuck {
                self.bus_code = code(self.errors.bus_v(volts) + noise_v, BUS_LSB_V, 0.0);
            }
            results.bus = Some(self.bus_code);
        }
        if settings.temperature_ns > 0 {
            self.die_code = (self.die_c / DIE_LSB_C).round() as i16;
            results.die = Some(self.die_code);
        }
        let power = i64::from(self.current_code.unsigned_abs()) * i64::from(self.bus_code) / POWER_SCALE;
        self.power_code = power.clamp(0, LARGEST_POWER) as u32;
        results.power = results.bus.map(|_| self.power_code);
        self.energy += f64::from(self.power_code) * cycles * cycle_s / ENERGY_SCALE;
        if self.energy >= ENERGY_END {
            self.energy %= ENERGY_END;
            self.alerts.ran_over(Counter::Energy);
        }
        self.alerts.compare(&results);
    }

    /// Takes the bytes of a write: the register, and perhaps its new value.
    pub fn write(&mut self, bytes: &[u8], now_ns: u64) {
        let [pointer, value @ ..] = bytes else { return };
        self.pointer = *pointer;
        let &[high, low, ..] = value else { return };
        let value = u16::from_be_bytes([high, low]);
        match self.pointer {
            register::CONFIG if value & RESET != 0 => self.power_up(now_ns),
            register::CONFIG => {
                if value & CLEAR_COUNTERS != 0 {
                    self.charge = 0.0;
                    self.energy = 0.0;
                    self.alerts.counters_were_cleared();
                }
                self.config = value & CONFIG_KEPT;
            }
            register::ADC_CONFIG => {
                self.adc_config = value;
                self.alerts.restarted(value & CHANNELS == 0);
                self.conversion = Conversion::start(Settings::from_register(value), now_ns);
            }
            register::SHUNT_CAL => self.shunt_cal = value & SHUNT_CAL_BITS,
            register::SHUNT_TEMPERATURE => self.shunt_temperature = value & COEFFICIENT_BITS,
            register::DIAGNOSIS => self.alerts.write(value),
            limit @ register::FIRST_LIMIT..=register::LAST_LIMIT => {
                self.alerts.write_limit(usize::from(limit - register::FIRST_LIMIT), value);
            }
            _ => {} // results and identity cannot be written
        }
    }

    /// Answers a read of the register that was named last.
    pub fn read(&mut self, into: &mut [u8]) {
        let word = |into: &mut [u8], value: u16| fill(into, &value.to_be_bytes());
        let result = |into: &mut [u8], value: u32| fill(into, value.to_be_bytes().get(1..).unwrap_or(&[]));
        let counter = |into: &mut [u8], value: f64| {
            // 40 bits, two's complement.
            fill(into, (value.floor() as i64).to_be_bytes().get(3..).unwrap_or(&[]));
        };
        match self.pointer {
            register::CONFIG => word(into, self.config),
            register::ADC_CONFIG => word(into, self.adc_config),
            register::SHUNT_CAL => word(into, self.shunt_cal),
            register::SHUNT_TEMPERATURE => word(into, self.shunt_temperature),
            register::VSHUNT => result(into, (self.shunt_code << 4).cast_unsigned()),
            register::VBUS => result(into, (self.bus_code << 4).cast_unsigned()),
            register::DIE_TEMPERATURE => word(into, self.die_code.cast_unsigned()),
            register::CURRENT => result(into, (self.current_code << 4).cast_unsigned()),
            register::POWER => result(into, self.power_code),
            register::ENERGY => {
                counter(into, self.energy);
                self.alerts.counter_was_read(Counter::Energy);
            }
            register::CHARGE => {
                counter(into, self.charge);
                self.alerts.counter_was_read(Counter::Charge);
            }
            register::DIAGNOSIS => word(into, self.alerts.read()),
            limit @ register::FIRST_LIMIT..=register::LAST_LIMIT => {
                word(into, self.alerts.limit(usize::from(limit - register::FIRST_LIMIT)));
            }
            register::MANUFACTURER => word(into, MAKER),
            register::DEVICE => word(into, CHIP),
            _ => word(into, 0),
        }
    }
}

#[cfg(test)]
#[path = "power_monitor_tests.rs"]
mod tests;
