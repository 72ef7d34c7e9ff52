//! Fits a straight line to a few samples so that single wild ones do not matter.
//!
//! Input: times and values; output: the line's value at one moment and its slope, with standard uncertainties, by least
//! squares. Where any sample lies further off it than noise does, first a robust line is drawn (median of slopes over
//! half the samples' distance, then median of offsets) and what lies five standard deviations off is dropped. Residuals
//! that are correlated (mains hum, drift) count for fewer independent samples: n (1 - r) / (1 + r) with their lag-one
//! correlation r (autoregressive process of first order). Curvature is told by the difference of the slopes of both
//! halves and enters the uncertainty.

use super::median::median;
use crate::trace::{BLOCK_ROWS, Gather, Moments, Point, Points, Summary, ValueRange};
use std::ops::Range;

/// From this many rows on, their blocks hold most of them.
const MANY_ROWS: usize = 4 * BLOCK_ROWS;
/// Standard deviations from the robust line at which a sample is dropped.
const WILD: f64 = 5.0;
/// Median size of a normal number, in standard deviations.
const MEDIAN_SIZE: f64 = 0.674_5;
/// Fewest samples whose own scatter gives the noise.
const ENOUGH_FOR_SCATTER: usize = 5;
/// Standard deviations that noise rarely exceeds.
const LIKELY: f64 = 2.0;
/// Up to this many samples all pairs are tried for the robust slope.
const ALL_PAIRS: usize = 12;
/// A line through samples, seen at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    /// Value at the moment asked for.
    pub value: f64,
    /// Its standard uncertainty.
    pub value_deviation: f64,
    /// Change per second.
    pub slope: f64,
    /// Its standard uncertainty.
    pub slope_deviation: f64,
    /// Scatter of one sample around it.
    pub scatter: f64,
    /// Samples used.
    pub used: usize,
    /// Degrees of freedom of the uncertainties; infinite where the noise was given.
    pub degrees_of_freedom: f64,
}

/// Fits a line and evaluates it at `at`; `noise` is the scatter of one sample, used where there are too few to tell.
pub(super) fn line_at(samples: &[(f64, f64)], at: f64, noise: f64) -> Option<Line> {
    let all = Straight::through(samples)?;
    let seen = all.residuals(samples);
    if samples.len() < ENOUGH_FOR_SCATTER || seen.largest <= WILD * noise {
        return Some(line(&all, &seen, at, noise));
    }
    // Some sample may be wild, and then it has bent the line as well.
    let kept = without_wild(samples, noise);
    let straight = Straight::through(&kept)?;
    Some(line(&straight, &straight.residuals(&kept), at, noise))
}

/// Fits the same line to the voltages of many rows, from the sums that their blocks hold. Only blocks that reach far off
/// the line are read again; where one of their rows may be wild, all rows are read.
pub(super) fn line_through(points: &Points, rows: Range<usize>, at: f64, noise: f64) -> Option<Line> {
    let sample = |point: &Point| (point.time.0, point.voltage.0);
    let of = |rows: &Range<usize>| points.get(rows.clone()).unwrap_or(&[]);
    let read_all = || line_at(&of(&rows).iter().map(sample).collect::<Vec<_>>(), at, noise);
    if rows.len() < MANY_ROWS {
        return read_all();
    }
    let middle = (rows.start + rows.len() / 2).next_multiple_of(BLOCK_ROWS);
    let (first, last) = (sample(of(&rows).first()?), sample(of(&rows).last()?));
    let mut late: Moments = points.gather(middle..rows.end);
    if let Some([before, after]) = points.get(middle - 1..=middle) {
        late.add_step(sample(before), sample(after));
    }
    let straight = Straight::new(points.gather(rows.start..middle), late, first, last);
    let off = |time: f64, value: f64| (value - straight.at(time)).abs();
    let is_wild = |(rows, block): (Range<usize>, &Summary)| {
        let (Some(first), Some(last)) = (of(&rows).first(), of(&rows).last()) else { return false };
        let ValueRange { low, high } = block.voltages.extent;
        let ends = [first.time.0, last.time.0];
        let furthest = ends.iter().flat_map(|time| [off(*time, low), off(*time, high)]).fold(0.0, f64::max);
        furthest > WILD * noise && of(&rows).iter().any(|row| off(row.time.0, row.voltage.0) > WILD * noise)
    };
    if points.blocks_touching(rows.clone()).any(is_wild) {
        return read_all();
    }
    Some(line(&straight, &straight.residuals_by_moments(), at, noise))
}

