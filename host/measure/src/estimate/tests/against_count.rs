//! What speaks against a count: rows twice, rows missing with their time, two counts that differ, a current that is not zero at rest.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};
use crate::si::{Seconds, Volts};
use crate::trace::Point;

/// A discharge at 0.2 It from full: 0.5 V for each Ah, so 20 min are 83 mV.
fn discharge(instrument: &Instrument) -> Trace {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    Run::new(&cell, &[(0.0, 60.0), (0.5, 19_500.0), (0.0, 60.0)]).record(instrument)
}

fn instrument(period: f64, voltage_noise: f64) -> Instrument {
    let rows = Rows::PerStep { period };
    Instrument { rows, voltage_noise, current_noise: 0.5e-3, ..Instrument::default() }
}

/// The rows of a time span written once more, and all that follows later by as much.
fn twice(trace: &Trace, from: f64, seconds: f64) -> Trace {
    let points = trace.points.to_vec();
    let at = |time: f64| points.partition_point(|point| point.time.0 < time);
    let (first, end) = (at(from), at(from + seconds));
    let later = |point: &Point| Point { time: Seconds(point.time.0 + seconds), ..*point };
    from_points(points[..end].iter().copied().chain(points[first..].iter().map(later)).collect())
}

/// The rows of a time span left out, and all that follows earlier by as much.
fn cut(trace: &Trace, from: f64, seconds: f64) -> Trace {
    let points = trace.points.to_vec();
    let earlier = |point: &Point| Point { time: Seconds(point.time.0 - seconds), ..*point };
    let before = points.iter().filter(|point| point.time.0 < from).copied();
    let after = points.iter().filter(|point| point.time.0 >= from + seconds).map(earlier);
    from_points(before.chain(after).collect())
}

/// Returns charge that is told to be in doubt, if any.
fn doubt(estimates: &Estimates) -> Option<String> {
    let is_doubt =
        |text: &str| text.contains("while the current stays") || text.contains("to the last digit");
    let told = |text: &String| is_doubt(text).then(|| text.clone());
    match estimates.get(Quantity::Capacity) {
        Some(estimate) => estimate.warnings.iter().find_map(told),
        None => told(&estimates.missing[&Quantity::Capacity]),
    }
}

#[test]
fn rows_twice_and_rows_cut_out_are_refused_whatever_the_pace_and_the_noise() {
    for (period, noise) in
        [(1.0, 0.0), (1.0, 200e-6), (10.0, 1e-3), (60.0, 200e-6), (1.0, 5e-3), (10.0, 5e-3)]
    {
        let trace = discharge(&instrument(period, noise));
        assert_eq!(doubt(&estimate(&trace)), None, "clean, {period} s, {noise} V");
        assert!(estimate(&trace).get(Quantity::Capacity).is_some());
        for from in [1000.0, 5000.0, 9000.0, 15_000.0] {
            let up = estimate(&twice(&trace, from, 1200.0));
            let told = missing(&up, Quantity::Capacity);
            assert!(told.contains("rows are there twice"), "{period} {noise} {from}: {told}");
            let down = estimate(&cut(&trace, from, 1200.0));
            let told = missing(&down, Quantity::Capacity);
            assert!(
                told.contains("jumps down") && told.contains("rows are missing"),
                "{period} {noise} {from}: {told}"
            );
        }
    }
}

#[test]
fn the_charge_in_doubt_is_what_was_written_twice_or_left_out() {
    let trace = discharge(&instrument(1.0, 100e-6));
    let told = |estimates: Estimates| {
        let text = doubt(&estimates).unwrap();
        let charge = text.rsplit_once(" (").unwrap().1.split_once(" Ah").unwrap().0;
        charge.parse::<f64>().unwrap()
    };
    for seconds in [300.0, 1200.0, 3000.0] {
        let truth = 0.5 * seconds / 3600.0;
        approx::assert_relative_eq!(
            told(estimate(&twice(&trace, 6000.0, seconds))),
            truth,
            max_relative = 0.03
        );
        approx::assert_relative_eq!(
            told(estimate(&cut(&trace, 6000.0, seconds))),
            truth,
            max_relative = 0.05
        );
    }
}

#[test]
fn a_short_block_leaves_a_doubt_that_holds_the_truth() {
    let trace = discharge(&instrument(1.0, 100e-6));
    let truth = value(&estimate(&trace), Quantity::Capacity);
    for spoilt in [twice(&trace, 8000.0, 150.0), cut(&trace, 8000.0, 150.0)] {
        let found = estimate(&spoilt);
        assert!(doubt(&found).is_some());
        let found = found.get(Quantity::Capacity).unwrap();
        assert!((found.value - truth).abs() < 2.0 * found.standard_uncertainty, "{found:?}");
    }
}

#[test]
fn a_discharge_that_was_interrupted_or_that_changes_its_current_a_little_is_no_jump() {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let steps = [
        (0.0, 60.0),
        (0.5, 6000.0),
        (0.0, 600.0),
        (2.5, 10.0),
        (0.0, 600.0),
        (0.5, 6000.0),
        (0.505, 3000.0),
        (0.5, 6000.0),
        (0.0, 60.0),
    ];
    let found = estimate(&Run::new(&cell, &steps).record(&instrument(1.0, 200e-6)));
    assert!(found.get(Quantity::Capacity).is_some(), "{:?}", found.missing.get(&Quantity::Capacity));
    assert_eq!(doubt(&found), None);
}

