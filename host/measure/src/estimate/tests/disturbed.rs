//! Damage that leaves every row plausible: bad contacts, coarse and slow converters, small jumps, rows out of order.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Random, Rows, Run};
use crate::si::{Amps, Ohms, Volts};
use crate::trace::Point;

/// The plan's screen, without its first long rest.
fn screen() -> [(f64, f64); 8] {
    let low = 0.2 * IT;
    [(0.0, 20.0), (low, 10.0), (IT, 1.0), (0.0, 30.0), (0.5 * IT, 10.0), (0.0, 30.0), (low, 1.2), (0.0, 5.0)]
}

/// True resistances of that screen: between both levels, and of its middle pulse at a time.
fn truths(run: &Run) -> Vec<(Quantity, f64)> {
    let fresh = Run::new(&Cell::default(), &[(0.0, 20.0), (0.5 * IT, 10.2), (0.0, 10.0)]);
    let instants = RESISTANCES.map(|(quantity, after)| (quantity, fresh.resistance_at(after)));
    std::iter::once((Quantity::ResistanceTwoLevel, run.two_level())).chain(instants).collect()
}

fn noisy(period: f64) -> Instrument {
    let rows = Rows::PerStep { period };
    Instrument { rows, voltage_noise: 100e-6, current_noise: 0.3e-3, ..Instrument::default() }
}

/// Records the screen and changes the voltages that lie within some time.
fn changed(within: std::ops::Range<f64>, change: impl Fn(&Point) -> Volts) -> Estimates {
    let mut trace = Run::new(&Cell::default(), &screen()).record(&noisy(0.002));
    for point in trace.points.edit().iter_mut().filter(|point| within.contains(&point.time.0)) {
        point.voltage = change(point);
    }
    estimate(&trace)
}

fn off(found: &Estimates, quantity: Quantity, truth: f64) -> f64 {
    let estimate = found.get(quantity).unwrap_or_else(|| panic!("{:?}", found.missing[&quantity]));
    (estimate.value - truth).abs() / estimate.standard_uncertainty
}

#[test]
fn a_contact_that_is_bad_only_in_the_pulse_that_is_read_widens_everything() {
    let run = Run::new(&Cell::default(), &screen());
    for (within, ohm) in [(61.0005..70.9995, 0.02), (30.0005..30.9995, 0.02), (61.0005..70.9995, 0.007)] {
        let found = changed(within, |point| point.voltage - point.current * Ohms(ohm));
        for (quantity, truth) in truths(&run) {
            assert!(off(&found, quantity, truth) < 2.0, "{quantity:?} {:?}", found.get(quantity));
            let warnings = &found.get(quantity).unwrap().warnings;
            assert!(warnings.iter().any(|warning| warning.contains("contacts changed")), "{warnings:?}");
        }
    }
}

/// Share of the resistances and rest voltages outside two standard uncertainties, and their mean width as a share.
fn outside(change: impl Fn(&mut Point)) -> (f64, f64) {
    let mut random = Random(20_261_126);
    let (mut outside, mut all, mut width) = (0.0, 0.0, 0.0);
    for seed in 0..40 {
        let scale = random.between(0.85, 1.15);
        let steps = screen().map(|(current, seconds)| (current * scale, seconds));
        let cell = Cell { source_v: random.between(3.7, 4.0), ..Cell::default() };
        let run = Run::new(&cell, &steps);
        let instrument = Instrument { voltage_noise: 50e-6, current_noise: 0.0, seed, ..noisy(0.01) };
        let mut trace = run.record(&instrument);
        trace.points.edit().iter_mut().for_each(&change);
        let found = estimate(&trace);
        let fresh = Run::new(&cell, &[(0.0, 20.0), (0.5 * IT * scale, 10.2), (0.0, 10.0)]);
        let instants = RESISTANCES.map(|(quantity, after)| (quantity, fresh.resistance_at(after)));
        for (quantity, truth) in
            std::iter::once((Quantity::ResistanceTwoLevel, run.two_level())).chain(instants)
        {
            let Some(estimate) = found.get(quantity) else { continue };
            all += 1.0;
            width += estimate.standard_uncertainty / estimate.value;
            let half = estimate.coverage() * estimate.standard_uncertainty;
            outside += f64::from((estimate.value - truth).abs() > half);
        }
    }
    assert!(all > 100.0, "nearly everything is refused: {all}");
    (outside / all, width / all)
}

#[test]
fn what_a_coarse_voltage_hides_is_in_the_uncertainty() {
    let coarse =
        |step: f64| outside(move |point| point.voltage = Volts((point.voltage.0 / step).round() * step));
    let (_, fine) = outside(|_| {});
    for step in [1e-3, 2e-3, 5e-3, 10e-3] {
        let (outside, width) = coarse(step);
        println!("{step}: {outside:.3} outside, {:.2} times as wide", width / fine);
        assert!(outside <= 0.07, "{step}: {outside}");
    }
    // The fixture's own step is nothing beside its noise.
    let (_, own) = coarse(195.312_5e-6);
    assert!(own < 1.05 * fine, "{own} {fine}");
}

