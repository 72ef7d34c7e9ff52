//! The set-point converter: its commands, what it stores, and what it does while it stores.

use super::*;

fn read(chip: &SetPoint, now_ns: u64) -> [u8; 5] {
    let mut bytes = [0; 5];
    chip.read(&mut bytes, now_ns);
    bytes
}

#[test]
fn a_new_chip_is_at_half_scale() {
    assert_eq!(SetPoint::default().output(), 0.5);
}

#[test]
fn a_fast_write_sets_the_output_and_power_down_pulls_it_to_zero() {
    let mut chip = SetPoint::default();
    chip.write(&[0x0F, 0xFF], 0);
    assert_eq!(chip.output(), 4_095.0 / 4_096.0);
    chip.write(&[0x01, 0x00, 0x02, 0x34], 0);
    assert_eq!(chip.output(), f64::from(0x234) / 4_096.0);
    chip.write(&[0x10 | 0x02, 0x34], 0);
    assert_eq!(chip.output(), 0.0);
}

#[test]
fn only_a_stored_value_comes_back_after_power_up() {
    let mut chip = SetPoint::default();
    chip.write(&[0x40, 0x12, 0x30], 0);
    assert_eq!(read(&chip, 0), [0xC0, 0x12, 0x30, 0x08, 0x00]);
    chip.power_up();
    assert_eq!(chip.output(), 0.5);
    chip.write(&[0x60, 0x00, 0x00], 0);
    chip.power_up();
    assert_eq!(chip.output(), 0.0);
}

#[test]
fn the_chip_is_not_ready_while_it_stores_and_ignores_every_write() {
    let mut chip = SetPoint::default();
    chip.write(&[0x60, 0x80, 0x00], 1_000);
    assert_eq!(read(&chip, 1_000)[0], 0x40, "not ready");
    chip.write(&[0x00, 0x00], 50_000_999);
    chip.write(&[0x40, 0x00, 0x00], 50_000_999);
    chip.write(&[0x60, 0x00, 0x00], 50_000_999);
    assert_eq!((chip.output(), chip.stored_code), (0.5, 0x800), "a set point of zero is lost");
    assert_eq!(read(&chip, 50_001_000)[0], 0xC0, "ready again");
    chip.write(&[0x00, 0x00], 50_001_000);
    assert_eq!(chip.output(), 0.0);
}

#[test]
fn bytes_may_be_repeated_and_a_store_ignores_what_follows_it() {
    let mut chip = SetPoint::default();
    chip.write(&[0x40, 0x10, 0x00, 0x40, 0x20, 0x00], 0);
    assert_eq!(chip.code, 0x200);
    chip.write(&[0x60, 0x30, 0x00, 0x60, 0x40, 0x00], 0);
    assert_eq!((chip.code, chip.stored_code), (0x300, 0x300));
}

#[test]
fn reserved_commands_change_nothing() {
    let mut chip = SetPoint::default();
    for command in [0x80, 0xA0, 0xC0, 0xE0] {
        chip.write(&[command, 0x00, 0x00], 0);
    }
    assert_eq!(read(&chip, 0), [0xC0, 0x80, 0x00, 0x08, 0x00]);
}
