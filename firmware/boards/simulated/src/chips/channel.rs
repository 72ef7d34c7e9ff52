//! What the power monitor's channels make of volts and amperes: errors, noise, codes.
//!
//! Units are written from PX4's driver of the INA228 and its family's data sheets. The noise is a design value: table 8-2 of
//! the data sheet SLYS021A (noise-free 13.8 bits of 327.68 mV at 280 us) is 23 uV from peak to peak on the shunt, 3.5 uV rms
//! with 6.6 deviations between the peaks; of the bus it has no figure.

use super::conversion::Settings;

/// Resistance of the shunt in ohms.
pub const SHUNT_OHM: f64 = 0.010;
/// Volts per code of the bus voltage.
pub const BUS_LSB_V: f64 = 195.3125e-6;
/// Volts per code of the shunt voltage, wide and narrow range.
const WIDE_LSB_V: f64 = 312.5e-9;
const NARROW_LSB_V: f64 = 78.125e-9;
/// Degrees per code of the die temperature.
pub const DIE_LSB_C: f64 = 7.8125e-3;
/// Bus noise of one conversion of 280 us, rms.
const BUS_NOISE_V: f64 = 0.7e-3;
/// Shunt noise of one conversion of 280 us, rms.
const SHUNT_NOISE_V: f64 = 3e-6;
/// The conversion time that the noise figures are for.
const NOISE_NS: f64 = 280_000.0;
/// Largest code of a 20-bit result.
const LARGEST_CODE: f64 = 524_287.0;

/// Errors of the channels, as a real chip with a real shunt has them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChannelErrors {
    /// Relative error of the bus voltage.
    pub voltage_gain: f64,
    /// Added to the bus voltage, in volts.
    pub voltage_offset_v: f64,
    /// Relative error of the current, mostly the shunt's tolerance.
    pub current_gain: f64,
    /// Added to the shunt voltage, in volts.
    pub shunt_offset_v: f64,
}

impl Default for ChannelErrors {
    /// Returns errors inside the data sheet's bounds (SLYS021A, section 6.5: 0.05 % and 2.5 mV on the bus, 1 uV on the
    /// shunt) and of a shunt with 0.5 % tolerance.
    fn default() -> Self {
        Self {
            voltage_gain: -0.000_3,
            voltage_offset_v: 0.4e-3,
            current_gain: 0.001_5,
            shunt_offset_v: 0.5e-6,
        }
    }
}

impl ChannelErrors {
    /// Returns what the bus channel sees of a voltage in volts.
    pub fn bus_v(&self, volts: f64) -> f64 {
        volts * (1.0 + self.voltage_gain) + self.voltage_offset_v
    }

    /// Returns what the shunt channel sees of a current in amperes, in volts over the shunt.
    pub fn shunt_v(&self, amps: f64) -> f64 {
        amps * SHUNT_OHM * (1.0 + self.current_gain) + self.shunt_offset_v
    }
}

/// Returns the volts per code of the shunt voltage; the narrow range has a quarter of the wide one's.
pub const fn shunt_lsb_v(narrow: bool) -> f64 {
    if narrow { NARROW_LSB_V } else { WIDE_LSB_V }
}

/// Returns the noise of a bus result in volts, rms.
pub fn bus_noise_v(settings: &Settings) -> f64 {
    deviation(BUS_NOISE_V, settings.bus_ns, settings.averages)
}

/// Returns the noise of a shunt result in volts, rms.
pub fn shunt_noise_v(settings: &Settings) -> f64 {
    deviation(SHUNT_NOISE_V, settings.shunt_ns, settings.averages)
}

/// Noise falls with the root of the time spent on a result.
fn deviation(at_one: f64, conversion_ns: u64, averages: u64) -> f64 {
    match conversion_ns {
        0 => 0.0,
        _ => at_one * (NOISE_NS / (conversion_ns as f64 * averages as f64)).sqrt(),
    }
}

/// Returns the smallest code of a signed 20-bit result.
pub const fn lowest_code() -> f64 {
    -LARGEST_CODE - 1.0
}

/// Returns the code of a value, held at the ends of the range.
pub fn code(value: f64, lsb: f64, lowest: f64) -> i32 {
    (value / lsb).round().clamp(lowest, LARGEST_CODE) as i32
}
