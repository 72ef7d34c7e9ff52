//! Raw codes to units, with the fixture's calibration.
//!
//! Takes the drivers' codes and the [`Calibration`], gives the contract's integer quantities. Steps from the data
//! sheets (`hardware-notes/chip_facts.toml`), as exact fractions. Results are rounded to the nearest unit.

use crate::drivers::power_monitor::{ChargeCode, ShuntCode, VoltageCode};
use crate::drivers::thermometer::TemperatureCode;
use celltriage_protocol::calibration::{Calibration, Channel, MAX_GAIN_PPM};
use celltriage_protocol::limits::OFF_CURRENT;
use celltriage_protocol::reply::{Reject, RejectCause};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};

/// Microvolts a step of the voltage: 195.3125.
const VOLTAGE_STEP: (i64, i64) = (3_125, 16);
/// Microamperes a step of the current, microcoulombs a step of the charge: 312.5 nV on 10 milliohms, 31.25.
const CURRENT_STEP: (i64, i64) = (125, 4);
/// Thousandths of a degree a step of the temperature: 7.8125.
const TEMPERATURE_STEP: (i64, i64) = (125, 16);
/// Largest offset of the voltage that is believed: 20 mV, a hundred steps (common practice).
const MAX_VOLTAGE_OFFSET: i32 = 20_000;
/// Largest offset of the current that is believed: half of the current that means a conducting sink, so that no
/// calibration can hide one.
const MAX_CURRENT_OFFSET: i32 = OFF_CURRENT.get() / 2;
/// Largest offset of a temperature that is believed: 1.5 degrees (0.3 for the chip, the rest for its mounting;
/// common practice). Two of them together stay near the rise that means self-warming.
const MAX_TEMPERATURE_OFFSET: i32 = 1_500;

/// Returns the voltage at the sense leads.
pub fn voltage(code: VoltageCode, calibration: &Calibration) -> MicroVolts {
    MicroVolts::new(calibration.voltage.apply(scaled(code.0, VOLTAGE_STEP)))
}

/// Returns the current through the shunt, positive discharging.
pub fn current(code: ShuntCode, calibration: &Calibration) -> MicroAmps {
    MicroAmps::new(calibration.current.apply(scaled(code.0, CURRENT_STEP)))
}

/// Returns a temperature, corrected by the channel of its thermometer.
pub fn temperature(code: TemperatureCode, channel: Channel) -> MilliCelsius {
    MilliCelsius::new(channel.apply(scaled(i32::from(code.0), TEMPERATURE_STEP)))
}

/// Returns the charge counted in the `span` since the counter was cleared: the gain corrects what was counted, the
/// offset of the current counts for as long as the span lasts.
pub fn charge(code: ChargeCode, span: Micros, calibration: &Calibration) -> MicroCoulombs {
    let (numerator, denominator) = CURRENT_STEP;
    // A code of 40 bits with its sign times 31.25 is below 2^44, and that times a gain of 5 % in millionths below 2^60.
    let raw = code.0.saturating_mul(numerator) / denominator;
    let gain = raw.saturating_mul(i64::from(calibration.current.gain_ppm)) / 1_000_000;
    let offset = MicroAmps::new(calibration.current.offset).charge_in(span);
    MicroCoulombs::new(raw.saturating_add(gain)).saturating_add(offset)
}

/// Checks that a calibration is one that can be believed.
///
/// # Errors
/// [`RejectCause::Calibration`] with the gain (ppm) or offset asked for, and the limit it broke.
pub fn check(calibration: &Calibration) -> Result<(), Reject> {
    for (channel, largest_offset) in [
        (calibration.voltage, MAX_VOLTAGE_OFFSET),
        (calibration.current, MAX_CURRENT_OFFSET),
        (calibration.cell_temperature, MAX_TEMPERATURE_OFFSET),
        (calibration.ambient_temperature, MAX_TEMPERATURE_OFFSET),
    ] {
        for (asked, limit) in [(channel.gain_ppm, MAX_GAIN_PPM), (channel.offset, largest_offset)] {
            if asked.unsigned_abs() > limit.unsigned_abs() {
                let (asked, limit) = (i64::from(asked), i64::from(limit));
                return Err(Reject { cause: RejectCause::Calibration, asked, limit });
            }
        }
    }
    Ok(())
}

