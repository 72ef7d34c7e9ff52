//! The bench seen through its bus: what chips show of cell, sink, faults and time.

use crate::bench::Bench;
use crate::chips::Chip;
use crate::fault::{Fault, Injection};
use crate::library;
use crate::options::{Imperfections, Options};
use crate::world::FULL_SCALE_A;
use celltriage_protocol::units::Micros;
use embedded_hal::i2c::{ErrorKind, I2c, NoAcknowledgeSource};

/// A bench with chips set up: shunt and bus in turn, 280 us each; thermometers without a pause; set point zero.
fn bench(faults: &[Injection]) -> Bench {
    let options = Options {
        initial_soc: 0.6,
        imperfections: Imperfections::NONE,
        faults: faults.to_vec(),
        ..Options::default()
    };
    let mut bench = Bench::new(library::sound().parameters, &options);
    bench.write(0x40, &[0x01, 0xB6, 0xD8]).unwrap();
    bench.write(0x48, &[0x01, 0x00, 0x20]).unwrap();
    bench.write(0x49, &[0x01, 0x00, 0x20]).unwrap();
    bench.write(0x60, &[0x00, 0x00]).unwrap();
    bench
}

fn sleep(bench: &mut Bench, millis: u64) {
    let until = bench.now_ns() + millis * 1_000_000;
    bench.sleep_until(until);
}

fn voltage(bench: &mut Bench) -> f64 {
    let mut bytes = [0; 3];
    bench.write_read(0x40, &[0x05], &mut bytes).unwrap();
    f64::from(u32::from_be_bytes([0, bytes[0], bytes[1], bytes[2]]) >> 4) * 195.3125e-6
}

fn current(bench: &mut Bench) -> f64 {
    let mut bytes = [0; 3];
    bench.write_read(0x40, &[0x07], &mut bytes).unwrap();
    f64::from(i32::from_be_bytes([bytes[0], bytes[1], bytes[2], 0]) >> 12) * 31.25e-6
}

fn temperature(bench: &mut Bench, address: u8) -> f64 {
    let mut bytes = [0; 2];
    bench.write_read(address, &[0x00], &mut bytes).unwrap();
    f64::from(i16::from_be_bytes(bytes)) * 7.8125e-3
}

fn load(bench: &mut Bench, amps: f64) {
    let [high, low] = ((amps / FULL_SCALE_A * 4_096.0) as u16).to_be_bytes();
    bench.write(0x60, &[high, low]).unwrap();
    bench.set_load_enable(true);
}

#[test]
fn a_transaction_takes_nine_bits_a_byte_at_400_kilohertz() {
    let mut bench = bench(&[]);
    let (before, count) = (bench.now_ns(), bench.transactions());
    voltage(&mut bench);
    // Address, register, address again, three bytes.
    assert_eq!(bench.now_ns() - before, 6 * 22_500);
    assert_eq!(bench.transactions(), count + 1);
}

#[test]
fn the_chips_see_the_cell_and_its_load() {
    let mut bench = bench(&[]);
    sleep(&mut bench, 500);
    // Noise of one reading is 0.7 mV and 0.3 mA: five times that.
    let rested = bench.truth().unwrap().voltage_v;
    assert!((voltage(&mut bench) - rested).abs() < 3.5e-3);
    assert!(current(&mut bench).abs() < 1.5e-3);
    assert!((temperature(&mut bench, 0x48) - 25.0).abs() < 0.05);
    load(&mut bench, 1.0);
    sleep(&mut bench, 100);
    let truth = bench.truth().unwrap();
    assert!(truth.voltage_v < rested - 0.05);
    assert!((current(&mut bench) - truth.current_a).abs() < 1.5e-3);
    assert!((voltage(&mut bench) - truth.voltage_v).abs() < 3.5e-3);
    bench.set_load_enable(false);
    sleep(&mut bench, 10);
    assert_eq!(bench.truth().unwrap().current_a, 0.0);
}

#[test]
fn the_counter_agrees_with_what_flowed() {
    let mut bench = bench(&[]);
    load(&mut bench, 0.6);
    for _ in 0..3_600 {
        sleep(&mut bench, 1_000);
        voltage(&mut bench);
    }
    let mut bytes = [0; 5];
    bench.write_read(0x40, &[0x0A], &mut bytes).unwrap();
    let counted =
        i64::from_be_bytes([0, 0, 0, bytes[0], bytes[1], bytes[2], bytes[3], bytes[4]]) as f64 * 31.25e-6;
    let truth = bench.truth().unwrap().charge_out_c;
    // 0.3 mA of noise per 560 us cycle over an hour is 0.5 mC; the cycle under way is 0.3 mC.
    assert!((counted - truth).abs() < 3e-3, "{counted} {truth}");
}

#[test]
fn without_a_set_point_written_half_the_full_scale_flows() {
    let mut bench = Bench::new(library::sound().parameters, &Options::default());
    bench.set_load_enable(true);
    sleep(&mut bench, 10);
    assert!((bench.truth().unwrap().current_a - 3.0 * 1.003).abs() < 1e-3);
}

#[test]
fn an_address_without_a_chip_is_not_acknowledged() {
    let nobody = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
    assert_eq!(bench(&[]).write(0x41, &[0]), Err(nobody));
}

