//! The thermometer against golden codes, its times and its stated noise.

use super::*;

fn chip(offset_c: f64) -> Thermometer {
    Thermometer::new(offset_c, Noise::new(1, 1), 25.0, 0)
}

fn read(chip: &mut Thermometer, register: u8) -> u16 {
    chip.write(&[register], 0);
    let mut bytes = [0; 2];
    chip.read(&mut bytes);
    u16::from_be_bytes(bytes)
}

#[test]
fn power_on_values_are_those_of_the_data_sheet() {
    let mut chip = chip(0.0);
    assert_eq!(read(&mut chip, 0x00), 0x8000);
    assert_eq!(read(&mut chip, 0x01), 0x0220);
    assert_eq!(read(&mut chip, 0x02), 0x6000);
    assert_eq!(read(&mut chip, 0x03), 0x8000);
    assert_eq!(read(&mut chip, 0x0F), 0x0117);
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
    chip.write(&[0x01, 0x0C, 0x00], 1_000);
    assert_eq!(chip.next_result(), 1_000 + ONE_NS);
    chip.take(1_000 + ONE_NS, 25.0);
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
