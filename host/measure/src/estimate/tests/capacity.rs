//! Capacity: full discharges are counted, and nothing else is called one.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run, Torn};
use crate::si::Amps;

fn full_discharge(rate: f64, rest_v: f64, stop_v: f64) -> Run {
    // Source, resistance and both pairs carry rate x 2.5 A: the end is where the line has fallen so far.
    let cell = Cell { source_v: rest_v, fall_v_per_ah: 0.5, ..Cell::default() };
    let current = rate * IT;
    let drop = current * (cell.series_ohm + cell.pairs[0].0 + cell.pairs[1].0);
    let hours = (rest_v - drop - stop_v) / cell.fall_v_per_ah / current;
    Run::new(&cell, &[(0.0, 60.0), (current, hours * 3600.0), (0.0, 60.0)])
}

fn capacity_truth(rate: f64, rest_v: f64) -> f64 {
    let cell = Cell::default();
    (rest_v - rate * IT * (cell.series_ohm + cell.pairs[0].0 + cell.pairs[1].0) - 3.0) / 0.5
}

#[test]
fn a_full_discharge_gives_the_capacity_also_where_it_goes_on_below_the_end() {
    for (stop_v, period) in [(3.0, 1.0), (2.9, 1.0), (2.9, 10.0), (3.0, 10.0), (2.9, 60.0)] {
        let instrument = Instrument {
            rows: Rows::PerStep { period },
            torn: Torn::CurrentFirst,
            voltage_noise: 200e-6,
            current_noise: 0.5e-3,
            ..Instrument::default()
        };
        let found = estimate(&full_discharge(0.2, 4.35, stop_v).record(&instrument));
        let truth = capacity_truth(0.2, 4.35);
        // Noise of 0.2 mV on a line that falls by 69 uV/s moves the first crossing by seconds of five hours.
        approx::assert_relative_eq!(value(&found, Quantity::Capacity), truth, max_relative = 2e-3);
        approx::assert_relative_eq!(
            value(&found, Quantity::CapacityFraction),
            truth / IT,
            max_relative = 2e-3
        );
        approx::assert_relative_eq!(found.get(Quantity::RestVoltage).unwrap().value, 4.35, epsilon = 1e-3);
    }
}

#[test]
fn what_is_no_full_discharge_is_not_called_capacity() {
    let record = |run: Run| {
        estimate(&run.record(&Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() }))
    };
    let not_full = record(full_discharge(0.2, 4.28, 3.0));
    assert!(missing(&not_full, Quantity::Capacity).contains("did not begin full"));
    let not_empty = record(full_discharge(0.2, 4.35, 3.1));
    assert!(missing(&not_empty, Quantity::Capacity).contains("100 mV above the end-of-discharge"));
    let too_fast = record(full_discharge(1.0, 4.35, 3.0));
    assert!(missing(&too_fast, Quantity::Capacity).contains("1.00 It"));
    assert!(missing(&too_fast, Quantity::CapacityFraction).starts_with("no full discharge"));
}

#[test]
fn slow_and_rounded_discharges_are_counted_and_the_rate_is_allowed_for_with_its_sign() {
    let record = |rate: f64| {
        let run = full_discharge(rate, 4.35, 2.95);
        estimate(&run.record(&Instrument { rows: Rows::PerStep { period: 20.0 }, ..Instrument::default() }))
    };
    for rate in [0.0197, 0.02, 1.0 / 30.0, 0.05, 0.0998, 0.2, 0.5, 0.557] {
        let found = record(rate);
        let capacity = found.get(Quantity::Capacity).unwrap_or_else(|| panic!("{rate}: {:?}", found.missing));
        let counted = capacity_truth(rate, 4.35);
        let allowed = capacity.value / counted - 1.0;
        let line = capacity.budget.iter().find(|line| line.input == "rate other than 0.2 It");
        let doubt = line.map_or(0.0, |line| line.standard_uncertainty);
        if rate > 0.22 {
            // The rest behind it tells by how much this cell gives less; its curve is straight, so it is all of that.
            let less = capacity_truth(0.2, 4.35) / counted - 1.0;
            assert!(
                allowed > 0.0 && (allowed - less).abs() < 2.0 * doubt,
                "{rate}: {allowed} {less} {doubt}"
            );
        } else {
            approx::assert_relative_eq!(allowed, 0.07 * (rate - 0.2), epsilon = 4e-4);
            approx::assert_relative_eq!(doubt, 0.045 * (rate - 0.2_f64).abs(), epsilon = 1e-4);
        }
        let said = capacity.warnings.iter().any(|warning| warning.contains("are allowed for that"));
        assert_eq!(said, (rate - 0.2_f64).abs() > 0.02, "{rate}: {:?}", capacity.warnings);
    }
    for rate in [0.0185, 0.575] {
        assert!(missing(&record(rate), Quantity::Capacity).contains("measured at 0.02 to 0.55 It"));
    }
}

