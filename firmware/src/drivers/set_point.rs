//! The set-point converter: tells the sink which current it shall draw.
//!
//! Takes the bus and a current, gives nothing back. A 12-bit converter of the MCP4725 kind at address 0x60. Facts
//! from its data sheet (DS22039D; sources of each in `hardware-notes/chip_facts.toml`): a fast write is two bytes, `0 0
//! PD1 PD0 D11..D8` and `D7..D0`, and does not touch the chip's permanent memory; the output is code / 4096 of full
//! scale. Full scale is 6 A of sink current.

use crate::bus::no_data;
use celltriage_protocol::units::{MicroAmps, Reading};
use embedded_hal::i2c::I2c;

/// Bus address.
pub const ADDRESS: u8 = 0x60;

const FULL_SCALE_UA: i64 = 6_000_000;
const STEPS: i64 = 4_096;

/// Returns the code for a current: rounded down, so that the sink never draws more than was asked for.
pub const fn code(current: MicroAmps) -> u16 {
    let code = current.get() as i64 * STEPS / FULL_SCALE_UA;
    if code < 0 {
        0
    } else if code >= STEPS {
        STEPS as u16 - 1
    } else {
        code as u16
    }
}

/// Writes a set point; a current below zero is zero.
///
/// # Errors
/// As [`no_data`] says where the bus fails; the converter may then have the old set point or the new one.
pub fn write(bus: &mut impl I2c, current: MicroAmps) -> Reading<()> {
    // The four high bits of a 12-bit code are zero: fast write, no power-down.
    bus.write(ADDRESS, &code(current).to_be_bytes()).map_err(|error| no_data(&error))
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
    use proptest::prelude::*;
    use std::vec;

    #[test]
    fn three_amperes_are_half_scale_in_a_fast_write() {
        let mut bus = Mock::new(&[Transaction::write(ADDRESS, vec![0x08, 0x00])]);
        assert_eq!(write(&mut bus, MicroAmps::from_milliamps(3_000)), Ok(()));
        bus.done();
    }

    #[test]
    fn less_than_nothing_is_nothing_and_too_much_is_full_scale() {
        assert_eq!(code(MicroAmps::from_milliamps(-1)), 0);
        assert_eq!(code(MicroAmps::MAX), 4_095);
    }

    proptest! {
        #[test]
        fn the_code_never_asks_for_more_and_lacks_less_than_a_step(current in 0..5_998_000i32) {
            let told = i64::from(code(MicroAmps::new(current))) * FULL_SCALE_UA / STEPS;
            prop_assert!(told <= i64::from(current));
            prop_assert!(i64::from(current) - told <= FULL_SCALE_UA / STEPS + 1);
        }
    }
}
