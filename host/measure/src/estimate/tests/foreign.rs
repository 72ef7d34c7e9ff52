//! What loggers and test programs of elsewhere do: rows within milliseconds, held voltages, slow rows, set currents, whole
//! characterisations, cells in series. Each with a trace that has nothing of it.

use super::*;
use crate::bdf;
use crate::estimate::synthetic::{Cell, Instrument, Random, Rows, Run, from_points};
use crate::nameplate::Chemistry;
use crate::si::{Amps, Volts};
use crate::trace::Point;

fn every(period: f64) -> Instrument {
    Instrument { rows: Rows::PerStep { period }, voltage_noise: 100e-6, ..Instrument::default() }
}

fn point(time: f64, current: f64, voltage: f64) -> Point {
    Point { time: Seconds(time), current: Amps(current), voltage: Volts(voltage), cell: None, ambient: None }
}

/// Keeps one row a minute of a rest, and the rows around its end that lie within milliseconds; of a load all.
fn sparse(run: &Run, rest_s: f64, noise_v: f64, seed: u64) -> Trace {
    let mut random = Random(seed);
    let rests = (0..(rest_s / 60.0) as usize).map(|minute| (0, minute as f64 * 60.0));
    let last = [0.024, 0.012, 0.0].map(|before| (0, rest_s - before));
    let loads = (0..=102).map(|row| (1, f64::from(row) * 0.1));
    let rows = rests.chain(last).chain(loads).map(|(step, elapsed)| {
        let time = if step == 0 { elapsed } else { rest_s + elapsed };
        let current = if step == 0 { 0.0 } else { 0.5 * IT };
        point(time, current, run.voltage(step, elapsed) + noise_v * random.normal())
    });
    from_points(rows.collect())
}

#[test]
fn rows_within_milliseconds_tell_no_slope_of_a_rest() {
    let run = Run::new(&Cell::default(), &[(0.0, 600.0), (0.5 * IT, 10.2)]);
    let truth = run.resistance_at(10.0);
    for seed in 1..=40 {
        let found = estimate(&sparse(&run, 600.0, 0.3e-3, seed));
        let at_10 = found.get(Quantity::Resistance10Seconds);
        let at_10 =
            at_10.unwrap_or_else(|| panic!("{seed}: {:?}", found.missing[&Quantity::Resistance10Seconds]));
        assert!((at_10.value - truth).abs() < 3.0 * at_10.standard_uncertainty, "{seed}: {at_10:?} {truth}");
        assert!(at_10.standard_uncertainty < 0.05 * truth, "{seed}: {at_10:?}");
        let drift = found.get(Quantity::RestDrift).unwrap();
        assert!(drift.value.abs() < 0.02, "{seed}: {drift:?}");
    }
    // A rest that does fall by itself is still seen to fall: 6 mV an hour over the minutes before.
    let mut trace = sparse(&run, 600.0, 0.0, 1);
    for row in trace.points.edit().iter_mut() {
        row.voltage += Volts(-row.time.0 * 6e-3 / 3600.0);
    }
    approx::assert_relative_eq!(value(&estimate(&trace), Quantity::RestDrift), -6e-3, max_relative = 0.05);
}

/// A charge at constant current, then for an hour at constant voltage with a current that a charger lowers in steps, then a rest
/// and a discharge; one that does not hold its voltage lets it fall with the current.
fn charged(held: bool) -> Trace {
    let (limit, current) = (4.35, 0.5 * IT);
    let mut rows: Vec<Point> = Vec::new();
    let mut add = |seconds: usize, row_at: &dyn Fn(f64) -> (f64, f64)| {
        let begin = rows.len() as f64 * 2.0;
        for row in 0..seconds / 2 {
            let (flows, volts) = row_at(row as f64 * 2.0);
            rows.push(point(begin + row as f64 * 2.0, flows, volts));
        }
    };
    add(600, &|_| (0.0, 3.8));
    add(3600, &|time| (-current, 3.85 + 0.5 * time / 3600.0));
    add(3600, &|time| {
        let share = 0.92_f64.powf((time / 120.0).floor());
        (-current * share, if held { limit } else { limit - 0.08 * current * (1.0 - share) })
    });
    let end = if held { limit } else { limit - 0.08 * current };
    add(3600, &|_| (0.0, end - 0.006));
    add(600, &|_| (0.2 * IT, end - 0.05));
    from_points(rows)
}

