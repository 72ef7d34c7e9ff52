//! Discharges in stages, and ones that end before they are through: what they prove, and what they do not.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};
use crate::trace::Point;

/// Ah that a cell of straight voltage gives down to 3.0 V at a current in A.
fn gives(cell: &Cell, current: f64) -> f64 {
    let ohm = cell.series_ohm + cell.pairs[0].0 + cell.pairs[1].0;
    (cell.source_v - current * ohm - 3.0) / cell.fall_v_per_ah
}

fn cell(ohm: f64) -> Cell {
    Cell { source_v: 4.35, fall_v_per_ah: 0.5, series_ohm: ohm, ..Cell::default() }
}

/// A rest, then each current to the end voltage with a rest behind; the last one only so long as `share` of its way.
fn stages(cell: &Cell, shares: &[f64], last: f64) -> Trace {
    let mut steps = vec![(0.0, 60.0)];
    let mut taken = 0.0;
    for (index, share) in shares.iter().enumerate() {
        let current = share * IT;
        let mut more = gives(cell, current) - taken;
        if index + 1 == shares.len() {
            more *= last;
        }
        taken += more;
        steps.extend([(current, more / current * 3600.0), (0.0, 30.0)]);
    }
    let instrument =
        Instrument { rows: Rows::PerStep { period: 1.0 }, voltage_noise: 200e-6, ..Instrument::default() };
    Run::new(cell, &steps).record(&instrument)
}

#[test]
fn faster_stages_and_then_a_fifth_give_the_capacity_of_a_fifth() {
    // Sound cells, where the first stage gives most, and a worn one, where the last does.
    for (ohm, shares) in [
        (0.045, [0.5, 0.2].as_slice()),
        (0.045, &[1.0, 0.2]),
        (0.045, &[1.0, 0.5, 0.2]),
        (0.2, &[0.5, 0.2]),
        (0.35, &[1.0, 0.2]),
    ] {
        let cell = cell(ohm);
        let found = estimate(&stages(&cell, shares, 1.0));
        let capacity =
            found.get(Quantity::Capacity).unwrap_or_else(|| panic!("{shares:?}: {:?}", found.missing));
        approx::assert_relative_eq!(capacity.value, gives(&cell, 0.2 * IT), max_relative = 2e-3);
        assert!(capacity.method.contains("faster stages first"), "{shares:?}: {}", capacity.method);
        let said =
            capacity.warnings.iter().any(|one| one.contains("in stages, at") && one.contains("0.20 It"));
        assert!(said, "{:?}", capacity.warnings);
        assert!(capacity.conditions.current_a.is_some_and(|current| (current - 0.5).abs() < 0.01));
        let line = capacity.budget.iter().find(|line| line.input == "faster stages before").unwrap();
        approx::assert_relative_eq!(line.standard_uncertainty, 0.003 / 3f64.sqrt(), max_relative = 1e-6);
    }
}

#[test]
fn a_second_stage_that_does_not_reach_the_end_leaves_the_first() {
    let cell = cell(0.2);
    let found = estimate(&stages(&cell, &[0.5, 0.2], 0.5));
    let capacity = found.get(Quantity::Capacity).unwrap();
    let truth = gives(&cell, 0.2 * IT);
    assert!((capacity.value - truth).abs() < 2.0 * capacity.standard_uncertainty, "{capacity:?}");
    assert!(capacity.value > gives(&cell, 0.5 * IT));
    // From 1 It alone there is no capacity, only a bound.
    let found = estimate(&stages(&cell, &[1.0, 0.2], 0.5));
    assert!(missing(&found, Quantity::Capacity).contains("no full discharge"));
    let at_least = found.get(Quantity::CapacityAtLeast).unwrap();
    assert!(
        at_least.value < gives(&cell, 0.2 * IT) && at_least.value > 0.9 * gives(&cell, IT),
        "{at_least:?}"
    );
}

