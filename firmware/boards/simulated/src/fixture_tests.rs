//! Whole runs: the firmware on the simulated board, seen through its bytes and judged by what is true of the cell.

use crate::fixture::SimulatedFixture;
use crate::library::{self, LibraryCell};
use crate::options::{Imperfections, Options};
use crate::test_host::{Host, discharge, hold, rest};
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::event::{Event, Outcome};
use celltriage_protocol::plan::Step;
use celltriage_protocol::reply::{Activity, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;

fn host(cell: LibraryCell, options: Options) -> Host {
    Host::new(SimulatedFixture::new(cell.parameters, options))
}

fn exact(initial_soc: f64) -> Options {
    Options { initial_soc, imperfections: Imperfections::NONE, ..Options::default() }
}

/// The two-level procedure, each load as long as it says.
fn two_levels() -> [Step; 4] {
    [rest(10), hold(600, 10), hold(3_000, 1), rest(10)]
}

#[test]
fn a_whole_plan_runs_and_its_samples_are_what_is_true() {
    let mut host = host(library::sound(), exact(0.5));
    assert_eq!(host.run(&two_levels()), Outcome::Complete);
    assert!(!host.fixture.load_is_on());
    let mean = |step: u8, last: usize| {
        let samples = host.samples(step);
        let end = &samples[samples.len() - last..];
        let voltage =
            end.iter().map(|sample| f64::from(sample.voltage.get())).sum::<f64>() / last as f64 / 1e6;
        let current =
            end.iter().map(|sample| f64::from(sample.current.get())).sum::<f64>() / last as f64 / 1e6;
        (voltage, current)
    };
    let ((low_v, low_a), (high_v, high_a)) = (mean(1, 5), mean(2, 5));
    let seen = (low_v - high_v) / (high_a - low_a);
    let stated = library::sound().parameters.two_level_resistance(0.5, 3.0);
    // Noise of two means of five readings over 2.4 A is 0.2 mOhm, the means end 20 ms before the steps do, the load
    // warms the cell by under 0.1 K and moves its state of charge by 0.1 %: together well under 1 %.
    assert!((seen / stated - 1.0).abs() < 0.01, "{seen} {stated}");
}

#[test]
fn the_charge_told_is_the_charge_that_flowed() {
    let mut host = host(library::sound(), exact(0.9));
    let mut load = discharge(600);
    load.duration = Micros::from_secs(1_800);
    assert_eq!(host.run(&[rest(10), load]), Outcome::Complete);
    let told = host.events.iter().rev().find_map(|event| match event {
        Event::StepEnded { charge: Ok(charge), .. } => Some(charge.get() as f64 / 1e6),
        _ => None,
    });
    let truth = host.fixture.truth().unwrap().charge_out_c;
    // One reading of 100 ms at 0.6 A is 0.06 C of 1080 C.
    assert!((told.unwrap() - truth).abs() < 0.1, "{told:?} {truth}");
}

#[test]
fn a_sample_each_millisecond_fits_on_the_bus() {
    let mut host = host(library::sound(), exact(0.5));
    let fast = Step { sample_period_us: 1_000, ..hold(600, 2) };
    assert_eq!(host.run(&[rest(2), fast]), Outcome::Complete);
    // The change of settings at the step's start begins a conversion again; the first sample may be due before its end
    // and is then told as missing. From the second one on there is one each millisecond.
    let samples = host.samples(1);
    assert!((1_999..=2_000).contains(&samples.len()), "{}", samples.len());
    let distances = samples.windows(2).map(|pair| pair[1].at.saturating_sub(pair[0].at));
    assert!(distances.into_iter().all(|distance| distance == Micros::from_millis(1)));
}

#[test]
fn a_calibration_takes_out_the_errors_of_the_parts() {
    let mut host = host(library::sound(), Options::default());
    // 1.003 A flow where 1 A is asked for, rounded down to a step of 6 A / 4096.
    let true_a = (4_096.0_f64 / 6.0).floor() * 6.0 / 4_096.0 * 1.003;
    let told_a = |host: &mut Host| {
        host.events.clear();
        assert_eq!(host.run(&[rest(2), hold(1_000, 10)]), Outcome::Complete);
        let settled = host.samples(1).split_off(200);
        settled.iter().map(|sample| f64::from(sample.current.get())).sum::<f64>() / settled.len() as f64 / 1e6
    };
    // Noise of a mean of 800 readings is 10 uA; a shunt offset of 0.5 uV is 50 uA.
    let raw_a = told_a(&mut host);
    assert!((raw_a - true_a * 1.001_5 - 50e-6).abs() < 5e-5, "{raw_a} {true_a}");
    // The reverse of the default imperfections: -0.03 % and 0.4 mV, +0.15 % and 50 uA.
    let voltage = Channel { gain_ppm: 300, offset: -400 };
    let current = Channel { gain_ppm: -1_498, offset: -50 };
    let calibration = Calibration { number: 1, voltage, current, ..Calibration::default() };
    assert_eq!(host.ask(&Request::Calibrate(calibration)), Reply::Done);
    let calibrated_a = told_a(&mut host);
    assert!((calibrated_a - true_a).abs() < 5e-5, "{calibrated_a} {true_a}");
    // At rest a reading is one of many averages: 0.1 mV of noise, 0.2 mV of a step.
    host.stay(Micros::from_secs(600));
    let told_v = f64::from(host.state().voltage.unwrap().get()) / 1e6;
    let true_v = host.fixture.truth().unwrap().voltage_v;
    assert!((told_v - true_v).abs() < 5e-4, "{told_v} {true_v}");
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let bytes = |seed| {
        let mut host = host(library::sound(), Options { seed, ..Options::default() });
        host.run(&two_levels());
        host.bytes
    };
    assert_eq!(bytes(3), bytes(3));
    assert_ne!(bytes(3), bytes(4));
}

#[test]
fn an_empty_fixture_idles_in_peace_and_takes_the_next_cell() {
    let mut host = host(library::sound(), Options::default());
    host.fixture.remove_cell();
    let fed = host.fixture.watchdog_fed();
    host.stay(Micros::from_secs(60));
    assert!(host.fixture.watchdog_fed() - fed >= 600, "the watchdog is fed at least each 100 ms");
    assert_eq!(host.state().activity, Activity::Idle);
    host.fixture.swap_cell(library::faded().parameters, 0.5);
    assert_eq!(host.run(&[rest(2), hold(500, 2)]), Outcome::Complete);
}

#[test]
fn a_stored_calibration_outlives_the_power() {
    let mut host = host(library::sound(), Options::default());
    let current = Channel { gain_ppm: -1_500, offset: -50 };
    let calibration = Calibration { number: 1, current, ..Calibration::default() };
    assert_eq!(host.ask(&Request::Calibrate(calibration)), Reply::Done);
    host.fixture.power_cycle();
    assert_eq!(host.ask(&Request::ReadCalibration), Reply::Calibration(calibration));
    assert!(!host.fixture.load_is_on());
}

#[test]
fn chips_that_lose_their_supply_between_plans_are_set_up_anew() {
    let mut host = host(library::sound(), exact(0.5));
    assert_eq!(host.run(&[rest(2), hold(600, 1)]), Outcome::Complete);
    host.fixture.brown_out_chips();
    assert_eq!(host.run(&[rest(2), hold(600, 1)]), Outcome::Complete);
}

#[test]
fn five_hours_of_discharge_pass_quickly() {
    let mut host = host(library::sound(), exact(1.0));
    let begun = std::time::Instant::now();
    assert_eq!(host.run(&[rest(10), discharge(576)]), Outcome::Complete);
    let hours = host.fixture.now().get() as f64 / 3.6e9;
    println!(
        "{hours:.2} h, {} transactions, {} bytes, {:?}",
        host.fixture.transactions(),
        host.bytes.len(),
        begun.elapsed()
    );
    let truth = host.fixture.truth().unwrap();
    println!("{truth:?}");
    // 0.2 It of what the cell holds: five hours but for what the resistance leaves in it.
    assert!((4.7..5.1).contains(&hours), "{hours}");
    let told = host.samples(1).len() as f64;
    assert!((told / (hours * 3_600.0) - 1.0).abs() < 0.01, "one sample is told each second: {told}");
}
