//! The power monitor against golden codes and its stated noise.

use super::*;

const EXACT: ChannelErrors =
    ChannelErrors { voltage_gain: 0.0, voltage_offset_v: 0.0, current_gain: 0.0, shunt_offset_v: 0.0 };
/// Continuous shunt and bus, 280 us each, no averaging: a cycle of 560 us.
const QUICK: [u8; 3] = [0x01, 0xB6, 0xD8];
/// Continuous shunt and bus, 4120 us each, 1024 averages: a cycle of 8.4 s, noise far below a code.
const QUIET: [u8; 3] = [0x01, 0xBF, 0xFF];

fn chip(errors: ChannelErrors) -> PowerMonitor {
    PowerMonitor::new(errors, Noise::new(7, 0), 26.0, 0)
}

fn read<const BYTES: usize>(chip: &mut PowerMonitor, register: u8) -> [u8; BYTES] {
    chip.write(&[register], 0);
    let mut bytes = [0; BYTES];
    chip.read(&mut bytes);
    bytes
}

/// Plays constant voltage and current until a time, stopping where the chip wants it.
fn play(chip: &mut PowerMonitor, from_ns: u64, until_ns: u64, bus_v: f64, shunt_a: f64) {
    let mut now = from_ns;
    while now < until_ns {
        let to = chip.next_stop(now, until_ns).min(until_ns);
        chip.take(now, to, bus_v, shunt_a);
        now = to;
    }
}

#[test]
fn power_on_values_are_those_of_the_data_sheet() {
    let mut chip = chip(EXACT);
    assert_eq!(read(&mut chip, 0x00), [0x00, 0x00]);
    assert_eq!(read(&mut chip, 0x01), [0xFB, 0x68]);
    assert_eq!(read(&mut chip, 0x02), [0x10, 0x00]);
    assert_eq!(read(&mut chip, 0x05), [0, 0, 0]);
    assert_eq!(read(&mut chip, 0x0A), [0; 5]);
    assert_eq!(read(&mut chip, 0x0B), [0x00, 0x01]);
    assert_eq!(read(&mut chip, 0x3E), [0x54, 0x49]);
    assert_eq!(read(&mut chip, 0x3F), [0x22, 0x81]);
    assert_eq!(read(&mut chip, 0x3F), [0x22, 0x81, 0xFF], "past the register the bus reads as ones");
}

#[test]
fn voltage_current_and_charge_read_as_their_codes() {
    let mut chip = chip(EXACT);
    chip.write(&QUIET, 0);
    let cycle = chip.next_result();
    play(&mut chip, 0, cycle, 4.0, 1.0);
    // 4 V / 195.3125 uV = 20480; 10 mV / 312.5 nV = 32000; both in bits 23 to 4.
    assert_eq!(read(&mut chip, 0x05), [0x05, 0x00, 0x00]);
    for register in [0x04, 0x07] {
        let [high, middle, low] = read(&mut chip, register);
        let code = i64::from(u32::from_be_bytes([0, high, middle, low]) >> 4);
        assert!((code - 32_000).abs() <= 1, "{code}");
    }
    // 1 A for 8.43776 s in steps of 31.25 uC.
    let [a, b, c, d, e] = read(&mut chip, 0x0A);
    let charge = i64::from_be_bytes([0, 0, 0, a, b, c, d, e]);
    assert!((charge - 270_008).abs() <= 4, "{charge}");
}

#[test]
fn the_ready_flag_waits_for_a_read_only_with_the_latch() {
    let mut chip = chip(EXACT);
    chip.write(&QUICK, 0);
    play(&mut chip, 0, 560_000, 4.0, 1.0);
    assert_eq!(read(&mut chip, 0x0B), [0, 1], "without the latch it is gone before anybody looks");
    chip.write(&[0x0B, 0x80, 0x00], 560_000);
    assert_eq!(read(&mut chip, 0x0B), [0x80, 1], "a conversion from before the latch is not told");
    play(&mut chip, 560_000, 1_120_000, 4.0, 1.0);
    let _: [u8; 3] = read(&mut chip, 0x05);
    assert_eq!(read(&mut chip, 0x0B), [0x80, 3], "reading a result does not clear it");
    assert_eq!(read(&mut chip, 0x0B), [0x80, 1], "reading the flags does");
    play(&mut chip, 1_120_000, 1_680_000, 4.0, 1.0);
    chip.write(&QUICK, 1_680_000);
    assert_eq!(read(&mut chip, 0x0B), [0x80, 1], "so does a new beginning");
    play(&mut chip, 1_680_000, 2_240_000, 4.0, 1.0);
    chip.write(&[0x0B, 0x00, 0x00], 2_240_000);
    assert_eq!(read(&mut chip, 0x0B), [0, 1], "the flag does not outlive the latch");
}

#[test]
fn a_negative_current_is_two_s_complement_and_a_negative_voltage_reads_as_zero() {
    let mut chip = chip(EXACT);
    chip.write(&QUIET, 0);
    let cycle = chip.next_result();
    play(&mut chip, 0, cycle, -4.0, -1.0);
    assert_eq!(read(&mut chip, 0x05), [0, 0, 0]);
    let [high, middle, low] = read(&mut chip, 0x04);
    let code = i32::from_be_bytes([high, middle, low, 0]) >> 12;
    assert!((code + 32_000).abs() <= 1, "{code}");
    assert_eq!(read::<5>(&mut chip, 0x0A)[0], 0xFF);
}

#[test]
fn results_stop_at_the_ends_of_their_range() {
    let mut chip = chip(EXACT);
    chip.write(&QUICK, 0);
    play(&mut chip, 0, 560_000, 4.0, 40.0);
    assert_eq!(read(&mut chip, 0x04), [0x7F, 0xFF, 0xF0]);
}

