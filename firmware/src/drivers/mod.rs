//! One file per chip kind: registers in, codes out, nothing converted and nothing remembered.
//!
//! Every driver takes the bus for one transfer and gives a [`Reading`] of a raw code. What a code means in volts,
//! amperes or degrees is [`crate::convert`]'s business. Register addresses, bits and code steps are facts of the
//! chips' data sheets (INA228, TMP117, MCP4725); each has its sources in `hardware-notes/chip_facts.toml`, and a check of
//! the hardware notes compares the constants here with it.

pub mod power_monitor;
pub mod set_point;
pub mod thermometer;

use crate::bus::no_data;
use celltriage_protocol::units::Reading;
use embedded_hal::i2c::I2c;

/// Reads `N` bytes of a register in one transfer.
fn read_register<const N: usize>(bus: &mut impl I2c, address: u8, register: u8) -> Reading<[u8; N]> {
    let mut bytes = [0; N];
    bus.write_read(address, &[register], &mut bytes).map_err(|error| no_data(&error))?;
    Ok(bytes)
}

/// Reads a 16-bit register, high byte first.
fn read_word(bus: &mut impl I2c, address: u8, register: u8) -> Reading<u16> {
    read_register(bus, address, register).map(u16::from_be_bytes)
}

/// Writes a 16-bit register, high byte first.
fn write_word(bus: &mut impl I2c, address: u8, register: u8, word: u16) -> Reading<()> {
    let [high, low] = word.to_be_bytes();
    bus.write(address, &[register, high, low]).map_err(|error| no_data(&error))
}
