//! Early instants, contacts that change, charge moved, the class, and the circuit that describes a pulse.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};
use crate::si::Volts;

/// The plan's screen, without its first long rest: small, large, middle, small.
fn screen() -> [(f64, f64); 8] {
    let low = 0.2 * IT;
    [(0.0, 20.0), (low, 10.0), (IT, 1.0), (0.0, 30.0), (0.5 * IT, 10.0), (0.0, 30.0), (low, 1.2), (0.0, 5.0)]
}

fn noisy(rows: Rows) -> Instrument {
    Instrument { rows, voltage_noise: 100e-6, current_noise: 0.3e-3, ..Instrument::default() }
}

#[test]
fn ten_milliseconds_are_told_only_where_rows_and_step_allow() {
    let run = Run::new(&Cell::default(), &pulse(IT));
    let fast = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 })));
    let found = fast.get(Quantity::Resistance10Milliseconds).unwrap();
    let truth = run.resistance_at(0.01);
    assert!((found.value - truth).abs() <= 0.02 * truth + 0.5e-3, "{} {truth}", found.value);
    assert!(2.0 * found.standard_uncertainty <= 0.02 * truth + 0.5e-3, "{found:?}");
    for rows in [Rows::PerStep { period: 0.002 }, Rows::PerStep { period: 0.004 }] {
        let slow = estimate(&run.record(&noisy(rows)));
        assert!(missing(&slow, Quantity::Resistance10Milliseconds).contains("at most every 1 ms"));
    }
    // Rows every millisecond, but nobody knows when between two of them the current rose.
    let vague = estimate(&run.record(&noisy(Rows::Grid { period: 0.001, phase: 0.000_4 })));
    assert!(missing(&vague, Quantity::Resistance10Milliseconds).contains("begins somewhere within"));
}

#[test]
fn two_seconds_are_measured_like_the_others() {
    let run = Run::new(&Cell::default(), &pulse(IT));
    let found = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 })));
    assert_resistance(value(&found, Quantity::Resistance2Seconds), run.resistance_at(2.0), "2 s");
}

#[test]
fn contacts_that_stay_show_no_difference_and_those_that_change_widen_everything() {
    let run = Run::new(&Cell::default(), &screen());
    let clean = run.record(&noisy(Rows::PerStep { period: 0.001 }));
    let found = estimate(&clean);
    let difference = found.get(Quantity::ContactDifference).unwrap();
    assert!(difference.value.abs() < 0.02 && difference.method.contains("one current"), "{difference:?}");
    let before = found.get(Quantity::ResistanceTwoLevel).unwrap();

    // From 60 s on the sense clips take up 6 mOhm more: a tenth of the resistance.
    let mut worn = clean.clone();
    for point in worn.points.edit().iter_mut().filter(|point| point.time.0 > 60.0) {
        point.voltage += Volts(-0.006 * point.current.0);
    }
    let found = estimate(&worn);
    let difference = found.get(Quantity::ContactDifference).unwrap();
    let truth = 0.006 / run.resistance_at(1.0);
    assert!((difference.value - truth).abs() < 0.02, "{difference:?} {truth}");
    let after = found.get(Quantity::ResistanceTwoLevel).unwrap();
    assert!(after.standard_uncertainty > 3.0 * before.standard_uncertainty, "{after:?}");
    assert!(after.warnings.iter().any(|warning| warning.contains("contacts changed")));
    approx::assert_relative_eq!(after.budget.iter().map(|line| line.share).sum::<f64>(), 1.0, epsilon = 1e-9);
}

#[test]
fn one_pulse_alone_checks_no_contact() {
    let found = estimate(&Run::new(&Cell::default(), &pulse(IT)).record(&Instrument::default()));
    assert!(missing(&found, Quantity::ContactDifference).contains("two pulses"));
}

#[test]
fn a_rest_that_still_falls_does_not_count_as_resistance() {
    // 20 mV fall over the rest by themselves, slower and slower; 10 s of it would be 2.5 mOhm of 75.
    let run = Run::new(&Cell::default(), &[(0.0, 60.0), (0.5 * IT, 10.2), (0.0, 5.0)]);
    let mut trace = run.record(&noisy(Rows::PerStep { period: 0.002 }));
    for point in trace.points.edit().iter_mut() {
        point.voltage += Volts(-0.020 * (1.0 + point.time.0 / 10.0).ln());
    }
    let found = estimate(&trace);
    let at_10 = found.get(Quantity::Resistance10Seconds).unwrap();
    let drift = 0.020 * (8.0f64 / 7.0).ln() / (0.5 * IT);
    assert!(drift > 2e-3, "{drift}");
    assert!((at_10.value - run.resistance_at(10.0)).abs() < 0.2 * drift, "{at_10:?}");
    assert!((at_10.value - run.resistance_at(10.0)).abs() < 2.0 * at_10.standard_uncertainty, "{at_10:?}");
}

