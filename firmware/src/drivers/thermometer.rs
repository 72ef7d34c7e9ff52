//! A thermometer: one on the cell, one in the air.
//!
//! Takes the bus, gives raw codes. A chip of the TMP117 kind. Facts from its data sheet (SNOSD82D; sources of each in
//! `hardware-notes/chip_facts.toml`): TEMP_RESULT 0x00 is signed, 7.8125 thousandths of a degree a step, 0x8000 until the
//! first conversion has ended; CONFIGURATION 0x01 has the flag of new data in bit 13 (cleared by reading either
//! register), the mode in bits 11-10, the conversion cycle in bits 9-7, the averages in bits 6-5; DEVICE_ID 0x0F has
//! 0x117 in its low 12 bits. The sensor is specified from -55 to 150 degrees.

use super::{read_word, write_word};
use celltriage_protocol::units::{NoData, Reading};
use embedded_hal::i2c::I2c;

const TEMP_RESULT: u8 = 0x00;
const CONFIGURATION: u8 = 0x01;
const DEVICE_ID: u8 = 0x0F;

const DATA_READY: u16 = 1 << 13;
/// Continuous conversion, shortest cycle, eight averages: a new result every 125 ms.
const SETTINGS: u16 = 0b01 << 5;
const SETTINGS_MASK: u16 = 0b11 << 10 | 0b111 << 7 | 0b11 << 5;
const DEVICE: u16 = 0x117;
/// DEVICE_ID without its four revision bits.
const DEVICE_MASK: u16 = 0xFFF;
const NO_CONVERSION_YET: i16 = i16::MIN;
/// -55 and 150 degrees in steps of 1/128 degree.
const PLAUSIBLE: core::ops::RangeInclusive<i16> = -7_040..=19_200;

/// Which thermometer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Thermometer {
    /// Pressed on the cell, address 0x48.
    Cell = 0x48,
    /// In the air, address 0x49.
    Ambient = 0x49,
}

/// Raw code of a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TemperatureCode(pub i16);

impl Thermometer {
    /// Returns the bus address.
    pub const fn address(self) -> u8 {
        self as u8
    }

    /// Checks that the right chip is there and sets it up.
    ///
    /// # Errors
    /// What [`crate::bus::no_data`] says where the bus fails, [`NoData::Implausible`] where another chip answers.
    pub fn set_up(self, bus: &mut impl I2c) -> Reading<()> {
        if read_word(bus, self.address(), DEVICE_ID)? & DEVICE_MASK != DEVICE {
            return Err(NoData::Implausible);
        }
        write_word(bus, self.address(), CONFIGURATION, SETTINGS)
    }

    /// Returns the newest temperature.
    ///
    /// # Errors
    /// [`NoData::NotYet`] where there is no new conversion since the last call, what
    /// [`crate::bus::no_data`] says where the bus fails, [`NoData::Implausible`] where the chip has lost its settings or tells a temperature it cannot measure.
    pub fn read(self, bus: &mut impl I2c) -> Reading<TemperatureCode> {
        let configuration = read_word(bus, self.address(), CONFIGURATION)?;
        if configuration & SETTINGS_MASK != SETTINGS {
            return Err(NoData::Implausible);
        }
        if configuration & DATA_READY == 0 {
            return Err(NoData::NotYet);
        }
        let code = read_word(bus, self.address(), TEMP_RESULT)?.cast_signed();
        if code == NO_CONVERSION_YET {
            Err(NoData::NotYet)
        } else if PLAUSIBLE.contains(&code) {
            Ok(TemperatureCode(code))
        } else {
            Err(NoData::Implausible)
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
    use std::vec;

    fn reading(configuration: u16, result: Option<u16>) -> Reading<TemperatureCode> {
        let mut expected =
            vec![Transaction::write_read(0x48, vec![CONFIGURATION], configuration.to_be_bytes().to_vec())];
        if let Some(result) = result {
            expected.push(Transaction::write_read(0x48, vec![TEMP_RESULT], result.to_be_bytes().to_vec()));
        }
        let mut bus = Mock::new(&expected);
        let reading = Thermometer::Cell.read(&mut bus);
        bus.done();
        reading
    }

    #[test]
    fn codes_of_twenty_five_degrees_and_of_frost_are_read() {
        assert_eq!(reading(DATA_READY | SETTINGS, Some(0x0C80)), Ok(TemperatureCode(3_200)));
        assert_eq!(reading(DATA_READY | SETTINGS, Some(0xFFFF)), Ok(TemperatureCode(-1)));
    }

    #[test]
    fn no_new_conversion_is_not_yet() {
        assert_eq!(reading(SETTINGS, None), Err(NoData::NotYet));
        assert_eq!(reading(DATA_READY | SETTINGS, Some(0x8000)), Err(NoData::NotYet));
    }

    #[test]
    fn lost_settings_and_impossible_temperatures_are_implausible() {
        assert_eq!(reading(DATA_READY | 0x0220, None), Err(NoData::Implausible));
        assert_eq!(reading(DATA_READY | SETTINGS, Some(0x7FFF)), Err(NoData::Implausible));
    }

    #[test]
    fn set_up_refuses_another_chip() {
        let mut right = Mock::new(&[
            Transaction::write_read(0x49, vec![DEVICE_ID], vec![0x01, 0x17]),
            Transaction::write(0x49, vec![CONFIGURATION, 0x00, 0x20]),
        ]);
        assert_eq!(Thermometer::Ambient.set_up(&mut right), Ok(()));
        right.done();
        let mut wrong = Mock::new(&[Transaction::write_read(0x49, vec![DEVICE_ID], vec![0x01, 0x16])]);
        assert_eq!(Thermometer::Ambient.set_up(&mut wrong), Err(NoData::Implausible));
        wrong.done();
    }
}
