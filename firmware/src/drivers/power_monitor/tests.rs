//! Transfers byte for byte, with codes worked out by hand from the steps in the data sheet.

extern crate std;
use super::*;
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
use std::vec;

fn bus(register: u8, answer: &[u8]) -> Mock {
    Mock::new(&[Transaction::write_read(ADDRESS, vec![register], answer.to_vec())])
}

#[test]
fn a_bus_voltage_code_is_its_upper_twenty_bits() {
    // 4.0 V / 195.3125 uV = 20480 = 0x05000; the four low bits are not part of the value.
    let mut bus = bus(VBUS, &[0x05, 0x00, 0x0F]);
    assert_eq!(voltage(&mut bus), Ok(VoltageCode(20_480)));
    bus.done();
}

#[test]
fn a_shunt_code_keeps_its_sign() {
    let mut plus = bus(VSHUNT, &[0x07, 0xD0, 0x00]);
    assert_eq!(shunt(&mut plus), Ok(ShuntCode(32_000)));
    plus.done();
    let mut minus = bus(VSHUNT, &[0xFF, 0xFF, 0xF0]);
    assert_eq!(shunt(&mut minus), Ok(ShuntCode(-1)));
    minus.done();
}

#[test]
fn full_scale_and_negative_bus_voltage_are_not_values() {
    for (register, answer, expected) in
        [(VSHUNT, [0x7F, 0xFF, 0xF0], NoData::OutOfRange), (VSHUNT, [0x80, 0x00, 0x00], NoData::OutOfRange)]
    {
        let mut bus = bus(register, &answer);
        assert_eq!(shunt(&mut bus), Err(expected));
        bus.done();
    }
    for (answer, expected) in
        [([0x7F, 0xFF, 0xF0], NoData::OutOfRange), ([0x80, 0x00, 0x00], NoData::Implausible)]
    {
        let mut bus = bus(VBUS, &answer);
        assert_eq!(voltage(&mut bus), Err(expected));
        bus.done();
    }
}

#[test]
fn the_charge_counter_is_a_signed_forty_bit_number() {
    for (answer, expected) in [
        ([0x00, 0x00, 0x00, 0x7D, 0x00], 32_000),
        ([0xFF, 0xFF, 0xFF, 0xFF, 0xFE], -2),
        ([0x7F, 0xFF, 0xFF, 0xFF, 0xFF], (1i64 << 39) - 1),
    ] {
        let mut bus = bus(CHARGE, &answer);
        assert_eq!(charge(&mut bus), Ok(ChargeCode(expected)));
        bus.done();
    }
}

#[test]
fn the_ready_flag_is_told_and_damaged_memory_is_a_fault() {
    for (flags, expected) in [
        (0x8003, Ok(Conversion::Fresh)),
        (0x8001, Ok(Conversion::Seen)),
        (0x8002, Err(NoData::Implausible)),
        // Without the latch, or with more settings than ours, the flags tell nothing.
        (0x0003, Ok(Conversion::SettingsLost)),
        (0x0001, Ok(Conversion::SettingsLost)),
        (0xC003, Ok(Conversion::SettingsLost)),
    ] {
        let mut bus = bus(DIAG_ALRT, &u16::to_be_bytes(flags));
        assert_eq!(conversion(&mut bus), expected, "{flags:#x}");
        bus.done();
    }
}

#[test]
fn a_silent_chip_is_no_answer() {
    let silent = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
    let mut bus =
        Mock::new(&[Transaction::write_read(ADDRESS, vec![VBUS], vec![0, 0, 0]).with_error(silent)]);
    assert_eq!(voltage(&mut bus), Err(NoData::NoAnswer));
    bus.done();
}

#[test]
fn set_up_checks_writes_and_reads_back() {
    let settings = Settings::for_period(1_000);
    let mut bus = Mock::new(&[
        Transaction::write_read(ADDRESS, vec![MANUFACTURER_ID], vec![0x54, 0x49]),
        Transaction::write_read(ADDRESS, vec![DEVICE_ID], vec![0x22, 0x81]),
        Transaction::write(ADDRESS, vec![CONFIG, 0x40, 0x00]),
        Transaction::write(ADDRESS, vec![SHUNT_CAL, 0x10, 0x00]),
        Transaction::write(ADDRESS, vec![DIAG_ALRT, 0x80, 0x00]),
        Transaction::write_read(ADDRESS, vec![DIAG_ALRT], vec![0x80, 0x03]),
        Transaction::write(ADDRESS, vec![ADC_CONFIG, 0xB6, 0xD8]),
        Transaction::write_read(ADDRESS, vec![SHUNT_CAL], vec![0x10, 0x00]),
        Transaction::write_read(ADDRESS, vec![ADC_CONFIG], vec![0xB6, 0xD8]),
    ]);
    assert_eq!(set_up(&mut bus, settings), Ok(()));
    bus.done();
}

#[test]
fn a_latch_that_is_not_kept_is_no_set_up() {
    let mut bus = Mock::new(&[
        Transaction::write_read(ADDRESS, vec![MANUFACTURER_ID], vec![0x54, 0x49]),
        Transaction::write_read(ADDRESS, vec![DEVICE_ID], vec![0x22, 0x81]),
        Transaction::write(ADDRESS, vec![CONFIG, 0x40, 0x00]),
        Transaction::write(ADDRESS, vec![SHUNT_CAL, 0x10, 0x00]),
        Transaction::write(ADDRESS, vec![DIAG_ALRT, 0x80, 0x00]),
        Transaction::write_read(ADDRESS, vec![DIAG_ALRT], vec![0x00, 0x03]),
    ]);
    assert_eq!(set_up(&mut bus, Settings::for_period(1_000)), Err(NoData::Implausible));
    bus.done();
}

#[test]
fn another_chip_is_not_set_up() {
    let mut bus = Mock::new(&[
        Transaction::write_read(ADDRESS, vec![MANUFACTURER_ID], vec![0x54, 0x49]),
        Transaction::write_read(ADDRESS, vec![DEVICE_ID], vec![0x23, 0x80]),
    ]);
    assert_eq!(set_up(&mut bus, Settings::for_period(1_000)), Err(NoData::Implausible));
    bus.done();
}

#[test]
fn every_period_gets_a_fresh_result_and_long_ones_are_averaged() {
    for period_us in [1_000, 2_000, 6_700, 10_000, 20_000, 50_000, 100_000, 500_000, 1_000_000] {
        let settings = Settings::for_period(period_us);
        assert!(settings.conversion_us() + settings.conversion_us() / 32 < period_us, "{period_us}");
    }
    assert_eq!(Settings::for_period(1_000).averages, 1);
    assert_eq!(Settings::for_period(10_000).averages, 4);
    assert_eq!(Settings::for_period(100_000).averages, 64);
    assert_eq!(Settings::for_period(1_000_000).averages, 512);
}
