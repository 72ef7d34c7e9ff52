//! How far the cell warmed: over the air during the test, and over the air before any load.
//!
//! Without a thermometer in the air the rise during the test is taken over the cell's own start, with a wider
//! uncertainty; the rise at rest is then refused, since a warm room and a warm cell look the same.

use super::line_fit::median;
use super::measurement::Measurement;
use super::{Conditions, Estimate, Quantity};
use crate::segment::Kind;
use crate::trace::Point;
use crate::uncertainty::{Budget, Input, Measurand};

/// Neighbouring readings whose middle one counts, so that a single wild reading does not make a rise.
const NEIGHBOURS: usize = 5;
/// Standard uncertainty of a rise over the cell's own start, in K: the room may drift by as much (common practice).
const OWN_START_K: f64 = 1.0;

/// Estimates the largest rise during the test.
pub(super) fn temperature_rise(m: &Measurement<'_>) -> Result<Estimate, String> {
    let Some(load) = m.segments.iter().find(|segment| segment.kind == Kind::Load) else {
        return Err("the trace has no load".to_owned());
    };
    let points = m.trace.slice(load.first..m.trace.points.len());
    let over_air: Vec<f64> = points.iter().filter_map(Point::rise).map(|rise| rise.0).collect();
    if let Some(rise) = largest(&over_air) {
        let method = "largest difference between cell and air from the first load on";
        return Ok(with_temperature(
            Estimate::of(Quantity::TemperatureRise, over_air_budget(m, rise), method),
            points,
        ));
    }
    let start: Vec<f64> =
        m.trace.points.iter().filter_map(|point| point.cell).take(NEIGHBOURS).map(|c| c.0).collect();
    let cell: Vec<f64> = points.iter().filter_map(|point| point.cell).map(|cell| cell.0).collect();
    match largest(&cell) {
        Some(warmest) if !start.is_empty() => {
            let method = "largest difference between the cell and its own start";
            let rise = Input::new("warmest less start", "K", warmest - median(start), 0.0);
            let room = Input::new("drift of the room", "K", 0.0, OWN_START_K);
            let budget = Measurand::new([rise, room], |[rise, room]| rise + room).budget();
            let mut estimate = Estimate::of(Quantity::TemperatureRise, budget, method);
            estimate.warnings.push("the air's temperature was not measured".to_owned());
            Ok(with_temperature(estimate, points))
        }
        _ => Err("the cell's temperature was not measured".to_owned()),
    }
}

/// Estimates the largest rise over the air before any load.
pub(super) fn rest_temperature_rise(m: &Measurement<'_>) -> Result<Estimate, String> {
    let end = m.segments.iter().find(|segment| segment.kind != Kind::Rest);
    let points = m.trace.slice(0..end.map_or(m.trace.points.len(), |segment| segment.first));
    if points.is_empty() {
        return Err("the trace does not begin with a rest".to_owned());
    }
    let rises: Vec<f64> = points.iter().filter_map(Point::rise).map(|rise| rise.0).collect();
    let rise = largest(&rises).ok_or("the temperatures of cell and air were not both measured at rest")?;
    let method = "largest difference between cell and air before any load";
    Ok(with_temperature(
        Estimate::of(Quantity::RestTemperatureRise, over_air_budget(m, rise), method),
        points,
    ))
}

/// Returns the budget of a difference between two thermometers.
fn over_air_budget(m: &Measurement<'_>, rise: f64) -> Budget {
    let inputs = [
        Input::new("difference as read", "K", rise, 0.0),
        m.front_end.thermometer_error("thermometer on the cell"),
        m.front_end.thermometer_error("thermometer in the air"),
    ];
    Measurand::new(inputs, |[rise, cell, air]| rise + cell - air).budget()
}

/// Returns the largest of the running medians.
fn largest(values: &[f64]) -> Option<f64> {
    if values.len() < NEIGHBOURS {
        return (!values.is_empty()).then(|| median(values.to_vec()));
    }
    let mut best = f64::NEG_INFINITY;
    for some in values.windows(NEIGHBOURS) {
        // The middle value is above the best so far only if most values are.
        if some.iter().filter(|value| **value > best).count() > NEIGHBOURS / 2 {
            best = median(some.to_vec());
        }
    }
    Some(best)
}

fn with_temperature(mut estimate: Estimate, points: &[Point]) -> Estimate {
    let warmest = points.iter().filter_map(|point| point.cell).map(|cell| cell.0).max_by(f64::total_cmp);
    estimate.conditions = Conditions { temperature_c: warmest, ..Conditions::default() };
    estimate
}