/// Capacities of PyBaMM's DFN model over those at 0.2 It, in %, at 0.02, 0.05, 0.1, 0.3, 0.4, 0.5 and 0.55 It: five published
/// cells with 0.034, 0.12 and 0.30 Ohm.Ah in series (the second with halved exchange currents), and with lithium lost.
const BY_RATE: [[f64; 7]; 16] = [
    [0.48, 0.40, 0.26, -0.26, -0.51, -0.76, -0.89], // Ai2020, cobalt oxide
    [0.70, 0.58, 0.38, -0.37, -0.75, -1.13, -1.32],
    [0.69, 0.58, 0.40, -0.43, -0.89, -1.40, -1.67],
    [0.63, 0.52, 0.34, -0.36, -0.74, -1.14, -1.36],
    [0.66, 0.54, 0.35, -0.33, -0.64, -0.94, -1.09], // Chen2020, mixed oxide
    [0.85, 0.68, 0.43, -0.39, -0.77, -1.13, -1.32],
    [0.88, 0.72, 0.48, -0.46, -0.92, -1.38, -1.62],
    [1.01, 0.82, 0.52, -0.48, -0.94, -1.39, -1.62],
    [0.11, 0.09, 0.06, -0.06, -0.12, -0.17, -0.20], // Ecker2015, mixed oxide
    [0.17, 0.15, 0.10, -0.11, -0.22, -0.34, -0.40],
    [0.17, 0.14, 0.09, -0.09, -0.18, -0.28, -0.32],
    [0.47, 0.39, 0.26, -0.24, -0.48, -0.70, -0.81], // Marquis2019, cobalt oxide
    [0.71, 0.59, 0.39, -0.40, -0.80, -1.22, -1.44],
    [0.67, 0.55, 0.35, -0.29, -0.54, -0.74, -0.83], // OKane2022, mixed oxide
    [0.87, 0.70, 0.45, -0.36, -0.62, -0.83, -0.91],
    [1.08, 0.85, 0.52, -0.40, -0.71, -0.95, -1.04],
];

#[test]
fn what_is_allowed_for_the_rate_holds_the_models_cells_and_the_measured_ones() {
    let shares = [0.02, 0.05, 0.1, 0.3, 0.4, 0.5, 0.55];
    let measured = (0.5, -2.1);
    let simulated = BY_RATE.iter().flat_map(|row| shares.into_iter().zip(row.iter().copied()));
    let mut off = Vec::new();
    for (share, percent) in simulated.chain([measured]) {
        let currents = crate::trace::ValueRange { low: share * IT, high: share * IT };
        let (allowed, doubt) = super::super::capacity::other_rate(share, &currents, Amps(IT), Chemistry::Lco);
        let corrected = (1.0 + percent / 100.0) * (1.0 + allowed) - 1.0;
        assert!(corrected.abs() < 2.0 * doubt, "{share} It, {percent} %: {corrected} {doubt}");
        off.push(corrected / doubt);
    }
    let mean = off.iter().map(|one| one.powi(2)).sum::<f64>() / off.len() as f64;
    assert!(mean.sqrt() > 0.5, "the doubt is far wider than needed: {}", mean.sqrt());
}

#[test]
fn a_hole_in_a_discharge_is_refused_and_a_small_one_widens() {
    let trace = full_discharge(0.2, 4.35, 3.0)
        .record(&Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() });
    let cut = |rows: std::ops::Range<usize>| {
        let mut points = trace.points.to_vec();
        points.drain(rows);
        estimate(&from_points(points))
    };
    assert!(missing(&cut(5000..6000), Quantity::Capacity).contains("rows are missing"));
    let small = cut(5000..5100);
    let whole = estimate(&trace);
    let deviation = |estimates: &Estimates| estimates.get(Quantity::Capacity).unwrap().standard_uncertainty;
    assert!(deviation(&small) > deviation(&whole));
    approx::assert_relative_eq!(
        value(&small, Quantity::Capacity),
        capacity_truth(0.2, 4.35),
        max_relative = 1e-3
    );
}

