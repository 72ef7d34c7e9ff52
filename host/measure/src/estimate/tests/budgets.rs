//! Budgets: complete, additive, and confirmed by Monte Carlo.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};
use crate::uncertainty::{Input, Measurand, Trials, validate};

fn full() -> Estimates {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let steps = [(0.0, 60.0), (0.5, 10.0), (2.5, 1.2), (0.0, 30.0), (0.5, 9000.0), (0.0, 60.0)];
    let instrument =
        Instrument { rows: Rows::PerStep { period: 0.1 }, voltage_noise: 200e-6, ..Instrument::default() };
    estimate(&Run::new(&cell, &steps).record(&instrument))
}

#[test]
fn every_estimate_shows_where_its_uncertainty_comes_from() {
    let found = full();
    assert!(found.measured.len() >= 12, "{:?}", found.missing);
    for (quantity, estimate) in &found.measured {
        let shares: f64 = estimate.budget.iter().map(|line| line.share).sum();
        approx::assert_relative_eq!(shares, 1.0, epsilon = 1e-6);
        let square: f64 = estimate.budget.iter().map(|line| line.amount().powi(2)).sum();
        approx::assert_relative_eq!(square.sqrt(), estimate.standard_uncertainty, max_relative = 1e-6);
        for line in &estimate.budget {
            assert!(line.value.is_finite() && line.sensitivity.is_finite(), "{quantity:?} {line:?}");
            assert!(!line.input.is_empty() && !line.unit.is_empty(), "{quantity:?} {line:?}");
        }
    }
}

/// JCGM 101, clause 8, on the resistance's model with the fixture's budget, noise of few rows as t: first order stands.
#[test]
fn the_first_order_budget_of_a_resistance_is_validated_by_monte_carlo() {
    let front_end = FrontEnd::fixture();
    let inputs = [
        Input::new("voltage before", "V", 3.800, 50e-6).with_degrees_of_freedom(12.0),
        Input::new("voltage after", "V", 3.650, 80e-6).with_degrees_of_freedom(6.0),
        Input::new("rise of the current", "A", 2.0, 1e-3),
        front_end.voltage_gain_error(),
        front_end.current_gain_error(),
        front_end.contact_error(),
    ];
    let resistance = Measurand::new(inputs, |[before, after, rise, gain_u, gain_i, contact]| {
        (before - after) * (1.0 + gain_u) / (rise * (1.0 + gain_i)) + contact
    });
    let budget = resistance.budget();
    let drawn = resistance.monte_carlo(&Trials { digits: 1, ..Trials::default() }).unwrap();
    approx::assert_relative_eq!(drawn.standard_uncertainty, budget.standard_uncertainty, max_relative = 0.02);
    let validation = validate(&budget, &drawn, 0.95, 1);
    assert!(validation.holds(), "{validation:?} {budget:?}");
}

/// The state of charge bends with its table. Read in the middle of the flat part, Monte Carlo over the same inputs
/// must give the interval that is told, to two per cent of charge.
#[test]
fn the_interval_of_a_state_of_charge_is_that_of_monte_carlo() {
    use crate::estimate::open_circuit::curve;
    let plate = nameplate(IT);
    let curve = curve(&plate).unwrap();
    for voltage in [3.70, 3.78, 3.90, 4.10] {
        let mut settled = Estimate::new(Quantity::SettledVoltage, voltage, 0.006, "rest");
        settled.conditions.temperature_c = Some(22.0);
        let found = with_measurement(|m| state_of_charge::state_of_charge(m, Ok(&settled), true)).unwrap();
        let inputs = [
            Input::new("voltage", "V", voltage, 0.006),
            Input::new("class", "V", 0.0, curve.spread_at(voltage)),
            Input::new("temperature", "V", 0.0, curve.temperature_v(Some(22.0))),
        ];
        let measurand = Measurand::new(inputs, |volts: [f64; 3]| curve.charge_at(volts.iter().sum()));
        let [low, high] = measurand
            .monte_carlo(&Trials { most_blocks: 10, ..Trials::default() })
            .unwrap()
            .symmetric(0.9545);
        let [told_low, told_high] = found.interval.unwrap();
        println!("{voltage} V: told {told_low:.3} to {told_high:.3}, drawn {low:.3} to {high:.3}");
        // The told interval is never narrower, and wider only where reading the table sets the least.
        assert!(told_low <= low + 0.02 && told_high >= high - 0.02);
        assert!(told_high - told_low <= (high - low).max(0.08) + 0.02);
    }
}
