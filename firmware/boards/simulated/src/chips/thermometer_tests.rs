//! The thermometer against golden codes, its times and its stated noise.

use super::*;

fn chip(offset_c: f64) -> Thermometer {
    Thermometer::new(offset_c, Noise::new(1, 1), 25.0, 0)
}

/// Reads a register at a time when the chip has woken.
fn read(chip: &mut Thermometer, register: u8) -> u16 {
    read_at(chip, register, u64::MAX)
}

fn read_at(chip: &mut Thermometer, register: u8, now_ns: u64) -> u16 {
    chip.write(&[register], now_ns);
    let mut bytes = [0; 2];
    chip.read(&mut bytes, now_ns);
    u16::from_be_bytes(bytes)
}

fn write(chip: &mut Thermometer, register: u8, value: u16, now_ns: u64) {
    let [high, low] = value.to_be_bytes();
    chip.write(&[register, high, low], now_ns);
}

/// Lets the chip take its next result at a temperature.
fn convert(chip: &mut Thermometer, sensor_c: f64) {
    chip.sensor_c = sensor_c;
    let due = chip.next_result();
    chip.followed_ns = due;
    chip.take(due, sensor_c);
}

#[test]
fn power_on_values_are_those_of_the_data_sheet() {
    let mut chip = chip(0.0);
    assert_eq!(read(&mut chip, 0x00), 0x8000);
    assert_eq!(read(&mut chip, 0x01), 0x0220);
    assert_eq!(read(&mut chip, 0x02), 0x6000);
    assert_eq!(read(&mut chip, 0x03), 0x8000);
    assert_eq!(read(&mut chip, 0x04), 0x0000);
    assert_eq!(read(&mut chip, 0x07), 0x0000);
    assert_eq!(read(&mut chip, 0x0F), 0x0117);
}

#[test]
fn the_chip_is_busy_while_it_wakes_and_after_a_reset_converts_from_then_on() {
    let mut chip = chip(0.0);
    assert_eq!(read_at(&mut chip, 0x01, 1_499_999), 0x1220);
    assert_eq!(read_at(&mut chip, 0x04, 1_499_999), 0x4000);
    assert_eq!(read_at(&mut chip, 0x01, 1_500_000), 0x0220);
    assert_eq!(read_at(&mut chip, 0x04, 1_500_000), 0x0000);
    convert(&mut chip, 25.0);
    write(&mut chip, 0x01, 0x0002, 200_000_000);
    assert_eq!(read_at(&mut chip, 0x00, 200_000_000), 0x8000, "a reset forgets the result");
    assert_eq!(chip.next_result(), 200_000_000 + 2_000_000 + 125_000_000);
}

#[test]
fn every_cycle_and_average_takes_the_time_of_the_table() {
    // Milliseconds by cycle (rows) and average (columns).
    for (cycle, row) in [
        [15.5, 125.0, 500.0, 1_000.0],
        [125.0, 125.0, 500.0, 1_000.0],
        [250.0, 250.0, 500.0, 1_000.0],
        [500.0, 500.0, 500.0, 1_000.0],
        [1_000.0; 4],
        [4_000.0; 4],
        [8_000.0; 4],
        [16_000.0; 4],
    ]
    .into_iter()
    .enumerate()
    {
        for (average, milliseconds) in row.into_iter().enumerate() {
            let mut chip = chip(0.0);
            write(&mut chip, 0x01, (cycle << 7 | average << 5) as u16, 2_000_000);
            let first = chip.next_result();
            convert(&mut chip, 25.0);
            assert_eq!((chip.next_result() - first) as f64 * 1e-6, milliseconds, "{cycle} {average}");
        }
    }
}

#[test]
fn alarms_stay_until_the_configuration_is_read() {
    let mut chip = chip(0.0);
    write(&mut chip, 0x01, 0x0020, 2_000_000);
    write(&mut chip, 0x02, 30 << 7, 2_000_000);
    write(&mut chip, 0x03, 10 << 7, 2_000_000);
    convert(&mut chip, 40.0);
    convert(&mut chip, 0.0);
    convert(&mut chip, 20.0);
    let _ = read(&mut chip, 0x00);
    assert_eq!(read(&mut chip, 0x01), 0xC020, "both alarms outlive their cause and a read of the result");
    assert_eq!(read(&mut chip, 0x01), 0x0020);
    convert(&mut chip, 20.0);
    assert_eq!(read(&mut chip, 0x01), 0x2020);
}

#[test]
fn as_a_thermostat_the_high_alarm_ends_below_the_low_limit_and_no_read_clears_it() {
    let mut chip = chip(0.0);
    write(&mut chip, 0x01, 0x0030, 2_000_000);
    write(&mut chip, 0x02, 30 << 7, 2_000_000);
    write(&mut chip, 0x03, 10 << 7, 2_000_000);
    for (celsius, alarm) in [(20.0, 0), (40.0, 0x8000), (20.0, 0x8000), (0.0, 0), (20.0, 0)] {
        convert(&mut chip, celsius);
        assert_eq!(read(&mut chip, 0x01), 0x2030 | alarm, "{celsius}");
        assert_eq!(read(&mut chip, 0x01), 0x0030 | alarm, "{celsius}");
    }
}

