//! The step of each converter: readings that never differ by less hide what lies between two of them.
//!
//! Input: the rows of a trace; output: the smallest change of voltage and current from row to row. Where a channel stands
//! still in every stretch, only its digits tell anything: 0.6, 1.5 and 3 A may be the truth or tenths of an ampere. Noise
//! that carries the readings over steps makes their mean right again; without it no averaging helps.

use super::Point;
use crate::si::{Amps, Volts};

/// Smaller changes are rounding of the arithmetic.
const NOTHING: f64 = 1e-9;
/// A change above this share of all that a channel goes through is a load that came or went, and no step of a converter.
/// (Two currents that differ by less are one to `segment`.)
const VOLTAGE_SHARE: f64 = 0.1;
const CURRENT_SHARE: f64 = 0.02;
/// Units that readings without any noise may have been rounded to, V or A.
const UNITS: [f64; 7] = [0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001];
/// Readings this close to a multiple of a unit, in units, are one.
const ON_THE_UNIT: f64 = 1e-4;

/// Smallest steps of the channels; zero if none can be found.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Resolution {
    /// Of the voltage.
    pub voltage: Volts,
    /// Of the current.
    pub current: Amps,
    /// Unit of a current that stands still in every stretch; whether it was rounded to that or set to it, others must tell.
    pub current_unit: Amps,
}

impl Resolution {
    /// Finds the steps in the rows of a trace.
    pub(super) fn of(rows: &[Point]) -> Self {
        let voltage = |point: &Point| point.voltage.0;
        let current = |point: &Point| point.current.0;
        let small = smallest_change(rows, current, CURRENT_SHARE);
        Self {
            voltage: Volts(
                smallest_change(rows, voltage, VOLTAGE_SHARE).unwrap_or_else(|| unit_of(rows, voltage)),
            ),
            current: Amps(small.unwrap_or(0.0)),
            current_unit: Amps(if small.is_none() { unit_of(rows, current) } else { 0.0 }),
        }
    }
}

/// Returns the smallest change of a channel, if it is small beside all that the channel goes through.
fn smallest_change(rows: &[Point], channel: impl Fn(&Point) -> f64, share: f64) -> Option<f64> {
    let (mut smallest, mut low, mut high) = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY);
    let mut before = rows.first().map_or(0.0, &channel);
    for value in rows.iter().map(channel) {
        let change = (value - before).abs();
        before = value;
        smallest = if change > NOTHING && change < smallest { change } else { smallest };
        low = if value < low { value } else { low };
        high = if value > high { value } else { high };
    }
    Some(smallest).filter(|smallest| *smallest <= share * (high - low))
}

/// Returns the coarsest unit that all readings are multiples of; zero where there is none, or where they never change.
fn unit_of(rows: &[Point], channel: impl Fn(&Point) -> f64) -> f64 {
    let mut readings = rows.iter().map(&channel);
    let first = readings.next();
    if readings.all(|reading| Some(reading) == first) {
        return 0.0;
    }
    let fits = |unit: &&f64| {
        let multiples = rows.iter().map(|point| channel(point) / **unit);
        multiples.into_iter().all(|multiple| (multiple - multiple.round()).abs() < ON_THE_UNIT)
    };
    UNITS.iter().find(fits).copied().unwrap_or(0.0)
}

/// Returns the standard uncertainty that rounding to a step leaves in the mean of readings, however many there are.
///
/// Readings that all fall on one step leave its half on either side open. Where they share two steps, `p` of them on the
/// upper one, the mean is off by at most (p - 1/2) steps, and their own scatter, sqrt(p (1 - p)) steps, tells how much
/// that is. Noise of half a step and more makes the mean right.
pub fn left_by_rounding(step: f64, scatter: f64) -> f64 {
    ((step * step / 4.0 - scatter * scatter).max(0.0) / 3.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::Seconds;

    /// Rest, 0.63 A, 2.97 A, rest, with noise, in steps.
    fn rows(voltage: [f64; 2], current: [f64; 2]) -> Vec<Point> {
        let random = |row: usize| ((row as f64 * 12.9898).sin() * 43_758.545_3).fract();
        let coded = |value: f64, [noise, step]: [f64; 2], row| {
            let value = value + noise * random(row);
            if step > 0.0 { (value / step).round() * step } else { value }
        };
        let row = |row: usize| {
            let flows = [0.0, 0.63, 2.97, 0.0][row / 100];
            let falls = 3.9 - 0.07 * flows - 1e-5 * row as f64;
            Point {
                time: Seconds(row as f64 * 0.1),
                current: Amps(coded(flows, current, row + 7)),
                voltage: Volts(coded(falls, voltage, row)),
                cell: None,
                ambient: None,
            }
        };
        (0..400).map(row).collect()
    }

    #[test]
    fn a_coarse_step_is_found_with_and_without_noise() {
        for (noise, step) in [(0.0, 0.005), (1e-4, 0.005), (0.01, 0.005), (4e-4, 195.312_5e-6)] {
            let found = Resolution::of(&rows([noise, step], [3e-4, 31.25e-6]));
            approx::assert_relative_eq!(found.voltage.0, step, max_relative = 1e-6);
            approx::assert_relative_eq!(found.current.0, 31.25e-6, max_relative = 1e-6);
        }
    }

    #[test]
    fn a_current_that_stands_still_is_known_to_its_digits() {
        for step in [0.1, 0.05, 0.01] {
            let found = Resolution::of(&rows([1e-4, 0.0], [0.0, step]));
            assert_eq!((found.current, found.current_unit), (Amps(0.0), Amps(step)));
        }
    }

    #[test]
    fn readings_that_tremble_finely_have_a_step_that_does_not_matter() {
        let found = Resolution::of(&rows([1e-4, 0.0], [3e-4, 0.0]));
        assert!(found.voltage.0 < 1e-5 && found.current.0 < 3e-5, "{found:?}");
        assert_eq!(Resolution::of(&[]), Resolution::default());
        assert_eq!(Resolution::of(&rows([0.0; 2], [0.0; 2])[..1]), Resolution::default());
    }

    #[test]
    fn what_rounding_leaves_falls_with_the_noise() {
        approx::assert_relative_eq!(left_by_rounding(1.0, 0.0), 1.0 / 12f64.sqrt(), epsilon = 1e-12);
        assert!(left_by_rounding(1.0, 0.3) < left_by_rounding(1.0, 0.1));
        assert_eq!(left_by_rounding(1.0, 0.5), 0.0);
    }
}
