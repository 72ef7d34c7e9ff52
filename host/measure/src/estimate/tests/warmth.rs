//! Warmth: a cell that was warmed and cools, one that makes heat, and what a discharge warms it by.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Random, Rows, Run, from_points};
use crate::si::{Amps, Celsius, Seconds, Volts};
use crate::trace::Point;

/// A rest whose cell is above air of 23 degC by a rise at a time; thermometers read with noise, in steps.
fn rest(seconds: f64, period: f64, noise_k: f64, step_k: f64, rise: impl Fn(f64) -> f64) -> Trace {
    let mut random = Random(7);
    let mut read = |celsius: f64| {
        let read = celsius + noise_k * random.normal();
        Celsius(if step_k > 0.0 { (read / step_k).round() * step_k } else { read })
    };
    let rows = (0..=(seconds / period) as usize).map(|row| {
        let time = row as f64 * period;
        Point {
            time: Seconds(time),
            current: Amps(0.0),
            voltage: Volts(3.9),
            cell: Some(read(23.0 + rise(time))),
            ambient: Some(read(23.0)),
        }
    });
    from_points(rows.collect())
}

fn cools(trace: &Trace) -> Option<bool> {
    let found = estimate(trace);
    found.get(Quantity::RestTemperatureRise).unwrap().conditions.cools
}

#[test]
fn a_cell_that_was_warmed_cools_whatever_its_size_and_its_thermometer() {
    for tau in [200.0, 600.0, 1200.0, 2600.0] {
        for (seconds, period, noise, step) in [
            (1800.0, 1.0, 0.03, 0.0),
            (600.0, 10.0, 0.03, 0.0),
            (1800.0, 60.0, 0.02, 0.0),
            (900.0, 5.0, 0.0, 0.1),
        ] {
            let told = cools(&rest(seconds, period, noise, step, |time| 4.0 * (-time / tau).exp()));
            assert_eq!(
                told,
                Some(true),
                "time constant {tau} s, {seconds} s, rows every {period} s, steps of {step} K"
            );
        }
    }
}

#[test]
fn a_cell_that_keeps_or_grows_its_rise_is_not_taken_for_one_that_cools() {
    let kept = |time: f64| 4.0 + 0.0 * time;
    let grows = |time: f64| 3.0 + time / 1200.0;
    // Warmed in a hand, and a source inside that holds 3 K.
    let settles_warm = |time: f64| 3.0 + 3.0 * (-time / 300.0).exp();
    // It cools at first and then heats up.
    let turns = |time: f64| 4.0 * (-time / 600.0).exp() + (time - 1200.0).max(0.0) / 300.0;
    for (seconds, period) in [(1800.0, 1.0), (1800.0, 30.0), (3600.0, 60.0)] {
        for (what, rise) in [
            ("kept", &kept as &dyn Fn(f64) -> f64),
            ("grows", &grows),
            ("settles warm", &settles_warm),
            ("turns", &turns),
        ] {
            assert_eq!(
                cools(&rest(seconds, period, 0.03, 0.0, rise)),
                Some(false),
                "{what}, every {period} s"
            );
        }
    }
}

#[test]
fn what_a_short_or_noisy_rest_does_not_tell_is_not_told_as_cooling() {
    let cooling = |time: f64| 4.0 * (-time / 1200.0).exp();
    assert_eq!(cools(&rest(60.0, 1.0, 0.0, 0.0, cooling)), None);
    assert_ne!(cools(&rest(180.0, 30.0, 0.0, 0.0, cooling)), Some(true));
    assert_ne!(cools(&rest(600.0, 60.0, 0.8, 0.0, cooling)), Some(true));
    // The thermometer in the air is warmed: the rise falls, the cell does not.
    let mut trace = rest(1800.0, 1.0, 0.02, 0.0, |_| 4.0);
    for point in trace.points.edit().iter_mut() {
        point.ambient = Some(Celsius(27.0 - 4.0 * (-point.time.0 / 600.0).exp()));
    }
    assert_ne!(cools(&trace), Some(true));
    // No thermometer in the air: neither a rise nor a trend.
    trace.points.edit().iter_mut().for_each(|point| point.ambient = None);
    assert!(missing(&estimate(&trace), Quantity::RestTemperatureRise).contains("not both measured"));
}

#[test]
fn a_cell_at_the_temperature_of_the_air_says_nothing_of_a_trend() {
    let found = estimate(&rest(1800.0, 1.0, 0.03, 0.0, |_| 0.2));
    let told = found.get(Quantity::RestTemperatureRise).unwrap();
    assert_eq!((told.conditions.cools, told.warnings.len()), (None, 0));
}

/// Rest, loads of `(current, seconds)`; the cell's rise follows a function of the time, read without noise.
fn loaded(loads: &[(f64, f64)], rise: impl Fn(f64) -> f64) -> Estimates {
    let mut steps = vec![(0.0, 60.0)];
    steps.extend_from_slice(loads);
    let cell = Cell { source_v: 4.2, fall_v_per_ah: 0.1, ..Cell::default() };
    let instrument = Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() };
    let mut trace = Run::new(&cell, &steps).record(&instrument);
    for point in trace.points.edit().iter_mut() {
        point.cell = Some(Celsius(25.0 + rise(point.time.0)));
    }
    estimate(&trace)
}

#[test]
fn the_current_that_warmed_a_cell_is_that_of_the_long_load_and_not_of_a_pulse() {
    let share = |found: &Estimates| {
        found.get(Quantity::TemperatureRise).unwrap().conditions.warming_current_a.unwrap() / IT
    };
    let slowly = |time: f64| 1e-4 * time;
    // The fixture's plan: the pulse of 1 It in front is hardly seen.
    let plan = [(0.2 * IT, 10.0), (IT, 1.0), (0.0, 30.0), (0.2 * IT, 18_000.0)];
    assert!((0.195..0.201).contains(&share(&loaded(&plan, slowly))));
    // Hours at 1 It are 1 It; a whole discharge in one hour nearly so; four times as fast more than 1 It.
    assert!((0.78..0.82).contains(&share(&loaded(&[(IT, 3600.0)], slowly))));
    assert!((1.8..2.0).contains(&share(&loaded(&[(4.0 * IT, 900.0)], slowly))));
    // Pulses alone have hardly warmed it, whatever their current.
    assert!(share(&loaded(&[(IT, 10.0), (0.0, 600.0)], slowly)) < 0.06);
    // What flows after the warmest row has not warmed it.
    let early = |time: f64| if (100.0..200.0).contains(&time) { 9.0 } else { 0.0 };
    assert!(share(&loaded(&[(0.2 * IT, 600.0), (2.0 * IT, 900.0)], early)) < 0.05);
}

/// Chips within 0.1 K each, and a contact that loses up to a twentieth of the difference (`hardware-notes/error_budget.toml`): near zero
/// only the chips count, far from it only the contact does.
#[test]
fn the_doubt_of_a_rise_grows_with_the_rise() {
    let doubt = |kelvins: f64| {
        let found = estimate(&rest(60.0, 1.0, 0.0, 0.0, |_| kelvins));
        found.get(Quantity::RestTemperatureRise).unwrap().standard_uncertainty
    };
    assert!((doubt(0.0) - 0.07 * 2f64.sqrt()).abs() < 1e-9, "{}", doubt(0.0));
    assert!((doubt(2.0) - (2.0 * 0.07f64.powi(2) + 0.06f64.powi(2)).sqrt()).abs() < 1e-9, "{}", doubt(2.0));
    assert!((doubt(20.0) / 0.6 - 1.0).abs() < 0.02, "{}", doubt(20.0));
}
