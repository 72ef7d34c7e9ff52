//! The power monitor: voltage at the sense leads, voltage over the shunt, counted charge.
//!
//! Takes the bus, gives raw codes. A chip of the INA228 kind at address 0x40 with a shunt of 10 milliohms. Facts from
//! its data sheet (SLYS021A); table, section and a second source of each are in `hardware-notes/chip_facts.toml`:
//!
//! * VBUS 0x05, 24 bits, value in bits 23-4, never negative, 195.3125 uV a step;
//! * VSHUNT 0x04, 24 bits, value in bits 23-4, signed, 312.5 nV a step = 31.25 uA over 10 milliohms;
//! * CHARGE 0x0A, 40 bits, signed, one step = CURRENT_LSB x 1 s = 31.25 uC with the CURRENT_LSB chosen here;
//! * SHUNT_CAL 0x02 = 13107.2e6 x CURRENT_LSB x shunt = 13107.2e6 x 31.25e-6 x 0.01 = 4096, which is also what the
//!   chip has after power-up;
//! * DIAG_ALRT 0x0B: bit 1 (CNVRF) is set by each new conversion, bit 0 says that its memory is sound. Reading clears bit
//!   1 only with bit 15 (ALATCH) set, which is 0 after power-up: without it the flag clears by itself, whether or not
//!   anything was read. Sources: table 7-16 of the data sheet (read) and an answer of the maker's engineer (E2E forum,
//!   thread 1391284, read). Section 7.3.4 of the same data sheet names the read without the latch; with the latch set, all
//!   of them agree. So it is set, and checked whenever the flags are read.
//!
//! The current is read from VSHUNT and not from the chip's own CURRENT: same step, and one setting fewer to be wrong.

use super::{read_register, read_word, write_word};
use celltriage_protocol::units::{NoData, Reading};
use embedded_hal::i2c::I2c;

/// Bus address.
pub const ADDRESS: u8 = 0x40;

const CONFIG: u8 = 0x00;
const ADC_CONFIG: u8 = 0x01;
const SHUNT_CAL: u8 = 0x02;
const VSHUNT: u8 = 0x04;
const VBUS: u8 = 0x05;
const CHARGE: u8 = 0x0A;
const DIAG_ALRT: u8 = 0x0B;
const MANUFACTURER_ID: u8 = 0x3E;
const DEVICE_ID: u8 = 0x3F;

const CLEAR_ACCUMULATORS: u16 = 1 << 14;
/// DIAG_ALRT: flags stay until they are read.
const LATCH: u16 = 1 << 15;
/// DIAG_ALRT: the bits that are settings; the others are flags.
const ALERT_SETTINGS: u16 = 0xF000;
const CONVERSION_READY: u16 = 1 << 1;
const MEMORY_SOUND: u16 = 1;
/// Current in codes is the shunt's code x 4096 / SHUNT_CAL: with this value the two are the same.
const SHUNT_CALIBRATION: u16 = 4_096;
const MANUFACTURER: u16 = 0x5449;
/// DEVICE_ID without its four revision bits.
const DEVICE: u16 = 0x228;
const REVISION_BITS: u16 = 4;
/// Ends of the signed 20-bit range: a code there is not a value but a full scale.
const LARGEST_CODE: i32 = (1 << 19) - 1;
const SMALLEST_CODE: i32 = -(1 << 19);

/// ADC_CONFIG: continuous conversion of shunt and bus, without the chip's own temperature.
const SHUNT_AND_BUS: u16 = 0xB << 12;
/// ADC_CONFIG: code of a conversion of 280 us, and where the codes of the three channels stand.
const CONVERSION_CODE: u16 = 3;
const BUS_TIME_AT: u16 = 9;
const SHUNT_TIME_AT: u16 = 6;
const TEMPERATURE_TIME_AT: u16 = 3;
/// ADC_CONFIG: codes of averaging, most first.
const AVERAGES: [(u16, u32); 7] = [(7, 1_024), (6, 512), (5, 256), (4, 128), (3, 64), (2, 16), (1, 4)];
/// Time of one voltage and one shunt conversion of 280 us each, in microseconds.
const CONVERSION_PAIR_US: u32 = 560;

/// Raw code of the voltage at the sense leads, never negative.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VoltageCode(pub i32);

/// Raw code of the voltage over the shunt, positive while the cell is discharged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShuntCode(pub i32);

/// Raw code of the charge counter, positive for charge taken out of the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChargeCode(pub i64);

/// How much the chip averages: its ADC_CONFIG register.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    averages_code: u16,
    averages: u32,
}

impl Settings {
    /// Chooses the settings for a sample period in microseconds: as many averages as leave a fresh result for each
    /// sample, and none in the first sample of a step that began before the set point changed.
    ///
    /// The newest result at a moment began at most two conversions before it; to that come 1/32 for the chip's own
    /// clock (1 % from -40 to 125 degrees, SLYS021A section 6.5, and a margin) and 2 ms for the sink and the bus. The
    /// shortest periods cannot have all that: they get no averaging, and [`celltriage_protocol::limits::SETTLE`] covers
    /// the first samples.
    pub const fn for_period(period_us: u32) -> Self {
        let mut rest: &[(u16, u32)] = &AVERAGES;
        while let [(averages_code, averages), slower @ ..] = rest {
            let two_conversions = 2 * CONVERSION_PAIR_US * *averages;
            if two_conversions + two_conversions / 32 + 2_000 <= period_us {
                return Self { averages_code: *averages_code, averages: *averages };
            }
            rest = slower;
        }
        Self { averages_code: 0, averages: 1 }
    }

