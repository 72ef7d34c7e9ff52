//! Estimates of synthetic traces against the truth in closed form; words that the tests of one subject share.

mod against_count;
mod bad_discharge;
mod bad_input;
mod budgets;
mod capacity;
mod damage;
mod disturbed;
mod foreign;
mod monte_carlo;
mod other;
mod partial;
mod pulses;
mod resistance;
mod scatter;
mod self_discharge;
mod sensed_at;
mod step_down;
mod strd;
mod strd_univariate;
mod warmth;

use super::synthetic::from_points;
use super::*;
use crate::nameplate::{Chemistry, Form};
use crate::si::{AmpHours, Volts};
use crate::trace::{RunRecord, StepRecord};
use celltriage_protocol::event::StepEnd;

/// Rated current It of the cell that most tests use, in A.
const IT: f64 = 2.5;

pub fn nameplate(rated_capacity_ah: f64) -> Nameplate {
    Nameplate {
        model: None,
        rated_capacity_ah,
        charge_limit_v: 4.35,
        end_of_discharge_v: 3.0,
        end_of_discharge_assumed: false,
        nominal_v: Some(3.8),
        nominal_thickness_mm: None,
        thickness_from: Default::default(),
        chemistry: Chemistry::Lco,
        form: Form::Pouch,
        mass_g: None,
        warnings: Vec::new(),
    }
}

/// Calls a function with a measurement of an empty trace, for estimators that look at other things.
pub fn with_measurement<T>(call: impl Fn(&Measurement<'_>) -> T) -> T {
    let (trace, plate, front_end) = (from_points(Vec::new()), nameplate(IT), FrontEnd::fixture());
    call(&Measurement::new(&trace, &plate, &front_end))
}

/// The same trace with the fixture's own counter beside its rows, in Ah: before the discharge, and at its floor.
pub fn with_counter(trace: &Trace, [before, at_floor]: [f64; 2]) -> Trace {
    let mut trace = trace.clone();
    let floor = trace.points.iter().find(|point| point.voltage <= Volts(3.0)).unwrap().time;
    let step = |index: u8, ended: Seconds, cause: StepEnd, charge: f64| StepRecord {
        index,
        started: None,
        ended: Some(ended),
        cause: Some(cause),
        charge: Some(AmpHours(charge)),
    };
    let steps = vec![step(0, Seconds(60.0), StepEnd::Time, before), step(1, floor, StepEnd::Floor, at_floor)];
    trace.run = Some(RunRecord { steps, ..RunRecord::default() });
    trace
}

pub fn estimate(trace: &Trace) -> Estimates {
    all(trace, &nameplate(IT), &Observations::default(), &FrontEnd::fixture())
}

/// Rest, two levels of the standard, rest.
pub fn two_level(it: f64) -> [(f64, f64); 4] {
    [(0.0, 15.0), (0.2 * it, 10.0), (it, 1.0), (0.0, 5.0)]
}

pub fn pulse(it: f64) -> [(f64, f64); 3] {
    [(0.0, 15.0), (0.5 * it, 10.2), (0.0, 5.0)]
}

/// The resistances at an instant and their times in s.
const RESISTANCES: [(Quantity, f64); 3] = [
    (Quantity::Resistance100Milliseconds, 0.1),
    (Quantity::Resistance1Second, 1.0),
    (Quantity::Resistance10Seconds, 10.0),
];

pub fn value(estimates: &Estimates, quantity: Quantity) -> f64 {
    match estimates.get(quantity) {
        Some(estimate) => estimate.value,
        None => panic!("{} is missing: {}", quantity.key(), estimates.missing[&quantity]),
    }
}

pub fn missing(estimates: &Estimates, quantity: Quantity) -> &str {
    match estimates.get(quantity) {
        Some(estimate) => panic!("{} should be missing and is {estimate:?}", quantity.key()),
        None => &estimates.missing[&quantity],
    }
}

/// The project's promise on a resistance: 1 % and 0.3 mOhm.
pub fn assert_resistance(found: f64, expected: f64, what: &str) {
    let limit = 0.01 * expected + 0.3e-3;
    assert!((found - expected).abs() <= limit, "{what}: {found} instead of {expected} ohm");
}
