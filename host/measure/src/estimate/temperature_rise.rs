//! How far the cell warmed: over the air during the test, and over the air before any load.
//!
//! Without a thermometer in the air the rise during the test is taken over the cell's own start, with a wider
//! uncertainty; the rise at rest is then refused, since a warm room and a warm cell look the same.

use super::cooling::{SLOWEST_S, cools};
use super::measurement::Measurement;
use super::median::median;
use super::{Conditions, Estimate, Quantity};
use crate::segment::{Kind, Segment};
use crate::si::Seconds;
use crate::trace::{Point, Temperatures};
use crate::uncertainty::{Budget, Input, Measurand};
use std::ops::Range;

/// Neighbouring readings whose middle one counts, so that a single wild reading does not make a rise.
const NEIGHBOURS: usize = 5;
/// Standard uncertainty of a rise over the cell's own start, in K: the room may drift by as much (common practice).
const OWN_START_K: f64 = 1.0;
/// From here on a cell counts as warm, so that it matters whether it cools: three times what two thermometers differ by.
const WARM_K: f64 = 1.0;

/// Estimates the largest rise during the test.
pub(super) fn temperature_rise(m: &Measurement<'_>) -> Result<Estimate, String> {
    let Some(load) = m.segments.iter().find(|segment| segment.kind == Kind::Load) else {
        return Err("the trace has no load".to_owned());
    };
    let rows = load.first..m.trace.points.len();
    if let Some(rise) = largest_rise(m, rows.clone()) {
        let method = "largest difference between cell and air from the first load on";
        let mut estimate = with_temperature(
            Estimate::of(Quantity::TemperatureRise, over_air_budget(m, rise), method),
            m,
            rows.clone(),
        );
        estimate.conditions.warming_current_a =
            warming_current(m, rows, |point| point.rise().is_some_and(|found| found.0 == rise));
        return Ok(estimate);
    }
    let start: Vec<f64> =
        m.trace.points.iter().filter_map(|point| point.cell).take(NEIGHBOURS).map(|c| c.0).collect();
    match warmest(m, rows.clone()) {
        Some(warmest) if !start.is_empty() => {
            let method = "largest difference between the cell and its own start";
            let rise = Input::new("warmest less start", "K", warmest - median(start), 0.0);
            let room = Input::new("drift of the room", "K", 0.0, OWN_START_K);
            // The same thermometer at both ends: its error cancels where it is a constant, its contact's does not.
            let loss = m.front_end.thermometer_loss_error();
            let thermometer = m.front_end.thermometer_error("thermometer on the cell");
            let budget =
                Measurand::new([rise, room, thermometer, loss], |[rise, room, thermometer, loss]| {
                    rise * (1.0 + loss) + room + thermometer
                })
                .budget();
            let estimate = Estimate::of(Quantity::TemperatureRise, budget, method);
            let mut estimate = with_temperature(estimate, m, rows.clone());
            estimate.warnings.push("the air's temperature was not measured".to_owned());
            estimate.conditions.warming_current_a =
                warming_current(m, rows, |point| point.cell.is_some_and(|cell| cell.0 == warmest));
            Ok(estimate)
        }
        _ => Err("the cell's temperature was not measured".to_owned()),
    }
}

/// Estimates the largest rise over the air before any load.
pub(super) fn rest_temperature_rise(m: &Measurement<'_>) -> Result<Estimate, String> {
    let end = m.segments.iter().find(|segment| segment.kind != Kind::Rest);
    let rows = 0..end.map_or(m.trace.points.len(), |segment| segment.first);
    if rows.is_empty() {
        return Err("the trace does not begin with a rest".to_owned());
    }
    let rise = largest_rise(m, rows.clone())
        .ok_or("the temperatures of cell and air were not both measured at rest")?;
    let method = "largest difference between cell and air before any load";
    let estimate = Estimate::of(Quantity::RestTemperatureRise, over_air_budget(m, rise), method);
    let mut estimate = with_temperature(estimate, m, rows.clone());
    if rise > WARM_K {
        estimate.conditions.cools = cools(m, rows);
        if estimate.conditions.cools == Some(true) {
            estimate.warnings.push("the cell cools towards the air, as one that was warmed does".to_owned());
        }
    }
    Ok(estimate)
}

