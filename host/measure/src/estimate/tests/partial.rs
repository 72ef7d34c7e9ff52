//! Settled voltage and partial discharge.

use super::*;
use crate::estimate::open_circuit::curve;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};
use crate::si::{Amps, Celsius, Volts};
use crate::trace::Point;

#[test]
fn a_rest_that_still_relaxes_is_carried_on_and_widened() {
    // Log-time relaxation as real cells show it: 4 mV for every factor e, seen for 60 s, going on for another 30 min.
    let law = |time: f64| 3.85 - 0.004 * ((time + 20.0) / 20.0).ln();
    let flat = Run::new(&Cell::default(), &[(0.0, 60.0), (0.5, 3.0)]);
    let mut trace = flat.record(&Instrument {
        rows: Rows::PerStep { period: 0.01 },
        voltage_noise: 100e-6,
        ..Instrument::default()
    });
    for point in trace.points.edit().iter_mut() {
        point.voltage += Volts(law(point.time.0) - 3.85);
    }
    let found = estimate(&trace);
    let settled = found.get(Quantity::SettledVoltage).unwrap();
    let truth = law(1800.0);
    assert!((settled.value - truth).abs() < 2.0 * settled.standard_uncertainty, "{settled:?} {truth}");
    assert!(settled.value < value(&found, Quantity::RestVoltage) - 0.002);
    let still = estimate(&flat.record(&Instrument {
        rows: Rows::PerStep { period: 0.01 },
        voltage_noise: 100e-6,
        ..Instrument::default()
    }));
    assert!(still.get(Quantity::SettledVoltage).unwrap().standard_uncertainty < settled.standard_uncertainty);
}

/// A discharge between two rests along the class's own curve: 0.1 It, rows every 10 s.
pub(super) fn between(from: f64, to: f64, capacity: f64, rest_s: f64) -> Trace {
    let plate = nameplate(IT);
    let curve = curve(&plate).unwrap();
    let current = 0.2 * IT;
    let hours = (from - to) * capacity / current;
    let point = |time: f64, current: f64, charge: f64| Point {
        time: Seconds(time),
        current: Amps(current),
        voltage: Volts(curve.voltage_at(charge) - 0.08 * current),
        cell: Some(Celsius(24.0)),
        ambient: Some(Celsius(24.0)),
    };
    let rest = (rest_s / 10.0) as usize;
    let loaded = (hours * 360.0) as usize;
    let end = rest_s + hours * 3600.0;
    let mut points: Vec<Point> = (0..rest).map(|row| point(row as f64 * 10.0, 0.0, from)).collect();
    points.extend((0..loaded).map(|row| {
        let elapsed = row as f64 * 10.0;
        point(rest_s + elapsed, current, from - current * elapsed / 3600.0 / capacity)
    }));
    points.extend((1..=rest).map(|row| point(end + row as f64 * 10.0, 0.0, to)));
    from_points(points)
}

#[test]
fn a_wide_part_between_long_rests_gives_an_estimate_that_is_not_called_capacity() {
    let found = estimate(&between(0.95, 0.15, 2.2, 4000.0));
    let part = found.get(Quantity::CapacityFromPart).unwrap();
    // The table runs down to 3.0 V at rest; under 0.2 It a cell ends 0.13 V earlier, where 1 % is left.
    approx::assert_relative_eq!(part.value, 2.2 * 0.989, max_relative = 0.003);
    // The honest claim is +-7 to 8 %.
    let share = 2.0 * part.standard_uncertainty / part.value;
    assert!((0.06..0.09).contains(&share), "{share}");
    missing(&found, Quantity::Capacity);
    missing(&found, Quantity::CapacityFraction);
}

#[test]
fn a_narrow_part_or_a_short_rest_gives_nothing() {
    let narrow = estimate(&between(0.95, 0.30, 2.2, 4000.0));
    assert!(missing(&narrow, Quantity::CapacityFromPart).contains("three quarters"));
    let hasty = estimate(&between(0.95, 0.15, 2.2, 1800.0));
    assert!(missing(&hasty, Quantity::CapacityFromPart).contains("at least an hour"));
    let mut holes = between(0.95, 0.15, 2.2, 4000.0);
    holes.points.edit().drain(700..900);
    assert!(missing(&estimate(&holes), Quantity::CapacityFromPart).contains("rows are missing"));
    let mut lone_row = between(0.95, 0.15, 2.2, 4000.0);
    lone_row.points.edit().drain(801..900);
    lone_row.points.edit().drain(700..800);
    assert!(missing(&estimate(&lone_row), Quantity::CapacityFromPart).contains("rows are missing"));
    let no_table = Nameplate { charge_limit_v: 4.45, ..nameplate(IT) };
    let front_end = FrontEnd::fixture();
    let found = all(&between(0.95, 0.15, 2.2, 4000.0), &no_table, &Observations::default(), &front_end);
    assert!(missing(&found, Quantity::CapacityFromPart).contains("no voltage table"));
}