#[test]
fn the_second_phase_of_a_charger_contradicts_nothing() {
    let found = estimate(&charged(true));
    assert!(found.missing.values().all(|why| !why.contains("current steps")), "{:?}", found.missing);
    assert!(found.get(Quantity::RestVoltage).is_some() && found.get(Quantity::CountedCharge).is_some());
    // A current that is read with the other sign is still found.
    let mut turned = Run::new(&Cell::default(), &two_level(IT)).record(&every(0.01));
    turned.points.edit().iter_mut().for_each(|row| row.current = Amps(-row.current.0));
    assert!(missing(&estimate(&turned), Quantity::RestVoltage).contains("check the sign"));
    assert!(estimate(&charged(false)).get(Quantity::RestVoltage).is_some());
}

#[test]
fn a_slow_channel_is_not_told_where_the_cell_itself_moves_so() {
    let slow_why = |found: &Estimates| found.missing.values().any(|why| why.contains("slow or averages"));
    let pulse = [(0.0, 600.0), (0.5 * IT, 600.0), (0.0, 600.0)];
    // Rows every 10 s: within twenty of them diffusion moves a cell by more than it jumped.
    let diffusive = Cell { series_ohm: 0.02, pairs: [(0.001, 0.015), (0.2, 100.0)], ..Cell::default() };
    assert!(!slow_why(&estimate(&Run::new(&diffusive, &pulse).record(&every(10.0)))));
    // Full iron phosphate falls off its surface charge; on its plateau the same shape is a slow channel.
    let lfp = Nameplate {
        charge_limit_v: 3.65,
        end_of_discharge_v: 2.5,
        nominal_v: None,
        chemistry: Chemistry::Lfp,
        ..nameplate(IT)
    };
    let at = |source_v: f64| {
        let cell =
            Cell { source_v, series_ohm: 0.01, pairs: [(0.001, 0.015), (0.08, 2.0)], ..Cell::default() };
        let trace = Run::new(&cell, &[(0.0, 60.0), (0.5 * IT, 20.0), (0.0, 60.0)]).record(&every(0.1));
        slow_why(&all(&trace, &lfp, &Observations::default(), &FrontEnd::fixture()))
    };
    assert!(!at(3.40) && !at(3.50) && at(3.28));
}

/// A characterisation: a pulse of 0.5 It every 10 % of charge, from full to empty; its resistance is highest at both ends.
fn characterised(from_v: f64) -> Trace {
    let (mut rows, mut random) = (Vec::new(), Random(3));
    let mut begin = 0.0;
    for tenth in 0..10 {
        let charge = 1.0 - f64::from(tenth) / 10.0;
        let ohms = 0.05 + 0.2 * (charge - 0.5_f64).powi(2);
        let rest = from_v - 0.9 * (1.0 - charge);
        let mut add = |seconds: f64, period: f64, current: f64, volts: f64| {
            for row in 1..=(seconds / period) as usize {
                rows.push(point(begin + row as f64 * period, current, volts + 1e-4 * random.normal()));
            }
            begin += seconds;
        };
        add(600.0, 1.0, 0.0, rest);
        add(10.2, 0.1, 0.5 * IT, rest - 0.5 * IT * ohms);
        add(40.0, 1.0, 0.0, rest);
        add(1800.0, 1.0, 0.2 * IT, rest - 0.05);
    }
    from_points(rows)
}

#[test]
fn of_pulses_at_many_states_of_charge_the_one_at_half_is_used() {
    let found = estimate(&characterised(4.34));
    let at_10 = found.get(Quantity::Resistance10Seconds).unwrap();
    let charge = at_10.conditions.charge.unwrap();
    assert!((0.45..0.55).contains(&charge), "{at_10:?}");
    approx::assert_relative_eq!(at_10.value, 0.05, max_relative = 0.02);
    assert!(
        at_10.warnings.iter().any(|warning| warning.contains("nearest to half of 10")),
        "{:?}",
        at_10.warnings
    );
    // Where nobody knows the charge, it is said that the pulses lie at several: mixed oxide, not begun full.
    let plate = Nameplate { chemistry: Chemistry::Nmc, charge_limit_v: 4.2, ..nameplate(IT) };
    let found = all(&characterised(4.1), &plate, &Observations::default(), &FrontEnd::fixture());
    let at_10 = found.get(Quantity::Resistance10Seconds).unwrap();
    assert_eq!(at_10.conditions.charge, None);
    assert!(at_10.warnings.iter().any(|warning| warning.contains("does not tell")), "{:?}", at_10.warnings);
    // A screen at one charge says nothing of the kind.
    let one = estimate(&Run::new(&Cell::default(), &pulse(IT)).record(&Instrument::default()));
    let at_10 = one.get(Quantity::Resistance10Seconds).unwrap();
    assert!(
        at_10.conditions.charge.is_none() && at_10.warnings.iter().all(|warning| !warning.contains("charge"))
    );
}

