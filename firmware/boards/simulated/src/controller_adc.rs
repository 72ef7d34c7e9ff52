//! The controller's own converter, with the dividers before its pins: volts and amperes in, codes of twelve bits out.
//!
//! Written from what is published of the part, not from the firmware's conversion: twelve bits over the converter's supply,
//! at least 9 effective bits (RP2350 data sheet, as quoted in arduino-pico discussion 2763); steps at multiples of 512 codes
//! and a zero that is off (measured with a 16-bit source there, issue 2534); a supply behind 200 Ohm that carries 150 to 170 uA
//! (module's data sheet, as quoted in pico-examples pull request 134); a pin that leaks upwards also with its input off
//! (2.7 uA: pico-feedback issue 498 tells 2.9 V where 1 MOhm and 1 MOhm should give 1.53 V). The dividers' values are those of circuit.toml;
//! a test compares them. Not modelled: the filters (0.1 ms and less).

use crate::chips::noise::Noise;
use celltriage_firmware::board::LookCodes;

/// Half of the force lead's divider, R29 or R30, in ohms.
pub const FORCE_OHM: f64 = 22e3;
/// Half of the reference's divider, R31 or R32, in ohms.
pub const REFERENCE_OHM: f64 = 2.2e3;
/// Resistor before the pin of the current, R33, in ohms.
pub const CURRENT_OHM: f64 = 1e3;
/// Sense resistor of the sink, RS2, in ohms.
pub const SENSE_OHM: f64 = 0.05;
/// What the set point's reference gives, in volts.
pub const REFERENCE_V: f64 = 3.3;
/// Steps of the converter.
const STEPS: f64 = 4_096.0;
/// Noise of one conversion in codes, rms: 9 effective bits have steps of 8 codes, and 8 / sqrt(12) is the noise of such steps.
const NOISE_CODES: f64 = 2.3;
/// Conversions of each pin in one look.
const CONVERSIONS: f64 = 4.0;
/// Jump at each multiple of 512 codes (a quarter of what the older RP2040 has; our choice).
const JUMP_CODES: f64 = 2.5;

/// Errors of the converter and of what lies before it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookErrors {
    /// The module's 3.3 V, relative.
    pub supply: f64,
    /// Drop of the filter before the converter's supply, in volts.
    pub filter_drop_v: f64,
    /// The set point's reference, relative.
    pub reference: f64,
    /// Ratio of the force lead's divider, relative.
    pub divider: f64,
    /// What each pin leaks, in amperes, into what is wired to it.
    pub leak_a: f64,
    /// The converter's zero in codes.
    pub zero_codes: f64,
}

impl Default for LookErrors {
    /// Returns a sound part of the stepping that leaks, with each error inside its bound.
    fn default() -> Self {
        Self {
            supply: -0.01,
            filter_drop_v: 0.032,
            reference: 0.001,
            divider: 0.000_5,
            leak_a: 1.0e-6,
            zero_codes: 6.0,
        }
    }
}

/// The converter.
#[derive(Clone, Debug)]
pub struct ControllerAdc {
    errors: LookErrors,
    noise: Noise,
    /// Whether conversions fail.
    pub fails: bool,
    /// Codes that are repeated for ever.
    pub stuck: Option<LookCodes>,
    /// Added on the force lead, in volts.
    pub force_offset_v: f64,
    /// Added to the current, in amperes.
    pub current_offset_a: f64,
    /// Factor of the reference.
    pub reference_factor: f64,
}

impl ControllerAdc {
    /// Returns a converter with these errors.
    pub const fn new(errors: LookErrors, noise: Noise) -> Self {
        Self {
            errors,
            noise,
            fails: false,
            stuck: None,
            force_offset_v: 0.0,
            current_offset_a: 0.0,
            reference_factor: 1.0,
        }
    }

    /// Mends what was made to fail.
    pub const fn mend(&mut self) {
        (self.fails, self.stuck) = (false, None);
        (self.force_offset_v, self.current_offset_a, self.reference_factor) = (0.0, 0.0, 1.0);
    }

