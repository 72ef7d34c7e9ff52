//! The cell against closed forms and balances.

use super::*;
use crate::parameters::CellTables;

const SECOND: u64 = 1_000_000_000;

fn tables() -> CellTables {
    CellTables {
        name: "trial".into(),
        source: "made up for tests".into(),
        capacity_ah: 3.0,
        end_of_discharge_v: 3.0,
        charge_limit_v: 4.35,
        soc: vec![0.0, 0.05, 0.5, 1.0],
        ocv_v: vec![3.0, 3.6, 3.84, 4.34],
        resistance_soc: vec![0.5],
        series_ohm: vec![0.06],
        pair_ohm: vec![vec![0.02], vec![0.03]],
        pair_seconds: vec![0.05, 20.0],
        heat_capacity_j_per_k: 40.0,
        heat_loss_w_per_k: 0.07,
        leak_a: 0.0,
        self_warming_w: 0.0,
    }
}

fn cell(tables: CellTables, soc: f64) -> Cell {
    Cell::new(CellParameters::try_from(tables).unwrap(), soc, 25.0)
}

/// A cell whose rested voltage and resistances stay put, so that closed forms hold exactly.
fn steady() -> Cell {
    let constant =
        CellTables { ocv_v: vec![3.8; 4], heat_loss_w_per_k: 1e9, heat_capacity_j_per_k: 1e9, ..tables() };
    cell(constant, 0.8)
}

fn closed_form(seconds: f64) -> f64 {
    0.06 + 0.02 * (1.0 - (-seconds / 0.05).exp()) + 0.03 * (1.0 - (-seconds / 20.0).exp())
}

#[test]
fn a_load_is_answered_as_the_closed_form_says_whatever_the_steps() {
    for steps in [1, 7, 1_000] {
        let mut cell = steady();
        for _ in 0..steps {
            cell.pass(10 * SECOND / steps, 2.0, 25.0);
        }
        // Whole nanoseconds do not always add up to 10 s: a thousandth of a microvolt covers it.
        let voltage = cell.unloaded_voltage() - 2.0 * cell.series_ohm();
        assert!((voltage - (3.8 - 2.0 * closed_form(10.0))).abs() < 1e-9, "{steps} steps: {voltage}");
    }
}

#[test]
fn the_mean_voltage_is_that_of_the_curve() {
    let (mut fine, mut coarse) = (steady(), steady());
    let mean = (0..10_000).map(|_| fine.pass(SECOND / 10_000, 2.0, 25.0)).sum::<f64>() / 10_000.0;
    assert!((coarse.pass(SECOND, 2.0, 25.0) - mean).abs() < 1e-9);
}

#[test]
fn after_the_load_the_pairs_relax_with_their_own_time() {
    let mut cell = steady();
    cell.pass(10 * SECOND, 2.0, 25.0);
    let slow = 2.0 * 0.03 * (1.0 - (-0.5_f64).exp());
    cell.pass(20 * SECOND, 0.0, 25.0);
    let expected = 3.8 - slow * (-1.0_f64).exp();
    assert!((cell.unloaded_voltage() - expected).abs() < 1e-9);
}

#[test]
fn counted_charge_is_capacity_times_change_of_state_without_drift() {
    let mut cell = cell(tables(), 1.0);
    // 0.9 Ah in four million steps, as many as bus traffic makes.
    let (count, span) = (4_000_000, 1_350_000);
    for _ in 0..count {
        cell.pass(span, 0.6, 25.0);
    }
    let out_c = 0.6 * count as f64 * span as f64 * 1e-9;
    assert!((cell.charge_out_c() / out_c - 1.0).abs() < 1e-9);
    assert!(((1.0 - cell.soc()) * 3.0 * 3_600.0 / out_c - 1.0).abs() < 1e-9);
}

#[test]
fn a_leak_empties_the_cell_inside_and_warms_it() {
    let leaking = CellTables { leak_a: 0.03, ..tables() };
    let mut cell = cell(leaking, 0.5);
    assert!((cell.temperature_c() - 25.0 - 0.03 * 3.84 / 0.07).abs() < 1e-9);
    for _ in 0..3_600 {
        cell.pass(SECOND, 0.0, 25.0);
    }
    assert!((cell.soc() - (0.5 - 0.03 / 3.0)).abs() < 1e-9);
    assert_eq!(cell.charge_out_c(), 0.0);
}

#[test]
fn chemical_energy_is_what_comes_out_and_what_warms() {
    let mut cell = cell(tables(), 0.9);
    let (mut out_j, mut chemical_j) = (0.0, 0.0);
    for step in 0..36_000_u64 {
        let current = if step % 600 < 300 { 1.5 } else { 0.0 };
        let before = cell.open_voltage();
        out_j += current * 0.1 * cell.pass(SECOND / 10, current, 25.0);
        chemical_j += current * 0.1 * (before + cell.open_voltage()) / 2.0;
    }
    let away = chemical_j - out_j - cell.heat_made_j();
    // Means of the rested voltage by trapezoid and at the middle differ where the span crosses a point of the table.
    assert!(away.abs() < 1e-4 * cell.heat_made_j(), "{away} J of {} J", cell.heat_made_j());
}

#[test]
fn a_settled_load_makes_the_heat_of_all_its_resistances() {
    let mut cell = steady();
    cell.pass(1_000 * SECOND, 2.0, 25.0);
    let before = cell.heat_made_j();
    cell.pass(10 * SECOND, 2.0, 25.0);
    assert!((cell.heat_made_j() - before - 2.0 * 2.0 * (0.06 + 0.02 + 0.03) * 10.0).abs() < 1e-9);
}

#[test]
fn heat_stays_or_is_lost_to_the_room_and_settles_where_both_agree() {
    let warming = CellTables { self_warming_w: 0.35, ..tables() };
    let mut cell = cell(warming, 0.5);
    cell.set_temperature_c(25.0);
    let constant_s = 40.0 / 0.07;
    for _ in 0..1_000 {
        cell.pass((constant_s * 1e6) as u64, 0.0, 25.0);
    }
    let expected = 25.0 + 0.35 / 0.07 * (1.0 - (-1.0_f64).exp());
    assert!((cell.temperature_c() - expected).abs() < 1e-4, "{}", cell.temperature_c());
}

#[test]
fn resistance_is_neutral_at_25_degrees_and_rises_in_the_cold() {
    assert_eq!(temperature_factor(25.0), 1.0);
    // The bands of the published profiles: 2.27 to 2.96 at 0 degC, 0.82 to 0.87 at 40 degC.
    assert!((2.27..2.96).contains(&temperature_factor(0.0)));
    assert!((0.82..0.87).contains(&temperature_factor(40.0)));
}

#[test]
fn below_empty_the_voltage_goes_on_falling_but_not_below_zero() {
    assert!((cell(tables(), -0.05).open_voltage() - 2.4).abs() < 1e-9);
    assert_eq!(cell(tables(), -0.9).open_voltage(), 0.0);
}