#[test]
fn a_current_that_is_not_zero_at_rest_widens_the_count_by_what_it_would_make() {
    let truth = value(&estimate(&discharge(&instrument(1.0, 100e-6))), Quantity::Capacity);
    for offset in [-0.01, -0.004, 0.004, 0.01] {
        let found = estimate(&discharge(&Instrument { current_offset: offset, ..instrument(1.0, 100e-6) }));
        let capacity = found.get(Quantity::Capacity).unwrap();
        assert!(
            capacity.warnings.iter().any(|text| text.contains("while the cell rests")),
            "{:?}",
            capacity.warnings
        );
        // All of it counted, or none: both lie in the interval.
        let counted = truth + offset * 19_500.0 / 3600.0;
        for possible in [truth, counted] {
            assert!(
                (capacity.value - possible).abs() < 2.0 * capacity.standard_uncertainty,
                "{offset}: {possible} {capacity:?}"
            );
        }
        let line = capacity.budget.iter().find(|line| line.input == "current at rest").unwrap();
        assert!(line.standard_uncertainty > 0.0);
    }
    // What the fixture is known to be off by is in its budget already.
    let small = estimate(&discharge(&Instrument { current_offset: 0.3e-3, ..instrument(1.0, 100e-6) }));
    let capacity = small.get(Quantity::Capacity).unwrap();
    assert!(
        !capacity.warnings.iter().any(|text| text.contains("while the cell rests")),
        "{:?}",
        capacity.warnings
    );
}

#[test]
fn rows_twice_are_found_where_the_curve_is_flat_and_what_only_looks_alike_is_not() {
    // 3 mV in 20 min: no jump shows.
    let cell = Cell { source_v: 4.345, fall_v_per_ah: 0.02, ..Cell::default() };
    let flat = |instrument: &Instrument| {
        let steps = [(0.0, 60.0), (0.5, 6000.0), (0.5, 6000.0), (0.0, 60.0)];
        let mut points = Run::new(&cell, &steps).record(instrument).points.to_vec();
        // And then the end, at once.
        let last = points.iter().rposition(|point| point.current.0 > 0.4).unwrap();
        points[last - 30..=last]
            .iter_mut()
            .enumerate()
            .for_each(|(row, point)| point.voltage.0 -= 0.05 * row as f64);
        from_points(points)
    };
    for (period, noise, step) in [(1.0, 300e-6, 0.0), (1.0, 300e-6, 200e-6), (10.0, 300e-6, 100e-6)] {
        let instrument = Instrument { voltage_step: step, current_noise: 0.0, ..instrument(period, noise) };
        let whole = flat(&instrument);
        assert_eq!(doubt(&estimate(&whole)), None, "{period} {noise} {step}");
        let text = doubt(&estimate(&twice(&whole, 5000.0, 1200.0))).unwrap();
        assert!(text.contains("from 5000 s on for 1") && text.contains("from 6200 s on"), "{text}");
    }
}

/// The same with a counter beside the rows, which counts this share of what flows.
fn counting(trace: &Trace, share: f64) -> Trace {
    let floor = trace.points.iter().find(|point| point.voltage <= Volts(3.0)).unwrap().time;
    with_counter(trace, [0.0, share * 0.5 * (floor.0 - 60.0) / 3600.0])
}

#[test]
fn two_counts_that_differ_are_both_taken_as_possible_and_far_apart_neither() {
    let trace = discharge(&instrument(1.0, 100e-6));
    let agreed = estimate(&counting(&trace, 1.0)).get(Quantity::Capacity).unwrap().clone();
    for share in [0.99, 1.01] {
        let apart = estimate(&counting(&trace, share)).get(Quantity::Capacity).unwrap().clone();
        assert!(apart.standard_uncertainty > 1.1 * agreed.standard_uncertainty, "{apart:?}");
        approx::assert_relative_eq!(apart.value, agreed.value * (1.0 + share) / 2.0, max_relative = 1e-3);
        assert!(apart.warnings.iter().any(|text| text.contains("own count")), "{:?}", apart.warnings);
    }
    // The counter goes by the monitor's own clock, which may be off by 0.58 % (`hardware-notes/error_budget.toml`).
    for share in [0.9942, 1.0058] {
        let clock = estimate(&counting(&trace, share)).get(Quantity::Capacity).unwrap().clone();
        assert!(!clock.warnings.iter().any(|text| text.contains("own count")), "{:?}", clock.warnings);
        approx::assert_relative_eq!(clock.value, agreed.value, max_relative = 1e-6);
    }
    let wrong = estimate(&counting(&trace, 0.95));
    assert!(missing(&wrong, Quantity::Capacity).contains("one of them is wrong"));
}

#[test]
fn a_counter_that_counts_on_proves_that_a_jump_is_no_missing_row() {
    let mut trace = discharge(&instrument(1.0, 100e-6));
    let late = trace.points.partition_point(|point| point.time.0 < 9000.0);
    trace.points.edit()[late..].iter_mut().for_each(|point| point.voltage.0 += 0.02);
    assert!(estimate(&trace).get(Quantity::Capacity).is_none());
    let found = estimate(&counting(&trace, 1.0));
    assert!(doubt(&found).unwrap().contains("a contact moved"));
    assert!(found.get(Quantity::Capacity).is_some());
}