    /// Reads all three pins, if conversions do not fail.
    pub fn look(&mut self, force_v: f64, current_a: f64) -> Option<LookCodes> {
        let LookErrors { reference, divider, leak_a, .. } = self.errors;
        let force_pin_v = (force_v + self.force_offset_v) / 2.0 * (1.0 + divider) + leak_a * FORCE_OHM / 2.0;
        let current_pin_v = (current_a + self.current_offset_a) * SENSE_OHM + leak_a * CURRENT_OHM;
        let reference_v = REFERENCE_V * (1.0 + reference) * self.reference_factor;
        let reference_pin_v = reference_v / 2.0 + leak_a * REFERENCE_OHM / 2.0;
        let codes = LookCodes {
            force: self.code(force_pin_v),
            current: self.code(current_pin_v),
            reference: self.code(reference_pin_v),
        };
        (!self.fails).then(|| self.stuck.unwrap_or(codes))
    }

    fn code(&mut self, pin_v: f64) -> u16 {
        let full_v = REFERENCE_V * (1.0 + self.errors.supply) - self.errors.filter_drop_v;
        // Below ground the pin's diode conducts, above the supply the other one.
        let ideal = pin_v.clamp(-0.3, full_v + 0.3) / full_v * STEPS;
        let jumps = JUMP_CODES * ((ideal / 512.0).floor() - 4.0);
        let seen =
            ideal + jumps + self.errors.zero_codes + self.noise.normal(NOISE_CODES / CONVERSIONS.sqrt());
        seen.clamp(0.0, STEPS - 1.0) as u16
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_firmware::second_look::look;
    use celltriage_protocol::limits;

    fn worst(sign: f64) -> LookErrors {
        LookErrors {
            supply: 0.05 * sign,
            filter_drop_v: 0.034,
            reference: 0.002 * sign,
            divider: 0.001 * sign,
            leak_a: if sign > 0.0 { 2.7e-6 } else { 0.0 },
            zero_codes: 12.0 * sign,
        }
    }

    #[test]
    fn with_every_error_at_its_worst_a_good_look_stays_within_its_margin() {
        let (mut largest_v, mut largest_a) = (0.0_f64, 0.0_f64);
        for errors in [LookErrors::default(), worst(1.0), worst(-1.0)] {
            let mut adc = ControllerAdc::new(errors, Noise::new(3, 5));
            for step in 0..=4_000 {
                let (volts, amps) = (2.5 + f64::from(step) * 0.0005, f64::from(step) * 0.001_25);
                let seen = look(adc.look(volts, amps)).unwrap();
                let error_a = (f64::from(seen.current.get()) * 1e-6 - amps).abs() - amps / 10.0;
                largest_v = largest_v.max((f64::from(seen.voltage.get()) * 1e-6 - volts).abs());
                largest_a = largest_a.max(error_a);
            }
        }
        println!("largest error {:.0} mV, {:.0} mA besides a tenth", largest_v * 1e3, largest_a * 1e3);
        assert!(largest_v < f64::from(limits::LOOK_VOLTAGE_MARGIN.get()) * 1e-6, "{largest_v}");
        assert!(largest_a < f64::from(limits::LOOK_CURRENT_MARGIN.get()) * 1e-6, "{largest_a}");
        assert!(largest_v > 0.02, "the model has errors at all");
    }

    #[test]
    fn pins_below_ground_and_above_the_supply_are_at_the_ends() {
        let mut adc = ControllerAdc::new(LookErrors::default(), Noise::new(3, 5));
        assert_eq!(adc.look(-4.2, 0.0).unwrap().force, 0);
        assert_eq!(adc.look(9.0, 0.0).unwrap().force, 4_095);
    }

    #[test]
    fn what_was_made_to_fail_is_mended() {
        let mut adc = ControllerAdc::new(LookErrors::default(), Noise::new(3, 5));
        adc.fails = true;
        assert_eq!(adc.look(4.0, 0.0), None);
        adc.mend();
        adc.stuck = adc.look(4.0, 0.0);
        assert_eq!(adc.look(3.0, 2.0), adc.stuck);
        adc.mend();
        assert_ne!(adc.look(3.0, 2.0).unwrap().force, adc.look(4.0, 0.0).unwrap().force);
    }
}
