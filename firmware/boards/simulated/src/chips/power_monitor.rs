//! A power monitor of the INA228 kind: voltage at the bus pin, voltage over the shunt, charge.
//!
//! Takes register writes and spans of voltage and current; gives register reads. Register map, power-on values and
//! units are those of the INA228 data sheet, from memory. Alert pin, alert limits and the shunt's temperature
//! coefficient are kept as registers but do nothing. Reserved registers read as zero.
//!
//! The ready flag (CNVRF) stays until it is read only with the latch (ALATCH) set; without it the flag clears by itself,
//! read or not (the maker's engineer, E2E forum, thread 1391284; table 7-16 of the data sheet SLYS021A says "when ALATCH =
//! 1" beside the clearing by a read). How long it stands then, no source tells (a user's
//! notes say "nearly always set", the engineer's drawing is a short pulse): here too short for any read to see it.

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

const LATCH: u16 = 1 << 15;
const CONVERSION_READY: u16 = 1 << 1;
const MEMORY_GOOD: u16 = 1;

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
    limits: [u16; 6],
    diagnosis: u16,
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
        let adc_config = 0xFB68;
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
            shunt_cal: 0x1000,
            shunt_temperature: 0,
            limits: [0x7FFF, 0x8000, 0x7FFF, 0, 0x7FFF, 0xFFFF],
            diagnosis: MEMORY_GOOD,
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
                Some(true) => self.tell_ready(),
                Some(false) => {}
            }
        }
    }

    /// Turns what a cycle saw into codes.
    fn keep(&mut self, finished: Finished) {
        let settings = *self.conversion.settings();
        let shunt_lsb = shunt_lsb_v(self.config >> 4 & 1 == 1);
        // Current in codes is the shunt code times 4096 / SHUNT_CAL in both ranges (data sheet, 13107.2e6 x 312.5 nV).
        let per_code = if self.shunt_cal == 0 { 0.0 } else { 4_096.0 / f64::from(self.shunt_cal) };

        let cycle_s = settings.cycle_ns() as f64 * 1e-9;
        let cycles = finished.cycles as f64;
        let noise_v = self.noise.normal(shunt_noise_v(&settings));
        if settings.shunt_ns > 0 {
            // The counter adds up the mean of every cycle; noise of several cycles adds as its root.
            let mean_v =
                self.errors.shunt_v(finished.charge_c / (cycles * cycle_s)) + noise_v / cycles.sqrt();
            self.charge += mean_v / shunt_lsb * per_code * cycles * cycle_s;
        }
        if let Some(amps) = finished.shunt_a {
            self.shunt_code = code(self.errors.shunt_v(amps) + noise_v, shunt_lsb, lowest_code());
            self.current_code = code(f64::from(self.shunt_code) * per_code, 1.0, lowest_code());
        }
        if let Some(volts) = finished.bus_v {
            let noise_v = self.noise.normal(bus_noise_v(&settings));
            if !self.voltage_stuck {
                self.bus_code = code(self.errors.bus_v(volts) + noise_v, BUS_LSB_V, 0.0);
            }
        }
        if settings.temperature_ns > 0 {
            self.die_code = (self.die_c / DIE_LSB_C).round() as i16;
        }
        // POWER = 3.2 x CURRENT_LSB per code, ENERGY 16 times that: bus code x 195.3125 uV / 3.2 V = code / 16384.
        let power = i64::from(self.current_code.unsigned_abs()) * i64::from(self.bus_code) / 16_384;
        self.power_code = power.clamp(0, 0xFF_FFFF) as u32;
        self.energy += f64::from(self.power_code) * cycles * cycle_s / 16.0;
        self.tell_ready();
    }

    /// Sets the ready flag, which only the latch keeps.
    const fn tell_ready(&mut self) {
        if self.diagnosis & LATCH != 0 {
            self.diagnosis |= CONVERSION_READY;
        }
    }

    /// Takes the bytes of a write: the register, and perhaps its new value.
    pub fn write(&mut self, bytes: &[u8], now_ns: u64) {
        let [pointer, value @ ..] = bytes else { return };
        self.pointer = *pointer;
        let &[high, low, ..] = value else { return };
        let value = u16::from_be_bytes([high, low]);
        match self.pointer {
            register::CONFIG if value >> 15 == 1 => self.power_up(now_ns),
            register::CONFIG => {
                if value >> 14 & 1 == 1 {
                    self.charge = 0.0;
                    self.energy = 0.0;
                }
                // Bits 13 to 4: conversion delay (not modelled), temperature compensation (not modelled), range.
                self.config = value & 0x3FF0;
            }
            register::ADC_CONFIG => {
                self.adc_config = value;
                self.diagnosis &= !CONVERSION_READY;
                self.conversion = Conversion::start(Settings::from_register(value), now_ns);
            }
            register::SHUNT_CAL => self.shunt_cal = value & 0x7FFF,
            register::SHUNT_TEMPERATURE => self.shunt_temperature = value & 0x3FFF,
            register::DIAGNOSIS => {
                self.diagnosis = value & 0xF000 | self.diagnosis & 0x0FFF;
                if value & LATCH == 0 {
                    self.diagnosis &= !CONVERSION_READY;
                }
            }
            limit @ register::FIRST_LIMIT..=register::LAST_LIMIT => {
                if let Some(place) = self.limits.get_mut(usize::from(limit - register::FIRST_LIMIT)) {
                    *place = value;
                }
            }
            _ => {} // results and identity cannot be written
        }
    }

    /// Answers a read of the register that was named last.
    pub fn read(&mut self, into: &mut [u8]) {
        let word = |into: &mut [u8], value: u16| fill(into, &value.to_be_bytes());
        let result = |into: &mut [u8], value: u32| fill(into, value.to_be_bytes().get(1..).unwrap_or(&[]));
        let counter = |into: &mut [u8], value: f64| {
            // 40 bits, two's complement; past its ends the counter goes round.
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
            register::ENERGY => counter(into, self.energy),
            register::CHARGE => counter(into, self.charge),
            register::DIAGNOSIS => {
                word(into, self.diagnosis);
                self.diagnosis &= !CONVERSION_READY;
            }
            limit @ register::FIRST_LIMIT..=register::LAST_LIMIT => {
                word(into, self.limits.get(usize::from(limit - register::FIRST_LIMIT)).copied().unwrap_or(0));
            }
            register::MANUFACTURER => word(into, 0x5449),
            register::DEVICE => word(into, 0x2281),
            _ => word(into, 0),
        }
    }
}

#[cfg(test)]
#[path = "power_monitor_tests.rs"]
mod tests;