/// Says what a straight line through samples is worth at a moment.
fn line(straight: &Straight, seen: &Residuals, at: f64, noise: f64) -> Line {
    let count = straight.whole.count as usize;
    let n = straight.whole.count;
    // A few samples tell their noise badly; only where they stray further than it can be is their own word taken.
    let is_own = count >= ENOUGH_FOR_SCATTER || (count > 2 && seen.largest > WILD * noise);
    let scatter = if is_own { (seen.square / (n - 2.0)).sqrt() } else { noise };
    let independent = seen.independent(count);
    let variance = scatter * scatter * n / independent;
    let spread = straight.whole.time_square;
    let from_mean = at - straight.whole.time;
    let (lever, slope_variance) =
        if spread > 0.0 { (from_mean * from_mean / spread, variance / spread) } else { (0.0, 0.0) };
    Line {
        value: straight.at(at),
        value_deviation: (variance * (1.0 / n + lever)).sqrt().hypot(straight.bend(variance)),
        slope: straight.slope,
        slope_deviation: slope_variance.sqrt(),
        scatter,
        used: count,
        degrees_of_freedom: if is_own { (independent - 2.0).max(1.0) } else { f64::INFINITY },
    }
}

/// The straight line of least squares.
struct Straight {
    early: Moments,
    late: Moments,
    whole: Moments,
    first: (f64, f64),
    last: (f64, f64),
    slope: f64,
}

impl Straight {
    fn new(early: Moments, late: Moments, first: (f64, f64), last: (f64, f64)) -> Self {
        let mut whole = early;
        whole.join(&late);
        Self { early, late, whole, first, last, slope: whole.slope() }
    }

    fn through(samples: &[(f64, f64)]) -> Option<Self> {
        let (first, last) = (samples.first()?, samples.last()?);
        let (before, after) = samples.split_at(samples.len() / 2);
        let of = |earlier: Option<(f64, f64)>, samples: &[(f64, f64)]| {
            Moments::of_samples(earlier, samples.iter().copied())
        };
        Some(Self::new(of(None, before), of(before.last().copied(), after), *first, *last))
    }

    fn at(&self, time: f64) -> f64 {
        self.whole.value + self.slope * (time - self.whole.time)
    }

    /// Returns by how much a parabola would end off the line: its curvature times width squared over twelve. What noise
    /// of a given variance (per independent sample) makes of both slopes is not counted. The means of two parts lie half
    /// the width apart, wherever between they part.
    fn bend(&self, variance: f64) -> f64 {
        let spreads = [self.early.time_square, self.late.time_square];
        if (self.whole.count as usize) < 2 * ENOUGH_FOR_SCATTER || spreads.contains(&0.0) {
            return 0.0;
        }
        let by_noise: f64 = spreads.iter().map(|spread| variance / spread).sum();
        let square = (self.late.slope() - self.early.slope()).powi(2) - LIKELY * LIKELY * by_noise;
        square.max(0.0).sqrt() * (self.last.0 - self.first.0) / 6.0
    }

    fn residuals(&self, samples: &[(f64, f64)]) -> Residuals {
        let (offset, slope) = (self.at(0.0), self.slope);
        Residuals::of(samples.iter().map(|(time, value)| value - offset - slope * time))
    }

    /// Returns the same from the moments; `largest` is what nobody looked for.
    fn residuals_by_moments(&self) -> Residuals {
        let all = &self.whole;
        let off = |(time, value): (f64, f64)| value - self.at(time);
        let square = (all.value_square - self.slope * all.product).max(0.0);
        // (a - b)^2 = a^2 + b^2 - 2 a b, over all neighbours: the ends count once, all others twice.
        let moved =
            all.rise_square - 2.0 * self.slope * all.step_product + self.slope.powi(2) * all.step_square;
        let ends = off(self.first).powi(2) + off(self.last).powi(2);
        Residuals { square, lagged: square - (ends + moved) / 2.0, largest: f64::INFINITY }
    }
}

