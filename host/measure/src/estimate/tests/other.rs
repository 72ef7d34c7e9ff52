//! Rest voltage, temperatures, and traces that hold only a part of a test.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};
use crate::si::Celsius;

#[test]
fn a_rest_alone_gives_its_voltage_and_nothing_of_a_load() {
    let found = estimate(&Run::new(&Cell::default(), &[(0.0, 2000.0)]).record(&Instrument {
        rows: Rows::PerStep { period: 1.0 },
        voltage_noise: 100e-6,
        ..Instrument::default()
    }));
    approx::assert_relative_eq!(value(&found, Quantity::RestVoltage), 3.85, epsilon = 1e-3);
    assert!(value(&found, Quantity::RestDrift).abs() < 1e-3);
    assert!(missing(&found, Quantity::TemperatureRise).contains("no load"));
    missing(&found, Quantity::Resistance1Second);
}

#[test]
fn a_trace_that_starts_under_load_has_no_resistance_from_rest() {
    let found =
        estimate(&Run::new(&Cell::default(), &[(0.5, 20.0), (2.5, 1.0)]).record(&Instrument::default()));
    assert!(missing(&found, Quantity::Resistance1Second).contains("rises from a rest"));
    assert!(missing(&found, Quantity::RestVoltage).contains("no rest"));
    assert!(found.get(Quantity::ResistanceTwoLevel).is_some());
}

#[test]
fn rows_missing_around_the_time_are_not_bridged() {
    let trace = Run::new(&Cell::default(), &pulse(IT)).record(&Instrument::default());
    let kept = trace.points.iter().filter(|point| !(15.5..=17.0).contains(&point.time.0)).copied().collect();
    let found = estimate(&from_points(kept));
    missing(&found, Quantity::Resistance1Second);
    assert!(found.get(Quantity::Resistance100Milliseconds).is_some());
}

#[test]
fn temperatures_are_compared_with_the_air_or_with_the_start() {
    let mut trace = Run::new(&Cell::default(), &two_level(IT)).record(&Instrument::default());
    for (index, point) in trace.points.edit().iter_mut().enumerate() {
        point.cell = Some(Celsius(if index > 20_000 { 28.0 } else { 25.5 }));
    }
    trace.points.edit()[20].cell = Some(Celsius(80.0)); // one wild reading
    let found = estimate(&trace);
    approx::assert_relative_eq!(value(&found, Quantity::TemperatureRise), 3.0, epsilon = 1e-9);
    approx::assert_relative_eq!(value(&found, Quantity::RestTemperatureRise), 0.5, epsilon = 1e-9);
    trace.points.edit().iter_mut().for_each(|point| point.ambient = None);
    let found = estimate(&trace);
    approx::assert_relative_eq!(value(&found, Quantity::TemperatureRise), 2.5, epsilon = 1e-9);
    missing(&found, Quantity::RestTemperatureRise);
}
