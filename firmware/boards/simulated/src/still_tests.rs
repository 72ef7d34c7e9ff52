//! A converter that stands still and says that it does not, in a whole discharge; and how rarely a working one looks so.

use crate::chips::channel::{BUS_LSB_V, ChannelErrors, bus_noise_v, shunt_lsb_v, shunt_noise_v};
use crate::chips::conversion::Settings;
use crate::chips::noise::Noise;
use crate::chips::power_monitor::PowerMonitor;
use crate::chips::{Chip, conversion};
use crate::fault::Fault;
use crate::fixture::SimulatedFixture;
use crate::library;
use crate::options::{Imperfections, Options};
use crate::test_host::{Host, discharge, rest};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::limits;
use celltriage_protocol::units::Micros;

/// ADC_CONFIG for continuous shunt and bus conversions of 280 us, without averaging.
const QUICK: u16 = 0xB6D8;
/// A thousand discharges of five hours, in seconds.
const SECONDS: f64 = 1_000.0 * 5.0 * 3_600.0;
/// Averages by their code, with the shortest sample period in seconds that gets them (the firmware's settings), and the
/// noise-free bits of the shunt channel with them (noise table of the INA229, as quoted in a public driver).
const AVERAGES: [(u16, f64, f64); 4] =
    [(0, 0.001, 13.8), (1, 0.006_62, 14.9), (2, 0.020_48, 15.8), (3, 0.075_92, 16.9)];

/// Returns the largest probability that a reading has the code of the one before: that of staying within a code in whose
/// middle the true value lies.
fn repeats(codes_rms: f64) -> f64 {
    let steps = 1_000;
    let density =
        |x: f64| (-(x / codes_rms).powi(2) / 2.0).exp() / (codes_rms * core::f64::consts::TAU.sqrt());
    (0..steps).map(|k| density((f64::from(k) + 0.5) / f64::from(steps) - 0.5)).sum::<f64>() / f64::from(steps)
}

/// Returns how many false alarms a thousand discharges have at most: a reading that begins a run comes so often, and is
/// repeated `most` times.
fn false_alarms(codes_rms: f64, period_s: f64, most: u32) -> f64 {
    SECONDS / period_s * repeats(codes_rms).powf(f64::from(most))
}

#[test]
fn noise_keeps_a_working_converter_from_a_false_alarm_in_a_thousand_discharges() {
    for (code, period_s, noise_free_bits) in AVERAGES {
        let settings = Settings::from_register(QUICK | code);
        // Noise-free bits are told by the noise from peak to peak, which is 6.6 times its rms (common practice).
        let table = 2.0_f64.powf(20.0 - noise_free_bits) / 6.6;
        let shunt = shunt_noise_v(&settings) / shunt_lsb_v(false);
        let bus = bus_noise_v(&settings) / BUS_LSB_V;
        let currents = |rms| false_alarms(rms, period_s, limits::MOST_SAME_CURRENTS);
        let voltages = |rms| false_alarms(rms, period_s, limits::MOST_SAME_VOLTAGES);
        println!(
            "{} averages: current {table:.2} codes (table) {shunt:.2} (simulated): {:.0e} {:.0e}; voltage {bus:.2}: {:.0e}",
            settings.averages,
            currents(table),
            currents(shunt),
            voltages(bus)
        );
        assert!((shunt / table - 1.0).abs() < 0.15, "the simulated noise is that of the table");
        assert!(currents(table) < 1e-9 && currents(shunt) < 1e-9 && voltages(bus) < 1e-9);
        // A converter quieter than any table says: a third of the noise of the current, half of that of the voltage.
        assert!(currents(table / 3.0) < 1e-3 && voltages(bus * 0.58) < 1e-5);
    }
}

