//! How repeated readings of a thickness scatter, and what that does to the thickest of several points.
//!
//! The largest of `n` readings of one and the same thickness lies above it by the expected largest of `n` normal numbers
//! times their deviation (order statistics: Harter, Biometrika 48 (1961) 151, whose figures the tests hold). Where one point
//! truly stands out nothing is added by scatter. Which it is cannot be told from points that lie as close together as their
//! scatter, so for those the addition is taken as anything from nothing to the whole.

use crate::observation::Observations;
use statrs::distribution::{ContinuousCDF, Normal};

/// Scatter of one reading on a soft cell, in mm, where it was not repeated (common practice).
pub(super) const SCATTER_MM: f64 = 0.04;
/// Readings that agree by chance are not believed to scatter less than this, in mm: the resolution of a calliper.
const LEAST_SCATTER_MM: f64 = 0.01;
/// Two points that differ by less than so many standard deviations of their difference are not told apart.
const TOLD_APART: f64 = 2.0;

/// Returns place and thickness of the thickest point.
pub(super) fn largest_of(points: &[(usize, f64)]) -> Option<(usize, f64)> {
    points.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Returns by how much the thickest point is too thick through scatter alone, and the standard uncertainty of that; `scatter`
/// is that of a point's mean.
pub(super) fn too_thick(points: &[(usize, f64)], thickest: f64, scatter: f64) -> (f64, f64) {
    let close = TOLD_APART * std::f64::consts::SQRT_2 * scatter;
    let alike = points.iter().filter(|(_, one)| thickest - one < close).count();
    let half = 0.5 * expected_largest(alike) * scatter;
    (half, half / 3f64.sqrt())
}

/// Returns the expected largest of `count` standard normal numbers, from the integral of `1 - F^n - (1 - F)^n` over the
/// positive axis: the mean of what is positive of the largest less what is negative of it, by symmetry.
fn expected_largest(count: usize) -> f64 {
    const STEPS: i32 = 400;
    const FURTHEST: f64 = 8.0;
    if count < 2 {
        return 0.0;
    }
    let normal = Normal::standard();
    let width = FURTHEST / f64::from(STEPS);
    let below = count as f64;
    let middles = (0..STEPS).map(|step| (f64::from(step) + 0.5) * width);
    middles.map(|z| 1.0 - normal.cdf(z).powf(below) - normal.sf(z).powf(below)).sum::<f64>() * width
}

/// Returns the standard uncertainty of a point's mean; where all repeated readings tell their scatter, with its degrees of
/// freedom.
pub(super) fn scatter(observations: &Observations, point: usize) -> (f64, Option<usize>) {
    let readings = &observations.thickness_readings_mm;
    let (mut squares, mut free) = (0.0, 0usize);
    for repeated in readings.iter().filter(|readings| readings.len() > 1) {
        let mean = repeated.iter().sum::<f64>() / repeated.len() as f64;
        squares += repeated.iter().map(|one| (one - mean).powi(2)).sum::<f64>();
        free += repeated.len() - 1;
    }
    let count = readings.get(point).map_or(1, |readings| readings.len().max(1)) as f64;
    // Two readings that agree tell little: below three degrees of freedom the usual scatter stays.
    let (one, repeated) = match free {
        0..3 => (SCATTER_MM.max((squares / free.max(1) as f64).sqrt()), None),
        free => ((squares / free as f64).sqrt().max(LEAST_SCATTER_MM), Some(free)),
    };
    (one / count.sqrt(), repeated)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Harter's table, five digits.
    #[test]
    fn the_expected_largest_of_normal_numbers_is_that_of_the_published_table() {
        let table =
            [(1, 0.0), (2, 0.56419), (3, 0.84628), (5, 1.16296), (9, 1.48501), (10, 1.53875), (20, 1.86748)];
        for (count, expected) in table {
            let found = expected_largest(count);
            assert!((found - expected).abs() < 6e-6, "{count}: {found}");
        }
    }

    #[test]
    fn a_point_that_stands_out_is_not_lowered() {
        let points: Vec<(usize, f64)> = [3.3, 3.1, 3.1, 3.1, 3.1].into_iter().enumerate().collect();
        assert_eq!(too_thick(&points, 3.3, 0.04), (0.0, 0.0));
        let alike: Vec<(usize, f64)> = [3.1, 3.11, 3.12, 3.1, 3.09].into_iter().enumerate().collect();
        let (excess, doubt) = too_thick(&alike, 3.12, 0.04);
        approx::assert_relative_eq!(excess, 0.5 * 1.16296 * 0.04, epsilon = 1e-6);
        approx::assert_relative_eq!(doubt * 3f64.sqrt(), excess, epsilon = 1e-12);
    }
}