#[test]
fn a_discharge_that_stops_early_gives_a_lower_bound_at_any_rate() {
    let cell = cell(0.045);
    let truth = gives(&cell, 0.2 * IT);
    for share in [0.05, 0.2, 0.5, 1.0] {
        for last in [0.5, 0.9, 1.0] {
            let found = estimate(&stages(&cell, &[share], last));
            if found.get(Quantity::Capacity).is_some() {
                assert!(found.get(Quantity::CapacityAtLeast).is_none());
                continue;
            }
            let at_least = found
                .get(Quantity::CapacityAtLeast)
                .unwrap_or_else(|| panic!("{share}: {:?}", found.missing));
            let counted = gives(&cell, share * IT) * last;
            let slow = 0.07 * (0.2_f64 - share).max(0.0);
            // Where the end is reached, the count stops as soon as the voltage may be there.
            let near = if last < 1.0 { 3e-3 } else { 1e-2 };
            approx::assert_relative_eq!(at_least.value, counted * (1.0 - slow), max_relative = near);
            assert!(at_least.value <= truth + 2.0 * at_least.standard_uncertainty, "{share} {last}");
            let of_rated = value(&found, Quantity::CapacityFractionAtLeast);
            approx::assert_relative_eq!(of_rated, at_least.value / IT, max_relative = 1e-9);
        }
    }
}

#[test]
fn a_bound_needs_neither_a_full_cell_nor_one_discharge() {
    let low = Cell { source_v: 4.1, ..cell(0.045) };
    let found = estimate(&stages(&low, &[0.5], 0.9));
    approx::assert_relative_eq!(
        value(&found, Quantity::CapacityAtLeast),
        0.9 * gives(&low, 0.5 * IT),
        max_relative = 3e-3
    );
    // What was charged in between does not count twice.
    let steps =
        [(0.0, 60.0), (1.25, 3600.0), (0.0, 60.0), (-1.25, 3000.0), (0.0, 60.0), (1.25, 3000.0), (0.0, 30.0)];
    let instrument = Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() };
    let found = estimate(&Run::new(&cell(0.045), &steps).record(&instrument));
    approx::assert_relative_eq!(value(&found, Quantity::CapacityAtLeast), 1.25, max_relative = 3e-3);
}

#[test]
fn what_says_nothing_gives_no_bound() {
    let whole = stages(&cell(0.045), &[0.5], 0.8);
    let why = |trace: &Trace| missing(&estimate(trace), Quantity::CapacityAtLeast).to_owned();
    // A little charge.
    let little = stages(&cell(0.045), &[0.5], 0.1);
    assert!(why(&little).contains("of the rated charge"), "{}", why(&little));
    // A voltage that is none of the cell's.
    let mut flat = whole.clone();
    flat.points.edit().iter_mut().enumerate().for_each(|(row, point)| {
        point.voltage = Volts(3.9 + 1e-4 * ((row * 37 % 11) as f64 - 5.0));
    });
    assert!(
        why(&flat).contains("not the cell's") || why(&flat).contains("does not answer"),
        "{}",
        why(&flat)
    );
    // Rows that are there twice.
    let mut rows: Vec<_> = whole.points.iter().copied().collect();
    let later = rows[3200].time - rows[2000].time;
    let again: Vec<_> =
        rows[2000..].iter().map(|point| Point { time: point.time + later, ..*point }).collect();
    rows.truncate(3200);
    rows.extend(again);
    let twice = from_points(rows);
    assert!(why(&twice).contains("in doubt"), "{}", why(&twice));
    // Charged past its limit.
    let over = stages(&Cell { source_v: 4.45, ..cell(0.045) }, &[0.5], 0.8);
    assert!(why(&over).contains("above its charge limit"), "{}", why(&over));
}

#[test]
fn a_counter_that_contradicts_its_samples_gives_no_bound() {
    let trace = stages(&cell(0.045), &[0.5], 0.8);
    let counted = value(&estimate(&trace), Quantity::CapacityAtLeast);
    let with = |total: f64| {
        let run = RunRecord { counted_charge: Some(AmpHours(total)), ..RunRecord::default() };
        estimate(&Trace { run: Some(run), ..trace.clone() })
    };
    approx::assert_relative_eq!(
        value(&with(counted), Quantity::CapacityAtLeast),
        counted,
        max_relative = 1e-3
    );
    assert!(missing(&with(counted * 0.97), Quantity::CapacityAtLeast).contains("one of them is wrong"));
}