#[test]
fn a_discharge_interrupted_by_rests_and_pulses_is_counted_and_said() {
    let run = Run::new(
        &Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() },
        &[(0.0, 60.0), (0.5, 9000.0), (0.0, 600.0), (2.5, 10.0), (0.0, 600.0), (0.5, 12_000.0), (0.0, 60.0)],
    );
    let found =
        estimate(&run.record(&Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() }));
    let estimate = found.get(Quantity::Capacity).unwrap();
    approx::assert_relative_eq!(estimate.value, capacity_truth(0.2, 4.35), max_relative = 2e-3);
    assert!(
        estimate.warnings.iter().any(|warning| warning.contains("interrupted")),
        "{:?}",
        estimate.warnings
    );
}

#[test]
fn a_current_that_reads_zero_while_the_voltage_stays_down_gives_no_capacity() {
    let instrument =
        Instrument { rows: Rows::PerStep { period: 1.0 }, voltage_noise: 200e-6, ..Instrument::default() };
    let mut trace = full_discharge(0.2, 4.35, 3.0).record(&instrument);
    trace.points.edit()[5000..7000].iter_mut().for_each(|point| point.current = Amps(0.0));
    assert!(missing(&estimate(&trace), Quantity::Capacity).contains("does not answer"));
}

#[test]
fn the_fixtures_count_stands_in_for_lost_rows() {
    let instrument = Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() };
    let mut trace = full_discharge(0.2, 4.35, 3.0).record(&instrument);
    trace.points.edit().drain(5000..7000);
    let truth = capacity_truth(0.2, 4.35);
    let trace = with_counter(&trace, [0.001, truth + 0.001]);
    let found = estimate(&trace);
    let capacity = found.get(Quantity::Capacity).unwrap();
    approx::assert_relative_eq!(capacity.value, truth, epsilon = 1e-9);
    assert!(capacity.warnings.iter().any(|warning| warning.contains("own count")), "{:?}", capacity.warnings);
}

/// The published iron phosphate cell (Prada2013), new and aged, by `tests/reference/step_down.py`: at 0.5 It over 0.2 It, in %.
#[test]
fn what_is_allowed_for_the_rate_holds_iron_phosphate_too() {
    let currents = crate::trace::ValueRange { low: 0.5 * IT, high: 0.5 * IT };
    let (allowed, doubt) = super::super::capacity::other_rate(0.5, &currents, Amps(IT), Chemistry::Lfp);
    for percent in [-4.95, -6.02] {
        let corrected = (1.0 + percent / 100.0) * (1.0 + allowed) - 1.0;
        assert!(corrected.abs() < 2.0 * doubt, "{percent} %: {corrected} {doubt}");
    }
    // A makers' curve that loses 1 % lies within as well.
    assert!((0.99 * (1.0 + allowed) - 1.0).abs() < 2.0 * doubt);
}

#[test]
fn an_aged_cell_that_settles_low_is_taken_where_its_charger_ended() {
    let trace = full_discharge(0.2, 4.285, 3.0)
        .record(&Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() });
    assert!(missing(&estimate(&trace), Quantity::Capacity).contains("did not begin full"));
    let off_charger = Observations { charger_ended: true, ..Observations::default() };
    let with = |looks: &Observations, trace: &Trace| all(trace, &nameplate(IT), looks, &FrontEnd::fixture());
    let found = with(&off_charger, &trace);
    let capacity = found.get(Quantity::Capacity).unwrap();
    // Anything from nothing to all that the voltage is lower by may be lacking: both ends lie in the interval.
    let counted = capacity_truth(0.2, 4.285);
    assert!((capacity.value - counted).abs() <= 2.0 * capacity.standard_uncertainty);
    assert!(capacity.warnings.iter().any(|one| one.contains("though its charger had ended")));
    // A charger that ended far below was set to another limit, or the cell lost charge.
    let far = full_discharge(0.2, 4.2, 3.0)
        .record(&Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() });
    assert!(missing(&with(&off_charger, &far), Quantity::Capacity).contains("did not begin full"));
}