/// What samples leave off their line.
struct Residuals {
    /// Sum of squares.
    square: f64,
    /// Sum of the products of neighbours.
    lagged: f64,
    /// The largest, without its sign.
    largest: f64,
}

impl Residuals {
    fn of(residuals: impl Iterator<Item = f64>) -> Self {
        let mut seen = Self { square: 0.0, lagged: 0.0, largest: 0.0 };
        let mut before = 0.0;
        for residual in residuals {
            seen.square += residual * residual;
            seen.lagged += before * residual;
            seen.largest = if residual.abs() > seen.largest { residual.abs() } else { seen.largest };
            before = residual;
        }
        seen
    }

    /// Returns the lag-one autocorrelation; zero of residuals that are all zero.
    fn lag_one_correlation(&self) -> f64 {
        if self.square > 0.0 { self.lagged / self.square } else { 0.0 }
    }

    /// Returns how many independent samples `count` residuals are worth, at least one.
    fn independent(&self, count: usize) -> f64 {
        let n = count as f64;
        if count < 2 * ENOUGH_FOR_SCATTER {
            return n;
        }
        let correlation = self.lag_one_correlation().clamp(0.0, 0.999);
        (n * (1.0 - correlation) / (1.0 + correlation)).max(1.0)
    }
}

/// Returns the samples that lie near the robust line.
fn without_wild(samples: &[(f64, f64)], noise: f64) -> Vec<(f64, f64)> {
    let slope = robust_slope(samples);
    let offset = median(samples.iter().map(|(t, y)| y - slope * t).collect());
    let distance = |(t, y): &(f64, f64)| (y - offset - slope * t).abs();
    let deviation = (median(samples.iter().map(distance).collect()) / MEDIAN_SIZE).max(noise);
    // Without any scatter every sample counts: a limit of zero would drop the ones that rounding moved.
    let limit = if deviation > 0.0 { WILD * deviation } else { f64::INFINITY };
    samples.iter().filter(|sample| distance(sample) <= limit).copied().collect()
}

fn robust_slope(samples: &[(f64, f64)]) -> f64 {
    let pair =
        |a: &(f64, f64), b: &(f64, f64)| if b.0 > a.0 { Some((b.1 - a.1) / (b.0 - a.0)) } else { None };
    let slopes: Vec<f64> = if samples.len() <= ALL_PAIRS {
        let after = |index: usize| samples.get(index + 1..).unwrap_or(&[]);
        samples
            .iter()
            .enumerate()
            .flat_map(|(i, a)| after(i).iter().filter_map(move |b| pair(a, b)))
            .collect()
    } else {
        samples.iter().zip(samples.iter().skip(samples.len() / 2)).filter_map(|(a, b)| pair(a, b)).collect()
    };
    median(slopes)
}