/// Returns `code x numerator / denominator` of a step, rounded to nearest; saturates.
fn scaled(code: i32, (numerator, denominator): (i64, i64)) -> i32 {
    let scaled = (i64::from(code) * numerator + denominator / 2).div_euclid(denominator);
    i32::try_from(scaled).unwrap_or(if scaled < 0 { i32::MIN } else { i32::MAX })
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Channel = Channel { gain_ppm: 0, offset: 0 };

    #[test]
    fn codes_become_units_exactly() {
        let calibration = Calibration::default();
        assert_eq!(voltage(VoltageCode(20_480), &calibration).get(), 4_000_000);
        assert_eq!(voltage(VoltageCode(1), &calibration).get(), 195);
        assert_eq!(current(ShuntCode(32_000), &calibration).get(), 1_000_000);
        assert_eq!(current(ShuntCode(-32_000), &calibration).get(), -1_000_000);
        assert_eq!(temperature(TemperatureCode(3_200), NONE).get(), 25_000);
        assert_eq!(temperature(TemperatureCode(-128), NONE).get(), -1_000);
        assert_eq!(charge(ChargeCode(32_000), Micros::ZERO, &calibration).get(), 1_000_000);
    }

    #[test]
    fn no_calibration_maps_two_codes_to_one_value() {
        // The guard takes two equal readings for two equal codes.
        for gain_ppm in [-MAX_GAIN_PPM, -12_345, 0, 12_345, MAX_GAIN_PPM] {
            let channel = Channel { gain_ppm, offset: 1 };
            let calibration = Calibration { voltage: channel, current: channel, ..Calibration::default() };
            for code in (0..500_000).step_by(997).chain(0..1_000) {
                let (here, next) = (VoltageCode(code), VoltageCode(code + 1));
                assert!(voltage(here, &calibration) < voltage(next, &calibration), "{gain_ppm} {code}");
                for code in [code, -code] {
                    let (here, next) = (ShuntCode(code), ShuntCode(code + 1));
                    assert!(current(here, &calibration) < current(next, &calibration), "{gain_ppm} {code}");
                }
            }
        }
    }

    #[test]
    fn rounding_is_to_the_nearest_on_both_sides_of_zero() {
        let calibration = Calibration::default();
        assert_eq!(current(ShuntCode(1), &calibration).get(), 31);
        assert_eq!(current(ShuntCode(-1), &calibration).get(), -31);
        assert_eq!(current(ShuntCode(3), &calibration).get(), 94);
        assert_eq!(current(ShuntCode(-3), &calibration).get(), -94);
    }

    #[test]
    fn the_calibration_corrects_current_and_charge_alike() {
        let calibration =
            Calibration { current: Channel { gain_ppm: -2_000, offset: 500 }, ..Default::default() };
        assert_eq!(current(ShuntCode(32_000), &calibration).get(), 998_500);
        let hour = Micros::from_secs(3_600);
        let counted = charge(ChargeCode(32_000 * 3_600), hour, &calibration);
        assert_eq!(counted, MicroAmps::new(998_500).charge_in(hour));
    }

    #[test]
    fn a_calibration_outside_what_is_believed_is_refused_with_its_figure() {
        let mut calibration = Calibration::default();
        assert_eq!(check(&calibration), Ok(()));
        calibration.ambient_temperature.offset = -MAX_TEMPERATURE_OFFSET;
        calibration.voltage.gain_ppm = MAX_GAIN_PPM;
        assert_eq!(check(&calibration), Ok(()));
        calibration.current.offset = i32::MIN;
        let reject = check(&calibration).unwrap_err();
        assert_eq!((reject.asked, reject.limit), (i64::from(i32::MIN), 10_000));
        calibration.current.offset = 0;
        calibration.voltage.gain_ppm = -30_001;
        let reject = check(&calibration).unwrap_err();
        assert_eq!((reject.asked, reject.limit), (-30_001, 30_000));
    }
}