#[test]
fn the_errors_of_the_channels_are_seen() {
    let mut chip = chip(ChannelErrors { voltage_gain: 0.01, voltage_offset_v: 0.1, ..EXACT });
    chip.write(&QUIET, 0);
    let cycle = chip.next_result();
    play(&mut chip, 0, cycle, 4.0, 0.0);
    let [high, middle, low] = read(&mut chip, 0x05);
    let code = u32::from_be_bytes([0, high, middle, low]) >> 4;
    assert_eq!(code, (4.14 / 195.3125e-6_f64).round() as u32);
}

#[test]
fn the_counter_is_cleared_by_its_bit_and_everything_by_a_reset() {
    let mut chip = chip(EXACT);
    chip.write(&QUICK, 0);
    play(&mut chip, 0, 5_600_000, 4.0, 1.0);
    assert_ne!(read(&mut chip, 0x0A), [0; 5]);
    chip.write(&[0x00, 0x40, 0x00], 5_600_000);
    assert_eq!(read(&mut chip, 0x0A), [0; 5]);
    assert_ne!(read(&mut chip, 0x05), [0; 3]);
    chip.write(&[0x00, 0x80, 0x00], 5_600_000);
    assert_eq!(read(&mut chip, 0x05), [0; 3]);
    assert_eq!(read(&mut chip, 0x01), [0xFB, 0x68]);
    assert_eq!(chip.next_result(), 5_600_000 + 3 * 1_052_000);
}

#[test]
fn noise_is_as_stated_and_falls_with_the_root_of_the_time_spent() {
    // Settings, then factor by which the noise of one 280 us conversion falls.
    for (settings, factor) in [(QUICK, 1.0_f64), ([0x01, 0xB6, 0xDA], 4.0), ([0x01, 0xBF, 0xF8], 3.836)] {
        let mut chip = chip(EXACT);
        chip.write(&settings, 0);
        let cycle = chip.next_result();
        let count = 4_000;
        let (mut bus, mut shunt) = (Vec::new(), Vec::new());
        for index in 0..count {
            play(&mut chip, index * cycle, (index + 1) * cycle, 4.0, 1.0);
            bus.push(f64::from(chip.bus_code) * BUS_LSB_V);
            shunt.push(f64::from(chip.shunt_code) * shunt_lsb_v(false));
        }
        for (values, stated, lsb) in [(bus, 0.7e-3_f64, BUS_LSB_V), (shunt, 3e-6, shunt_lsb_v(false))] {
            let mean = values.iter().sum::<f64>() / count as f64;
            let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / count as f64;
            // Rounding adds a twelfth of a squared code; 4000 values tell the spread to 1.1 %, four times that.
            let expected = ((stated / factor).powi(2) + lsb * lsb / 12.0).sqrt();
            assert!((variance.sqrt() / expected - 1.0).abs() < 0.045, "{} {expected}", variance.sqrt());
        }
    }
}

#[test]
fn a_stuck_chip_keeps_its_results() {
    for (says_ready, diagnosis) in [(false, 1), (true, 3)] {
        let mut chip = chip(EXACT);
        chip.write(&[0x0B, 0x80, 0x00], 0);
        chip.write(&QUICK, 0);
        play(&mut chip, 0, 560_000, 4.0, 0.0);
        let before: [u8; 3] = read(&mut chip, 0x05);
        let _: [u8; 2] = read(&mut chip, 0x0B);
        chip.set_stuck(Some(says_ready));
        play(&mut chip, 560_000, 5_600_000, 3.0, 1.0);
        assert_eq!(read(&mut chip, 0x05), before);
        assert_eq!(read(&mut chip, 0x0B), [0x80, diagnosis]);
    }
}

#[test]
fn a_counter_past_its_end_begins_at_zero_and_says_so_until_it_is_read() {
    let mut chip = chip(EXACT);
    chip.write(&QUICK, 0);
    chip.charge = 549_755_813_888.0 - 1.0;
    play(&mut chip, 0, 560_000, 4.0, 1.0);
    assert_eq!(read(&mut chip, 0x0B), [0x04, 0x01]);
    let [first, ..] = read::<5>(&mut chip, 0x0A);
    assert_eq!(first, 0, "not a large negative charge");
    assert_eq!(read(&mut chip, 0x0B), [0x00, 0x01]);
}

#[test]
fn a_current_that_does_not_fit_is_told_until_the_counters_are_cleared() {
    let mut chip = chip(EXACT);
    chip.write(&QUICK, 0);
    chip.write(&[0x02, 0x00, 0x01], 0);
    play(&mut chip, 0, 560_000, 4.0, 1.0);
    assert_eq!(read(&mut chip, 0x0B), [0x02, 0x01]);
    chip.write(&[0x00, 0x40, 0x00], 560_000);
    assert_eq!(read(&mut chip, 0x0B), [0x00, 0x01]);
}

#[test]
fn stopping_the_conversions_leaves_the_ready_flag_and_the_limits_of_the_bus_are_in_its_codes() {
    let mut chip = chip(EXACT);
    chip.write(&[0x0B, 0x80, 0x00], 0);
    // 3 V in steps of 3.125 mV.
    chip.write(&[0x0F, 0x03, 0xC0], 0);
    chip.write(&QUICK, 0);
    play(&mut chip, 0, 560_000, 2.9, 1.0);
    chip.write(&[0x01, 0x06, 0xD8], 560_000);
    assert_eq!(read(&mut chip, 0x0B), [0x80, 0x0B], "ready, and below the limit of the bus");
    assert_eq!(read(&mut chip, 0x0B), [0x80, 0x01]);
}