#[test]
fn the_same_seed_gives_the_same_codes_and_another_seed_others() {
    let codes = |seed| {
        let options = Options { seed, ..Options::default() };
        let mut bench = Bench::new(library::sound().parameters, &options);
        (0..200)
            .map(|_| {
                sleep(&mut bench, 5);
                voltage(&mut bench).to_bits()
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(codes(5), codes(5));
    assert_ne!(codes(5), codes(6));
}

#[test]
fn without_a_cell_there_is_no_voltage_and_a_new_one_is_seen() {
    let mut bench = bench(&[]);
    bench.swap_cell(None);
    sleep(&mut bench, 100);
    assert!(voltage(&mut bench) < 3.5e-3);
    assert_eq!(bench.truth(), None);
    bench.swap_cell(Some((library::faded().parameters, 0.9)));
    sleep(&mut bench, 100);
    assert!((voltage(&mut bench) - 4.245).abs() < 4e-3);
}

#[test]
fn a_power_cycle_puts_chips_and_pin_back() {
    let mut bench = bench(&[]);
    load(&mut bench, 1.0);
    bench.power_cycle();
    assert!(!bench.load_is_on());
    let mut bytes = [0; 2];
    bench.write_read(0x40, &[0x01], &mut bytes).unwrap();
    assert_eq!(bytes, [0xFB, 0x68]);
    bench.write_read(0x48, &[0x00], &mut bytes).unwrap();
    assert_eq!(bytes, [0x80, 0x00]);
}
#[test]
fn refusals_come_once_or_stay_and_begin_at_the_stated_transaction() {
    let mut once = bench(&[Fault::NoAnswerOnce.from_transaction(6)]);
    let answers: Vec<bool> = (5..9).map(|_| once.write(0x40, &[0]).is_ok()).collect();
    assert_eq!(answers, [true, false, true, true]);
    let mut stays = bench(&[Fault::NoAnswer { chip: Some(Chip::CellThermometer) }.from_transaction(6)]);
    let answers: Vec<bool> = (5..9).map(|_| stays.write(0x48, &[0]).is_ok()).collect();
    assert_eq!(answers, [true, false, false, false]);
    assert!(stays.write(0x40, &[0]).is_ok());
    stays.mend();
    assert!(stays.write(0x48, &[0]).is_ok());
    stays.inject(Fault::NoAnswer { chip: None }.at(Micros::ZERO));
    assert!(Chip::ALL.iter().all(|chip| stays.write(chip.address(), &[0]).is_err()));
}

#[test]
fn lead_faults_are_seen_by_the_chips() {
    let start = Micros::from_millis(500);
    let mut open = bench(&[Fault::OpenSenseLead.at(start)]);
    sleep(&mut open, 490);
    assert!(voltage(&mut open) > 3.5);
    sleep(&mut open, 20);
    assert!(voltage(&mut open) < 0.35);

    let mut loose = bench(&[Fault::LooseSenseLead { spread_v: 0.2 }.at(Micros::ZERO)]);
    let seen: Vec<f64> = (0..50)
        .map(|_| {
            sleep(&mut loose, 1);
            voltage(&mut loose)
        })
        .collect();
    let spread = seen.iter().copied().fold(0.0, f64::max) - seen.iter().copied().fold(9.0, f64::min);
    assert!((0.1..0.21).contains(&spread), "{spread}");

    let mut force = bench(&[Fault::OpenForceLead.at(start)]);
    load(&mut force, 1.0);
    sleep(&mut force, 490);
    assert!(current(&mut force) > 0.9);
    sleep(&mut force, 20);
    assert!(current(&mut force).abs() < 2e-3);
    assert!(voltage(&mut force) > 3.5);
}

#[test]
fn a_reversed_cell_reads_zero_and_is_told_by_the_comparator() {
    let mut bench = bench(&[Fault::ReversedCell.at(Micros::from_millis(100))]);
    assert!(!bench.cell_is_reversed());
    sleep(&mut bench, 200);
    assert!(bench.cell_is_reversed());
    load(&mut bench, 1.0);
    sleep(&mut bench, 10);
    assert!(voltage(&mut bench) < 3.5e-3);
    assert!(current(&mut bench).abs() < 1.5e-3);
}

#[test]
fn thermal_faults_are_seen_by_the_thermometers() {
    let mut warm = bench(&[Fault::WarmCell { temperature_c: 50.0 }.at(Micros::from_secs(1))]);
    sleep(&mut warm, 900);
    assert!(temperature(&mut warm, 0x48) < 25.1);
    sleep(&mut warm, 20_000);
    assert!(temperature(&mut warm, 0x48) > 48.0);
    assert!(temperature(&mut warm, 0x49) < 25.1);
    warm.inject(Fault::ThermometerOffCell.at(Micros::ZERO));
    sleep(&mut warm, 60_000);
    assert!(temperature(&mut warm, 0x48) < 25.1);
    assert!(warm.truth().unwrap().temperature_c > 45.0);
}

#[test]
fn a_stuck_sink_is_seen_in_the_current_and_a_shorted_one_drains_what_the_circuit_lets_it() {
    let mut bench = bench(&[Fault::SinkStuckOn { current_a: 0.5 }.at(Micros::ZERO)]);
    sleep(&mut bench, 10);
    assert!((current(&mut bench) - 0.5).abs() < 2e-3);
    bench.inject(Fault::SinkStuckOn { current_a: 1_000.0 }.at(Micros::ZERO));
    sleep(&mut bench, 10);
    assert!(current(&mut bench) > 10.0);
}

#[test]
fn a_stuck_sensor_keeps_its_register() {
    let stuck = Fault::StuckSensor { chip: Chip::PowerMonitor, says_ready: true };
    let mut bench = bench(&[stuck.at(Micros::from_millis(100))]);
    sleep(&mut bench, 150);
    let before = voltage(&mut bench);
    load(&mut bench, 2.0);
    sleep(&mut bench, 100);
    assert_eq!(voltage(&mut bench), before);
}
