//! Many cells of one model as a normal population: its mean, its spread, and what it says of one cell more.
//!
//! Each measured value is its cell's true value with a known uncertainty; the true values scatter around the model's mean
//! (random-effects model). The spread between cells is the moment estimate of DerSimonian and Laird (Controlled Clinical
//! Trials 7 (1986) 177), the mean weighs each value by both scatters. What is expected of a cell more is widened for the
//! few cells that the spread was found from (variance of Student's t).

use crate::estimate::Estimate;
use serde::{Deserialize, Serialize};

/// Fewer cells tell no spread worth the name: the variance of Student's t exists from three degrees of freedom on, and
/// the moment estimate of a few cells is often zero.
pub const FEWEST_CELLS: usize = 5;

/// A value with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// Best value.
    pub value: f64,
    /// One standard deviation.
    pub standard_uncertainty: f64,
}

impl Known {
    /// Returns whether both numbers can be used.
    pub fn is_sound(&self) -> bool {
        let doubt = self.standard_uncertainty;
        self.value.is_finite() && doubt.is_finite() && doubt > 0.0
    }
}

impl From<&Estimate> for Known {
    fn from(estimate: &Estimate) -> Self {
        Self { value: estimate.value, standard_uncertainty: estimate.standard_uncertainty }
    }
}

/// A population of cells.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Population {
    /// How many cells it was found from.
    pub cells: usize,
    /// Mean of the model, with its own uncertainty.
    pub mean: Known,
    /// Standard deviation between cells.
    pub spread: f64,
    /// What is expected of a cell that was not measured.
    pub expected: Known,
}

impl Population {
    /// Finds the population; `None` if there are fewer than [`FEWEST_CELLS`] sound values.
    pub fn of(values: &[Known]) -> Option<Self> {
        let values: Vec<Known> = values.iter().filter(|one| one.is_sound()).copied().collect();
        if values.len() < FEWEST_CELLS {
            return None;
        }
        let cells = values.len() as f64;
        let (fixed, weights) = weighted(&values, 0.0);
        let squares: f64 =
            values.iter().map(|one| (one.value - fixed).powi(2) / one.standard_uncertainty.powi(2)).sum();
        let squared_weights: f64 = values.iter().map(|one| one.standard_uncertainty.powi(-4)).sum();
        let between = ((squares - (cells - 1.0)) / (weights - squared_weights / weights)).max(0.0);
        let (mean, weights) = weighted(&values, between);
        let of_mean = 1.0 / weights;
        // Variance of Student's t with one degree of freedom less than there are cells.
        let few = (cells - 1.0) / (cells - 3.0);
        Some(Self {
            cells: values.len(),
            mean: Known { value: mean, standard_uncertainty: of_mean.sqrt() },
            spread: between.sqrt(),
            expected: Known { value: mean, standard_uncertainty: ((between + of_mean) * few).sqrt() },
        })
    }

    /// Returns the shares, adding up to 1, with which values count in the mean of this population.
    pub fn weights(&self, values: &[Known]) -> Vec<f64> {
        let between = self.spread.powi(2);
        let (_, whole) = weighted(values, between);
        values.iter().map(|one| weight(one, between) / whole).collect()
    }
}

/// Returns the weighted mean and the sum of the weights, for a variance between cells.
fn weighted(values: &[Known], between: f64) -> (f64, f64) {
    let weights: f64 = values.iter().map(|one| weight(one, between)).sum();
    (values.iter().map(|one| weight(one, between) * one.value).sum::<f64>() / weights, weights)
}

fn weight(one: &Known, between: f64) -> f64 {
    1.0 / (one.standard_uncertainty.powi(2) + between)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn known(pairs: &[(f64, f64)]) -> Vec<Known> {
        pairs.iter().map(|(value, doubt)| Known { value: *value, standard_uncertainty: *doubt }).collect()
    }

    /// Equal uncertainties: DerSimonian and Laird reduce to the sample variance less the measuring variance, and the
    /// mean to the plain mean. Sample variance of these six (Python, statistics.variance): 0.000 560.
    #[test]
    fn with_equal_uncertainties_it_is_the_sample_variance_less_the_measuring_one() {
        let values = [0.90, 0.93, 0.95, 0.91, 0.94, 0.89];
        let found = Population::of(&known(&values.map(|value| (value, 0.01)))).unwrap();
        approx::assert_relative_eq!(found.mean.value, 0.92, epsilon = 1e-12);
        approx::assert_relative_eq!(found.spread.powi(2), 0.000_560 - 0.000_1, epsilon = 1e-9);
        approx::assert_relative_eq!(found.mean.standard_uncertainty.powi(2), 0.000_56 / 6.0, epsilon = 1e-9);
    }

    /// statsmodels 0.15.0, `combine_effects(values, uncertainties**2, method_re="dl")`: tau2, mean_effect_re, sd_eff_w_re.
    #[test]
    fn mean_and_spread_are_those_of_statsmodels() {
        let values = known(&[
            (0.95, 0.006),
            (0.91, 0.010),
            (0.88, 0.007),
            (0.97, 0.012),
            (0.90, 0.008),
            (0.93, 0.015),
            (0.86, 0.009),
        ]);
        let found = Population::of(&values).unwrap();
        approx::assert_relative_eq!(found.spread.powi(2), 0.001_451_023_010_149_293_2, max_relative = 1e-12);
        approx::assert_relative_eq!(found.mean.value, 0.913_807_866_442_201_6, max_relative = 1e-12);
        approx::assert_relative_eq!(
            found.mean.standard_uncertainty,
            0.014_873_666_657_858_381,
            max_relative = 1e-12
        );
    }

    #[test]
    fn values_closer_than_their_doubt_show_no_spread_between_cells() {
        let found = Population::of(&known(&[(0.9, 0.02); 8])).unwrap();
        assert_eq!(found.spread, 0.0);
        assert!(found.expected.standard_uncertainty > 0.0);
    }

    #[test]
    fn few_cells_tell_nothing() {
        assert_eq!(Population::of(&known(&[(0.9, 0.01); 4])), None);
        assert_eq!(Population::of(&known(&[(f64::NAN, 0.01); 9])), None);
    }

    proptest! {
        #[test]
        fn the_order_of_the_cells_does_not_matter(
            values in proptest::collection::vec((0.5..1.1f64, 0.002..0.05f64), 5..20), turn in 0usize..20,
        ) {
            let first = Population::of(&known(&values)).unwrap();
            let mut turned = values.clone();
            turned.rotate_left(turn % values.len());
            let second = Population::of(&known(&turned)).unwrap();
            approx::assert_relative_eq!(first.mean.value, second.mean.value, epsilon = 1e-9);
            approx::assert_relative_eq!(first.spread, second.spread, epsilon = 1e-9);
        }
    }
}