#[test]
fn the_offset_register_is_added_to_the_result_and_stops_at_the_ends() {
    let mut chip = chip(0.0);
    write(&mut chip, 0x07, (10 << 7) as u16, 2_000_000);
    convert(&mut chip, 25.0);
    let code = f64::from(read(&mut chip, 0x00));
    assert!((code - 4_480.0).abs() < 6.0, "{code}");
    write(&mut chip, 0x07, 0x7FFF, 2_000_000);
    convert(&mut chip, 25.0);
    assert_eq!(read(&mut chip, 0x00), 0x7FFF);
}

#[test]
fn the_second_code_of_continuous_conversion_reads_back_as_the_first() {
    let mut chip = chip(0.0);
    write(&mut chip, 0x01, 0x0820, 2_000_000);
    assert_eq!(chip.next_result(), 127_000_000);
    assert_eq!(read(&mut chip, 0x01), 0x0020);
}

#[test]
fn only_an_open_memory_keeps_what_is_written_and_it_is_shut_again_by_power_up() {
    let mut chip = chip(0.0);
    write(&mut chip, 0x01, 0x0420, 2_000_000);
    chip.power_up(3_000_000);
    assert_eq!(read(&mut chip, 0x01), 0x0220);
    write(&mut chip, 0x04, 0xFFFF, 10_000_000);
    assert_eq!(read(&mut chip, 0x04), 0x8000);
    write(&mut chip, 0x01, 0x0420, 10_000_000);
    assert_eq!(read_at(&mut chip, 0x01, 16_999_999), 0x1420, "it programs for 7 ms");
    assert_eq!(read_at(&mut chip, 0x01, 17_000_000), 0x0420);
    write(&mut chip, 0x07, 0x0080, 20_000_000);
    chip.power_up(30_000_000);
    assert_eq!(chip.next_result(), u64::MAX, "it wakes shut down");
    assert_eq!((read(&mut chip, 0x01), read(&mut chip, 0x07), read(&mut chip, 0x04)), (0x0420, 0x0080, 0));
}

#[test]
fn the_first_result_comes_after_eight_conversions_and_then_each_second() {
    let mut chip = chip(0.0);
    assert_eq!(chip.next_result(), 125_000_000);
    chip.take(125_000_000, 25.0);
    assert_eq!(chip.next_result(), 1_125_000_000);
    assert_eq!(read(&mut chip, 0x01), 0x2220);
    assert_eq!(read(&mut chip, 0x01), 0x0220, "reading clears the ready flag");
    let code = f64::from(read(&mut chip, 0x00));
    assert!((code - 3_200.0).abs() < 6.0, "25 degrees are code 3200, noise about one: {code}");
}

#[test]
fn noise_is_about_one_code_with_eight_averages() {
    let mut chip = chip(0.0);
    chip.write(&[0x01, 0x00, 0x20], 0);
    let count = 4_000;
    let codes: Vec<f64> = (0..count)
        .map(|_| {
            let due = chip.next_result();
            chip.take(due, 25.0);
            f64::from(read(&mut chip, 0x00)) - 3_200.0
        })
        .collect();
    let mean = codes.iter().sum::<f64>() / f64::from(count);
    let deviation = (codes.iter().map(|code| (code - mean).powi(2)).sum::<f64>() / f64::from(count)).sqrt();
    // One code of noise and the 1/sqrt(12) of rounding; 4000 values tell it to about 1.1 %, four times that here.
    assert!((deviation / (1.0_f64 + 1.0 / 12.0).sqrt() - 1.0).abs() < 0.045, "{deviation}");
    assert!(mean.abs() < 4.0 / f64::from(count).sqrt() * 1.05, "{mean}");
}

#[test]
fn the_sensor_lags_behind_what_it_touches() {
    let mut chip = chip(0.0);
    chip.take(4_000_000_000, 35.0);
    assert!((chip.sensor_c - (25.0 + 10.0 * (1.0 - (-1.0_f64).exp()))).abs() < 1e-9);
}

#[test]
fn shut_down_stops_and_one_shot_is_one() {
    let mut chip = chip(0.0);
    chip.write(&[0x01, 0x04, 0x20], 0);
    assert_eq!(chip.next_result(), u64::MAX);
    chip.write(&[0x01, 0x0C, 0x00], 2_000_000);
    assert_eq!(chip.next_result(), 2_000_000 + 15_500_000);
    chip.take(17_500_000, 25.0);
    assert_eq!(read(&mut chip, 0x01), 0x2400);
    assert_eq!(chip.next_result(), u64::MAX);
}

#[test]
fn a_stuck_chip_keeps_its_register() {
    let mut chip = chip(0.0);
    chip.take(125_000_000, 25.0);
    let before = read(&mut chip, 0x00);
    for (says_ready, flag) in [(false, 0), (true, 0x2000)] {
        chip.set_stuck(Some(says_ready));
        let due = chip.next_result();
        chip.take(due, 60.0);
        assert_eq!(read(&mut chip, 0x01) & 0x2000, flag);
        assert_eq!(read(&mut chip, 0x00), before);
    }
}