/// Returns the lag-one autocorrelation of residuals of mean zero; zero of residuals that are all zero.
pub(super) fn lag_one_correlation(residuals: &[f64]) -> f64 {
    Residuals::of(residuals.iter().copied()).lag_one_correlation()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::{Amps, Seconds, Volts};
    use proptest::prelude::*;

    #[test]
    fn a_clean_line_is_found_exactly() {
        let samples: Vec<_> = (0..20).map(|i| (f64::from(i), 3.0 - 0.5 * f64::from(i))).collect();
        let line = line_at(&samples, 19.0, 0.0).unwrap();
        approx::assert_relative_eq!(line.value, 3.0 - 9.5, epsilon = 1e-12);
        approx::assert_relative_eq!(line.slope, -0.5, epsilon = 1e-12);
    }

    #[test]
    fn one_wild_sample_at_the_end_does_not_matter() {
        for count in [5, 6, 12, 50, 200] {
            let mut samples: Vec<_> =
                (0..count).map(|i| (f64::from(i), 3.0 + if i % 2 == 0 { 1e-4 } else { -1e-4 })).collect();
            samples.last_mut().unwrap().1 = 2.9;
            let line = line_at(&samples, f64::from(count - 1), 1e-4).unwrap();
            assert_eq!(line.used as i32, count - 1);
            assert!((line.value - 3.0).abs() < 3e-4, "{count}: {line:?}");
        }
    }

    #[test]
    fn hum_counts_for_fewer_samples_than_it_has() {
        let hum: Vec<_> = (0..200)
            .map(|i| (f64::from(i) * 1e-3, 1e-3 * (f64::from(i) * std::f64::consts::TAU * 0.05).sin()))
            .collect();
        let line = line_at(&hum, 0.2, 0.0).unwrap();
        let as_if_independent = 1e-3 / 2f64.sqrt() * 2.0 / 200f64.sqrt();
        assert!(line.value_deviation > 3.0 * as_if_independent, "{line:?}");
        assert!(line.value.abs() < 2.0 * line.value_deviation);
    }

    #[test]
    fn one_sample_takes_its_uncertainty_from_the_noise() {
        let line = line_at(&[(1.0, 3.5)], 1.0, 2e-4).unwrap();
        assert_eq!((line.value, line.value_deviation), (3.5, 2e-4));
        assert_eq!(line_at(&[], 1.0, 2e-4), None);
    }

    /// Rows 1 ms apart with a slope, a bend, noise and perhaps one wild row.
    fn rows(count: usize, noise: &[f64], slope: f64, bend: f64, wild: Option<usize>) -> Vec<Point> {
        let row = |(row, noise): (usize, &f64)| {
            let time = row as f64 * 1e-3;
            let off = if wild == Some(row) { 0.01 } else { 0.0 };
            Point {
                time: Seconds(2e4 + time),
                current: Amps(1.0),
                voltage: Volts(3.8 + slope * time + bend * time * time + 50e-6 * noise + off),
                cell: None,
                ambient: None,
            }
        };
        noise.iter().cycle().take(count).enumerate().map(row).collect()
    }

    proptest! {
        #[test]
        fn the_line_through_blocks_is_that_of_their_rows(
            noise in proptest::collection::vec(-2.0..2.0f64, 97), start in 0..300usize, count in 3..2000usize,
            slope in -1e-3..1e-3f64, bend in -1e-3..1e-3f64, wild in proptest::option::of(0..2000usize),
        ) {
            let points = rows(2500, &noise, slope, bend, wild);
            let range = start..start + count;
            let samples: Vec<_> = points[range.clone()].iter().map(|p| (p.time.0, p.voltage.0)).collect();
            let (at, sigma) = (2e4 + 1.5, 60e-6);
            let by_rows = line_at(&samples, at, sigma).unwrap();
            let by_blocks = line_through(&Points::new(points), range, at, sigma).unwrap();
            prop_assert_eq!(by_blocks.used, by_rows.used);
            prop_assert!((by_blocks.value - by_rows.value).abs() < 1e-9, "{:?} {:?}", by_blocks, by_rows);
            prop_assert!((by_blocks.slope - by_rows.slope).abs() < 1e-9);
            // Both halve the rows, not at the same row: the bend enters a little differently.
            for (blocks, rows) in [
                (by_blocks.value_deviation, by_rows.value_deviation),
                (by_blocks.slope_deviation, by_rows.slope_deviation),
            ] {
                prop_assert!((blocks - rows).abs() < 0.3 * rows, "{:?} {:?}", by_blocks, by_rows);
            }
        }

        #[test]
        fn a_shift_in_time_or_value_shifts_the_line_and_nothing_else(
            values in proptest::collection::vec(-1.0..1.0f64, 3..40), time in -1e4..1e4f64, value in -10.0..10.0f64,
        ) {
            let samples: Vec<_> = values.iter().enumerate().map(|(i, y)| (i as f64, *y)).collect();
            let moved: Vec<_> = samples.iter().map(|(t, y)| (t + time, y + value)).collect();
            let (a, b) = (line_at(&samples, 2.0, 0.1).unwrap(), line_at(&moved, 2.0 + time, 0.1).unwrap());
            prop_assert!((b.value - a.value - value).abs() < 1e-6);
            prop_assert!((b.slope - a.slope).abs() < 1e-6);
        }
    }
}