#[test]
fn what_a_coarse_current_hides_is_in_the_uncertainty() {
    let coarse =
        |step: f64| outside(move |point| point.current = Amps((point.current.0 / step).round() * step));
    for step in [0.01, 0.05, 0.1] {
        let (outside, width) = coarse(step);
        println!("{step}: {outside:.3} outside, width {width:.4}");
        assert!(outside <= 0.07, "{step}: {outside}");
    }
}

#[test]
fn a_voltage_channel_that_averages_gives_no_early_resistance() {
    for (period, seconds) in [(0.01, 0.5), (0.01, 2.0), (0.01, 0.1), (0.002, 0.05), (0.1, 2.0)] {
        let mut trace = Run::new(&Cell::default(), &screen()).record(&noisy(period));
        let mut shown = trace.points[0].voltage;
        for point in trace.points.edit().iter_mut() {
            shown += (point.voltage - shown) * (1.0 - (-period / seconds).exp());
            point.voltage = shown;
        }
        let found = estimate(&trace);
        for quantity in [Quantity::ResistanceTwoLevel, Quantity::Resistance1Second] {
            let why = missing(&found, quantity);
            assert!(why.contains("slow or averages"), "{period} {seconds}: {why}");
        }
    }
}

#[test]
fn a_jump_too_small_to_refuse_is_in_the_uncertainty() {
    let run = Run::new(&Cell::default(), &screen());
    let truths = truths(&run);
    for (within, quantity) in [
        (26.0..29.9995, Quantity::ResistanceTwoLevel),
        (30.6..30.9995, Quantity::ResistanceTwoLevel),
        (66.0..70.9995, Quantity::Resistance10Seconds),
        (56.0..61.0005, Quantity::Resistance1Second),
    ] {
        let found = changed(within, |point| point.voltage + Volts(5e-3));
        let truth = truths.iter().find(|(known, _)| *known == quantity).unwrap().1;
        assert!(off(&found, quantity, truth) < 2.0, "{quantity:?} {:?} {truth}", found.get(quantity));
    }
}

#[test]
fn a_pulse_whose_rows_run_backwards_is_not_used() {
    let run = Run::new(&Cell::default(), &screen());
    let mut trace = run.record(&noisy(0.002));
    let within: Vec<usize> = (0..trace.points.len())
        .filter(|row| (61.0005..70.9995).contains(&trace.points[*row].time.0))
        .collect();
    let voltages: Vec<Volts> = within.iter().rev().map(|row| trace.points[*row].voltage).collect();
    let mut edit = trace.points.edit();
    within.into_iter().zip(voltages).for_each(|(row, voltage)| edit[row].voltage = voltage);
    drop(edit);
    let found = estimate(&trace);
    // The smaller pulse at the start is used in its stead.
    for (quantity, truth) in truths(&run) {
        assert!(off(&found, quantity, truth) < 2.0, "{quantity:?} {:?}", found.get(quantity));
        let current = found.get(quantity).unwrap().conditions.current_a.unwrap();
        assert!((current / (0.2 * IT) - 1.0).abs() < 0.01, "{quantity:?} at {current} A");
    }
    let alone: Vec<Point> = trace.points.iter().filter(|point| point.time.0 > 32.0).copied().collect();
    let found = estimate(&from_points(alone));
    assert!(missing(&found, Quantity::Resistance10Seconds).contains("rises"), "{:?}", found.missing);
}

#[test]
fn a_rest_that_recovers_upwards_refuses_no_small_pulse() {
    // 1.6 s after a large load the voltage still rises, and under a small load it goes on to rise.
    let steps = [(0.0, 20.0), (IT, 20.0), (0.0, 1.6), (0.05 * IT, 10.2), (0.0, 5.0)];
    let cell = Cell { series_ohm: 0.01, pairs: [(0.01, 0.015), (0.05, 12.0)], ..Cell::default() };
    let run = Run::new(&cell, &steps);
    assert!(run.voltage(3, 10.0) > run.voltage(3, 0.1));
    let found = estimate(&run.record(&noisy(0.002)));
    assert!(found.missing.values().all(|why| !why.contains("rises by")), "{:?}", found.missing);
}

#[test]
fn few_noisy_rows_take_their_noise_from_their_neighbours() {
    let run = Run::new(&Cell::default(), &[(0.0, 60.0), (0.5 * IT, 600.0), (0.0, 60.0)]);
    let mut ratios: Vec<f64> = Vec::new();
    for seed in 1..=40 {
        let mut trace = run.record(&Instrument { seed, ..noisy(2.0) });
        let mut random = Random(seed);
        for point in trace.points.edit().iter_mut().filter(|point| (60.0..120.0).contains(&point.time.0)) {
            point.voltage += Volts(0.03 * random.normal());
        }
        let found = estimate(&trace);
        if found.get(Quantity::Resistance10Seconds).is_some() {
            ratios.push(off(&found, Quantity::Resistance10Seconds, run.resistance_at(10.0)));
        }
    }
    let worst = ratios.iter().copied().fold(0.0, f64::max);
    println!("{} told, worst {worst:.2} uncertainties", ratios.len());
    assert!(worst < 4.0, "{ratios:?}");
}