#[test]
fn charge_taken_out_is_told_apart_from_resistance() {
    // A cell of 2.5 Ah at 3.85 V in the 4.35 V class: about 0.75 V per unit of charge, here 0.3 V/Ah of its 2.5 Ah.
    let cell = Cell { fall_v_per_ah: 0.3, ..Cell::default() };
    let run = Run::new(&cell, &pulse(IT));
    let found = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 })));
    let without = found.get(Quantity::Resistance10SecondsWithoutCharge).unwrap();
    let truth = run.resistance_at(10.0) - 0.3 * 10.0 / 3600.0;
    assert!((without.value - truth).abs() < 2.0 * without.standard_uncertainty, "{without:?} {truth}");
    assert!(without.value < value(&found, Quantity::Resistance10Seconds));
}

#[test]
fn a_usual_cell_lies_near_one_and_the_class_is_wide() {
    let run = Run::new(&Cell { series_ohm: 0.115, ..Cell::default() }, &two_level(IT));
    let found = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 })));
    let over = found.get(Quantity::ResistanceOverClass).unwrap();
    approx::assert_relative_eq!(over.value, run.two_level() * IT / 0.343, max_relative = 0.02);
    assert!((0.12..0.3).contains(&(over.standard_uncertainty / over.value)), "{over:?}");
    assert!((7.0..10.0).contains(&over.degrees_of_freedom.unwrap()), "{over:?}");
}

#[test]
fn a_circuit_describes_the_pulse_where_it_was_seen_and_nowhere_else() {
    let cell = Cell { pairs: [(0.012, 0.05), (0.018, 2.0)], fall_v_per_ah: 0.0, ..Cell::default() };
    let run = Run::new(&cell, &pulse(IT));
    let found = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 })));
    let circuit = found.circuit.unwrap();
    assert_eq!(circuit.pairs.len(), 2, "{circuit:?}");
    for (pair, (ohm, tau)) in circuit.pairs.iter().zip(cell.pairs) {
        approx::assert_relative_eq!(pair.resistance_ohm.value, ohm, max_relative = 0.03);
        approx::assert_relative_eq!(pair.time_constant_s.value, tau, max_relative = 0.05);
    }
    for after in [0.01, 0.1, 1.0, 10.0] {
        let told = circuit.resistance_at(Seconds(after)).unwrap().0;
        approx::assert_relative_eq!(told, run.resistance_at(after), epsilon = 0.1e-3);
    }
    assert_eq!(circuit.resistance_at(Seconds(20.0)), None);
    assert!(circuit.warnings[0].contains("not a property of the cell"));
}

#[test]
fn a_pulse_too_short_for_its_slowest_part_says_so() {
    let cell = Cell { pairs: [(0.012, 0.05), (0.018, 20.0)], ..Cell::default() };
    let run = Run::new(&cell, &[(0.0, 10.0), (0.5 * IT, 2.0), (0.0, 5.0)]);
    let found = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 })));
    let circuit = found.circuit.unwrap();
    let slowest = circuit.pairs.iter().map(|pair| pair.time_constant_s.value).fold(0.0, f64::max);
    assert!(slowest > 1.0, "{circuit:?}");
    assert!(circuit.warnings.iter().any(|warning| warning.contains("too short")), "{circuit:?}");
    assert_eq!(circuit.resistance_at(Seconds(10.0)), None);
    // A pulse that is long enough for all parts of its cell says nothing of the kind.
    let cell = Cell { pairs: [(0.012, 0.05), (0.018, 2.0)], fall_v_per_ah: 0.0, ..Cell::default() };
    let run = Run::new(&cell, &pulse(IT));
    let circuit = estimate(&run.record(&noisy(Rows::PerStep { period: 0.001 }))).circuit.unwrap();
    assert!(!circuit.warnings.iter().any(|warning| warning.contains("too short")), "{circuit:?}");
}