#[test]
fn the_longest_runs_of_a_quiet_channel_stay_far_below_the_limits() {
    let exact = Imperfections::NONE.channels;
    let mut chip = PowerMonitor::new(ChannelErrors { ..exact }, Noise::new(11, 0), 25.0, 0);
    let settings = QUICK | 3;
    let [high, low] = settings.to_be_bytes();
    chip.write(&[0x01, high, low], 0);
    let cycle = conversion::Settings::from_register(settings).cycle_ns();
    let mut longest = [0_u32; 2];
    let mut runs = [([0; 3], 0_u32); 2];
    for index in 0..200_000 {
        // 20,480 and 19,200 codes: each in the middle of its own.
        chip.take(index * cycle, (index + 1) * cycle, 4.0, 0.6);
        for (channel, register) in [0x05, 0x04].into_iter().enumerate() {
            let mut code = [0; 3];
            chip.write(&[register], 0);
            chip.read(&mut code);
            let (before, count) = &mut runs[channel];
            *count = if *before == code { *count + 1 } else { 1 };
            *before = code;
            longest[channel] = longest[channel].max(*count);
        }
    }
    println!("longest runs in 200,000 results: voltage {}, current {}", longest[0], longest[1]);
    assert!((2..=limits::MOST_SAME_VOLTAGES / 5).contains(&longest[0]), "{longest:?}");
    assert!((2..=limits::MOST_SAME_CURRENTS / 4).contains(&longest[1]), "{longest:?}");
}

/// Lets a fault begin in a copy of a run; returns after how long the load went off, and the lowest voltage by then.
fn spoil(host: &Host, fault: Fault) -> (Micros, f64) {
    let mut host = host.clone();
    let began = host.fixture.now();
    host.fixture.inject(fault.at(Micros::ZERO));
    let mut lowest_v = f64::INFINITY;
    while host.fixture.load_is_on() {
        host.stay(Micros::from_millis(100));
        lowest_v = lowest_v.min(host.fixture.truth().unwrap().voltage_v);
        let after = host.fixture.now().saturating_sub(began);
        assert!(after < Micros::from_secs(90), "{fault:?} at {began}: the load is still on at {lowest_v} V");
    }
    assert_eq!(host.finish(), Outcome::Tripped);
    let trip = host.trip().unwrap();
    assert_eq!(trip.cause, TripCause::StaleReading);
    (trip.at.saturating_sub(began), lowest_v)
}

#[test]
fn a_converter_that_stands_still_anywhere_in_a_discharge_ends_it_above_two_and_a_half_volts() {
    let options = Options { initial_soc: 1.0, ..Options::default() };
    let mut host = Host::new(SimulatedFixture::new(library::sound().parameters, options));
    // 0.2 It to 3.0 V.
    host.start(&[rest(10), discharge(576)]);
    let begun = host.fixture.now();
    let go_to = |host: &mut Host, at: Micros| host.stay(at.saturating_sub(host.fixture.now()));
    let faults = [
        (Fault::StuckSensor { chip: Chip::PowerMonitor, says_ready: true }, 10_200),
        (Fault::StuckVoltage, 60_200),
    ];
    let spoil_all = |host: &Host, when: &str| {
        assert!(host.fixture.load_is_on(), "{when}");
        for (fault, longest) in faults {
            let (after, lowest_v) = spoil(host, fault);
            println!("{fault:?} {when}: off after {after}, lowest {lowest_v:.3} V");
            assert!(after <= Micros::from_millis(longest), "{fault:?} {when}: {after}");
            assert!(lowest_v > 2.5, "{fault:?} {when}: {lowest_v} V");
        }
    };
    for minutes in [1, 60, 150, 240, 270] {
        go_to(&mut host, begun.saturating_add(Micros::from_secs(60 * minutes)));
        spoil_all(&host, &format!("after {minutes} min"));
    }
    let mut clean = host.clone();
    assert_eq!(clean.finish(), Outcome::Complete);
    let end = clean.fixture.now();
    for millis in [120_000, 61_000, 11_000, 2_000, 300] {
        go_to(&mut host, end.saturating_sub(Micros::from_millis(millis)));
        spoil_all(&host, &format!("{millis} ms before the floor"));
    }
}