    /// Returns how long one result takes, in microseconds.
    pub const fn conversion_us(self) -> u32 {
        self.averages * CONVERSION_PAIR_US
    }

    /// Continuous shunt and bus conversions, 280 us each, without the chip's own temperature.
    const fn word(self) -> u16 {
        SHUNT_AND_BUS
            | CONVERSION_CODE << BUS_TIME_AT
            | CONVERSION_CODE << SHUNT_TIME_AT
            | CONVERSION_CODE << TEMPERATURE_TIME_AT
            | self.averages_code
    }
}

/// Checks that the right chip is there, sets it up and reads back what was written; clears the charge counter.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails, [`NoData::Implausible`] where another chip answers or a setting is not
/// kept.
pub fn set_up(bus: &mut impl I2c, settings: Settings) -> Reading<()> {
    expect(read_word(bus, ADDRESS, MANUFACTURER_ID)?, MANUFACTURER)?;
    expect(read_word(bus, ADDRESS, DEVICE_ID)? >> REVISION_BITS, DEVICE)?;
    clear_charge(bus)?;
    write_word(bus, ADDRESS, SHUNT_CAL, SHUNT_CALIBRATION)?;
    write_word(bus, ADDRESS, DIAG_ALRT, LATCH)?;
    expect(read_word(bus, ADDRESS, DIAG_ALRT)? & ALERT_SETTINGS, LATCH)?;
    write_settings(bus, settings)?;
    expect(read_word(bus, ADDRESS, SHUNT_CAL)?, SHUNT_CALIBRATION)?;
    check_settings(bus, settings)
}

/// Writes the settings; conversions start again with them.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails.
pub fn write_settings(bus: &mut impl I2c, settings: Settings) -> Reading<()> {
    write_word(bus, ADDRESS, ADC_CONFIG, settings.word())
}

/// Checks that the chip still has its settings: after a dip of its supply it has others, and its counter is lost. The
/// latch is checked by [`conversion`]: to read it here would clear a flag that nobody has seen.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails, [`NoData::Implausible`] where the settings are others.
pub fn check_settings(bus: &mut impl I2c, settings: Settings) -> Reading<()> {
    expect(read_word(bus, ADDRESS, ADC_CONFIG)?, settings.word())
}

/// Sets the charge counter to zero, and the shunt range to the wide one.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails.
pub fn clear_charge(bus: &mut impl I2c) -> Reading<()> {
    write_word(bus, ADDRESS, CONFIG, CLEAR_ACCUMULATORS)
}

/// What the flags say about the newest conversion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conversion {
    /// One has ended since this was last asked.
    Fresh,
    /// None has ended since.
    Seen,
    /// The flags mean nothing: the latch is not set, so the chip has lost its settings.
    SettingsLost,
}

/// Returns whether a conversion has ended since this was last asked.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails, [`NoData::Implausible`] where the chip says its memory is damaged.
pub fn conversion(bus: &mut impl I2c) -> Reading<Conversion> {
    let flags = read_word(bus, ADDRESS, DIAG_ALRT)?;
    if flags & MEMORY_SOUND == 0 {
        return Err(NoData::Implausible);
    }
    Ok(match (flags & ALERT_SETTINGS, flags & CONVERSION_READY) {
        (LATCH, 0) => Conversion::Seen,
        (LATCH, _) => Conversion::Fresh,
        _ => Conversion::SettingsLost,
    })
}

/// Returns the voltage at the sense leads.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails, [`NoData::Implausible`] for a negative code, which the chip cannot
/// mean, [`NoData::OutOfRange`] at full scale.
pub fn voltage(bus: &mut impl I2c) -> Reading<VoltageCode> {
    match twenty_bits(read_register(bus, ADDRESS, VBUS)?) {
        ..0 => Err(NoData::Implausible),
        LARGEST_CODE => Err(NoData::OutOfRange),
        code => Ok(VoltageCode(code)),
    }
}

/// Returns the voltage over the shunt.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails, [`NoData::OutOfRange`] at either full scale.
pub fn shunt(bus: &mut impl I2c) -> Reading<ShuntCode> {
    match twenty_bits(read_register(bus, ADDRESS, VSHUNT)?) {
        SMALLEST_CODE | LARGEST_CODE => Err(NoData::OutOfRange),
        code => Ok(ShuntCode(code)),
    }
}

/// Returns the charge counter.
///
/// # Errors
/// What [`crate::bus::no_data`] says where the bus fails.
pub fn charge(bus: &mut impl I2c) -> Reading<ChargeCode> {
    let [b4, b3, b2, b1, b0] = read_register(bus, ADDRESS, CHARGE)?;
    // Put at the top of 64 bits and shifted down, so that the sign comes along.
    Ok(ChargeCode(i64::from_be_bytes([b4, b3, b2, b1, b0, 0, 0, 0]) >> 24))
}

/// Returns the signed value in bits 23-4.
const fn twenty_bits([high, middle, low]: [u8; 3]) -> i32 {
    i32::from_be_bytes([high, middle, low, 0]) >> 12
}

fn expect(found: u16, expected: u16) -> Reading<()> {
    if found == expected { Ok(()) } else { Err(NoData::Implausible) }
}

#[cfg(test)]
mod tests;
