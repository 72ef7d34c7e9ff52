//! Capacity: full discharges are counted, and nothing else is called one.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run, Torn};
use crate::si::{AmpHours, Amps, Volts};

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
    use crate::trace::{RunRecord, StepRecord};
    use celltriage_protocol::event::StepEnd;
    let instrument = Instrument { rows: Rows::PerStep { period: 1.0 }, ..Instrument::default() };
    let mut trace = full_discharge(0.2, 4.35, 3.0).record(&instrument);
    trace.points.edit().drain(5000..7000);
    let truth = capacity_truth(0.2, 4.35);
    let step = |index: u8, ended: Seconds, cause: StepEnd, charge: f64| StepRecord {
        index,
        started: None,
        ended: Some(ended),
        cause: Some(cause),
        charge: Some(AmpHours(charge)),
    };
    let floor = trace.points.iter().find(|point| point.voltage <= Volts(3.0)).unwrap().time;
    let steps =
        vec![step(0, Seconds(60.0), StepEnd::Time, 0.001), step(1, floor, StepEnd::Floor, truth + 0.001)];
    trace.run = Some(RunRecord { steps, ..RunRecord::default() });
    let found = estimate(&trace);
    let capacity = found.get(Quantity::Capacity).unwrap();
    approx::assert_relative_eq!(capacity.value, truth, epsilon = 1e-9);
    assert!(capacity.warnings.iter().any(|warning| warning.contains("own count")), "{:?}", capacity.warnings);
}