/// Returns the constant current that would warm the cell in the end as much as what flowed until its warmest row does, each
/// part counted for less the longer ago it flowed; `None` where no row is the warmest.
///
/// Heat follows the square of the current. A pulse of seconds at 1 It warms a cell less than 0.2 It for hours, so neither
/// the largest current nor the mean of the loads tells how hard it was worked. The slowest time constant is taken, which
/// makes short loads count as gentle: what warms a cell then is not taken for a high current.
fn warming_current(
    m: &Measurement<'_>,
    rows: Range<usize>,
    is_warmest: impl Fn(&Point) -> bool,
) -> Option<f64> {
    let at = m.trace.slice(rows).iter().find(|point| is_warmest(point))?.time;
    let left = |since: Seconds| (-(at - since).0.max(0.0) / SLOWEST_S).exp();
    let share = |segment: &Segment| left(segment.end.time) - left(segment.start.time);
    let squares = m.segments.iter().map(|segment| segment.current.0.powi(2) * share(segment));
    Some(squares.sum::<f64>().sqrt())
}

/// Returns the budget of a difference between two thermometers: each one's own error, and what the contact of the one on the cell
/// loses, which is a share of the difference: zero where cell and air are alike.
fn over_air_budget(m: &Measurement<'_>, rise: f64) -> Budget {
    let inputs = [
        Input::new("difference as read", "K", rise, 0.0),
        m.front_end.thermometer_error("thermometer on the cell"),
        m.front_end.thermometer_error("thermometer in the air"),
        m.front_end.thermometer_loss_error(),
    ];
    Measurand::new(inputs, |[rise, cell, air, loss]| rise * (1.0 + loss) + cell - air).budget()
}

/// Returns the largest running median of cell over air.
fn largest_rise(m: &Measurement<'_>, rows: Range<usize>) -> Option<f64> {
    largest(m, rows, |point| point.rise().map(|rise| rise.0), |of| (of.rise_rows, of.largest_rise))
}

/// Returns the largest running median of the cell's temperature.
fn warmest(m: &Measurement<'_>, rows: Range<usize>) -> Option<f64> {
    largest(m, rows, |point| point.cell.map(|cell| cell.0), |of| (of.cell_rows, of.warmest))
}

/// Returns the largest of the running medians of a value; `known` tells how many rows of a block know it, and the largest.
fn largest(
    m: &Measurement<'_>,
    rows: Range<usize>,
    value: impl Fn(&Point) -> Option<f64>,
    known: impl Fn(&Temperatures) -> (usize, f64),
) -> Option<f64> {
    let mut medians = Medians { recent: [0.0; NEIGHBOURS], count: 0, largest: f64::NEG_INFINITY };
    for (rows, block) in m.trace.points.blocks_touching(rows) {
        let (count, highest) = known(&block.temperatures);
        if rows.len() == block.voltages.rows && highest <= medians.largest {
            medians.pass(count, highest);
        } else {
            m.trace.slice(rows).iter().filter_map(&value).for_each(|value| medians.take(value));
        }
    }
    medians.largest()
}

/// Running medians of neighbours, and the largest of them so far.
struct Medians {
    recent: [f64; NEIGHBOURS],
    count: usize,
    largest: f64,
}

impl Medians {
    fn take(&mut self, value: f64) {
        self.recent.rotate_left(1);
        if let Some(last) = self.recent.last_mut() {
            *last = value;
        }
        self.count += 1;
        // The middle value is above the largest so far only if most values are.
        let above = self.recent.iter().filter(|value| **value > self.largest).count();
        if self.count >= NEIGHBOURS && above > NEIGHBOURS / 2 {
            self.largest = median(self.recent.to_vec());
        }
    }

    /// Takes in so many values of which none is above the largest: no median rises by them, and among themselves they
    /// need not be told apart.
    fn pass(&mut self, count: usize, highest: f64) {
        if count >= NEIGHBOURS {
            self.recent = [highest; NEIGHBOURS];
        } else {
            self.recent.rotate_left(count);
            self.recent.iter_mut().rev().take(count).for_each(|value| *value = highest);
        }
        self.count += count;
    }

    /// Returns the largest; of fewer values than a median takes, the middle of them.
    fn largest(&self) -> Option<f64> {
        let few = self.recent.get(NEIGHBOURS.saturating_sub(self.count)..).unwrap_or(&[]);
        match self.count {
            0 => None,
            count if count < NEIGHBOURS => Some(median(few.to_vec())),
            _ => Some(self.largest),
        }
    }
}

fn with_temperature(mut estimate: Estimate, m: &Measurement<'_>, rows: Range<usize>) -> Estimate {
    let warmest = Some(m.gather::<Temperatures>(rows).warmest).filter(|warmest| warmest.is_finite());
    estimate.conditions = Conditions { temperature_c: warmest, ..Conditions::default() };
    estimate
}