/// A pulse of 1 A as a file that writes its current with some decimals.
fn written(decimals: usize) -> Trace {
    let run = Run::new(&Cell::default(), &[(0.0, 15.0), (1.0, 10.2), (0.0, 5.0)]);
    let trace = run.record(&every(0.01));
    let mut text = "Test Time / s,Current / A,Voltage / V\n".to_owned();
    for row in &trace.points {
        text += &format!("{:.4},{:.decimals$},{:.6}\n", row.time.0, 0.0 - row.current.0, row.voltage.0);
    }
    bdf::read(text.as_bytes(), "written.csv").unwrap()
}

#[test]
fn a_current_written_to_its_sixth_decimal_was_not_rounded_to_a_tenth() {
    let doubt = |decimals: usize| {
        let plate = nameplate(2.4);
        let found = all(&written(decimals), &plate, &Observations::default(), &FrontEnd::fixture());
        let line = found.get(Quantity::Resistance1Second).unwrap().budget.clone();
        line.iter().find(|line| line.input == "current after").map_or(0.0, |line| line.standard_uncertainty)
    };
    assert!(doubt(6) < 1e-6, "{}", doubt(6));
    approx::assert_relative_eq!(doubt(1), 0.1 / 12f64.sqrt(), max_relative = 1e-6);
}

#[test]
fn a_pulse_with_fast_rows_before_it_leaves_no_holes_in_a_discharge() {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let run =
        Run::new(&cell, &[(0.0, 60.0), (0.5 * IT, 10.0), (0.0, 60.0), (0.2 * IT, 19_000.0), (0.0, 60.0)]);
    let thin = |discharge: f64| {
        let trace = run.record(&every(0.1));
        let mut last = -1e9;
        let mut keep = |row: &Point| {
            let kept = row.time.0 < 140.0 || row.time.0 - last >= discharge - 1e-6;
            last = if kept { row.time.0 } else { last };
            kept
        };
        from_points(trace.points.iter().filter(|row| keep(row)).copied().collect())
    };
    let (slow, fast) = (estimate(&thin(20.0)), estimate(&thin(1.0)));
    let [slow, fast] = [&slow, &fast]
        .map(|found| found.get(Quantity::Capacity).unwrap_or_else(|| panic!("{:?}", found.missing)));
    approx::assert_relative_eq!(slow.value, fast.value, max_relative = 1e-3);
    assert!(slow.budget.iter().all(|line| line.input != "missing rows"), "{:?}", slow.budget);
}

#[test]
fn cells_in_series_are_not_one_cell_and_nothing_is_said_against_them() {
    let cell = Cell { source_v: 8.2, series_ohm: 0.09, ..Cell::default() };
    for steps in [&two_level(IT)[..], &[(0.2 * IT, 60.0)]] {
        let found = estimate(&Run::new(&cell, steps).record(&every(0.01)));
        for quantity in [Quantity::RestVoltage, Quantity::ResistanceTwoLevel, Quantity::Capacity] {
            assert!(missing(&found, quantity).contains("cells in series"), "{:?}", found.missing);
        }
        assert!(found.get(Quantity::TemperatureRise).is_some(), "a hot pair is still seen");
    }
    // One cell, however over-charged, is one cell: 4.35 V and a fifth.
    let over = Cell { source_v: 5.2, ..Cell::default() };
    let found = estimate(&Run::new(&over, &two_level(IT)).record(&every(0.01)));
    approx::assert_relative_eq!(value(&found, Quantity::RestVoltage), 5.2, epsilon = 1e-3);
}
