//! The second look at the cell: what the controller's own converter reads, in units.
//!
//! Takes raw codes, gives voltage and current. Nothing of it is shared with the first reading: not the monitor, its bus, its
//! shunt, its amplifier, the sense leads, nor the calibration. In return it is coarse; how coarse, and what follows for the
//! guard, is told by [`celltriage_protocol::limits::LOOK_VOLTAGE_MARGIN`]. The converter's own supply cancels: each pin is
//! measured against the reference of the set point (3.3 V, 0.2 %), which is read with it and must itself be plausible.

use crate::board::LookCodes;
use celltriage_protocol::units::{MicroAmps, MicroVolts, NoData, Reading};

/// Voltage of the reference in microvolts; its pin and that of the force lead see half (circuit.toml: U6, R29 to R32).
pub const REFERENCE_UV: i64 = 3_300_000;
/// Resistance of the sink's sense resistor in microohms (circuit.toml: RS2).
pub const SENSE_UOHM: i64 = 50_000;
/// Largest code of twelve bits.
const LARGEST: u16 = 4_095;
/// Half of the reference, as a code: 2,048 where the converter's supply is the same 3.3 V. The module's supply may be 5 %
/// off, and 34 mV less behind its filter (module's data sheet, as quoted in pico-examples pull request 134); with the
/// converter's own error a tenth is borne. Further away the converter, its supply or the reference is at fault.
const REFERENCE_CODES: core::ops::RangeInclusive<u16> = 1_850..=2_250;

/// A second look at the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Voltage on the positive force lead against the board's ground: the cell's, less the fall over the leads.
    pub voltage: MicroVolts,
    /// Current through the sink's own sense resistor, positive discharging.
    pub current: MicroAmps,
}

/// Returns what the codes mean.
///
/// # Errors
/// [`NoData::NoAnswer`] where there are none, [`NoData::Implausible`] where a code or the reference cannot be,
/// [`NoData::OutOfRange`] where a pin is at the converter's end.
pub fn look(codes: Option<LookCodes>) -> Reading<Look> {
    let LookCodes { force, current, reference } = codes.ok_or(NoData::NoAnswer)?;
    if !REFERENCE_CODES.contains(&reference) || force > LARGEST || current > LARGEST {
        return Err(NoData::Implausible);
    }
    if force == LARGEST || current == LARGEST {
        return Err(NoData::OutOfRange);
    }
    // Both voltages are halved alike. A pin of one volt means 1 V / 50 mOhm = 20 A; at most 2.2 times the reference: it fits.
    let voltage = i64::from(force) * REFERENCE_UV / i64::from(reference);
    let current_pin = i64::from(current) * REFERENCE_UV / 2 / i64::from(reference);
    let current = current_pin * 1_000_000 / SENSE_UOHM;
    let narrow = |value: i64| i32::try_from(value).unwrap_or(i32::MAX);
    Ok(Look { voltage: MicroVolts::new(narrow(voltage)), current: MicroAmps::new(narrow(current)) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(force: u16, current: u16, reference: u16) -> Option<LookCodes> {
        Some(LookCodes { force, current, reference })
    }

    #[test]
    fn codes_of_a_cell_at_four_volts_and_three_amperes() {
        // 2.0 V, 0.15 V and 1.65 V of 3.3 V on the pins, in 4,096 steps.
        let seen = look(codes(2_482, 186, 2_048)).unwrap();
        assert_eq!((seen.voltage.get(), seen.current.get()), (3_999_316, 2_997_060));
        assert_eq!(
            look(codes(0, 0, 2_048)),
            Ok(Look { voltage: MicroVolts::ZERO, current: MicroAmps::ZERO })
        );
    }

    #[test]
    fn the_supply_of_the_converter_cancels() {
        // The same pins with a supply of 3.135 V, five percent less.
        let seen = look(codes(2_613, 196, 2_156)).unwrap();
        assert!((seen.voltage.get() - 4_000_000).abs() < 2_500, "{seen:?}");
        assert!((seen.current.get() - 3_000_000).abs() < 16_000, "{seen:?}");
    }

    #[test]
    fn what_cannot_be_is_no_look() {
        assert_eq!(look(None), Err(NoData::NoAnswer));
        for reference in [0, 1_849, 2_251, 4_095, u16::MAX] {
            assert_eq!(look(codes(2_000, 0, reference)), Err(NoData::Implausible), "{reference}");
        }
        for reference in [1_850, 2_250] {
            assert!(look(codes(2_000, 0, reference)).is_ok(), "{reference}");
        }
        for (force, current, cause) in [
            (4_096, 0, NoData::Implausible),
            (0, 4_096, NoData::Implausible),
            (4_095, 0, NoData::OutOfRange),
            (0, 4_095, NoData::OutOfRange),
        ] {
            assert_eq!(look(codes(force, current, 2_048)), Err(cause));
        }
        let largest = look(codes(4_094, 4_094, 1_850)).unwrap();
        assert_eq!((largest.voltage.get(), largest.current.get()), (7_302_810, 73_028_100));
    }
}
