//! Least squares where some parameters are linear: only the others are searched, each trial solves the linear ones.
//!
//! Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413, with Kaufman's shorter derivative (BIT 15 (1975) 49), whose
//! gradient is exact; the search is Levenberg's and Marquardt's. Columns are made orthogonal, twice where digits went, so that the
//! residuals hold the digits that nearly dependent exponentials leave (the Lanczos problems of NIST keep eight or more);
//! the normal equations of the few searched parameters then only steer.

use super::linear_algebra::{back_substitute, cholesky, dot, forward_and_back, length, remove};

/// Most trials; a well-posed problem takes five to twenty.
const MOST_TRIALS: usize = 200;
/// The search ends where that many trials in a row did not lower the square: what is left is rounding.
const MOST_FAILURES: usize = 12;
/// Damping at the start.
const FIRST_DAMPING: f64 = 1e-3;
/// A step that gains nearly what it promised eases the damping; one that gains little hardens it, one that loses more.
const GOOD_GAIN: f64 = 0.75;
const POOR_GAIN: f64 = 0.25;
const EASED: f64 = 0.1;
const HARDENED: f64 = 2.0;
const AFTER_LOSS: f64 = 8.0;
/// Longest step of one trial: a factor e^2 in a time constant.
const LONGEST_STEP: f64 = 2.0;
/// A column that keeps this share of its length when made orthogonal has kept its digits.
const KEPT_SHARE: f64 = 0.5;

/// A model that is linear in all but its searched parameters.
pub(super) trait Separable {
    /// Writes the linear parameters' columns, and the derivative by each searched parameter of the column of the same
    /// index, all already weighted. Columns have one entry for each sample.
    fn columns(&self, searched: &[f64], linear: &mut [Vec<f64>], derivatives: &mut [Vec<f64>]);
}

/// Parameters found, with their covariances over the variance of a sample.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    /// Searched parameters.
    pub(super) searched: Vec<f64>,
    /// Linear ones.
    pub(super) linear: Vec<f64>,
    /// Variances of the searched ones, per variance of a weighted sample.
    pub(super) searched_variances: Vec<f64>,
    /// Variances of the linear ones.
    pub(super) linear_variances: Vec<f64>,
    /// Weighted residuals, in the order of the samples.
    pub(super) residuals: Vec<f64>,
    /// Sum of their squares.
    pub(super) square: f64,
}

/// Solves for weighted samples `values`, from a start; `None` if the search does not end in finite numbers. It ends with a
/// step that promises to lower the sum of squares by less than the share `small_gain`.
pub(super) fn solve(
    model: &impl Separable,
    values: &[f64],
    linear: usize,
    start: &[f64],
    small_gain: f64,
) -> Option<Solution> {
    let mut now = Trial::new(values.len(), linear, start.len());
    let mut next = now.clone();
    now.at(model, values, start)?;
    now.project();
    let (mut damping, mut failures) = (FIRST_DAMPING, 0);
    for _ in 0..MOST_TRIALS {
        let step = now.step(damping)?;
        let longest = step.parts.iter().fold(0.0, |longest: f64, part| longest.max(part.abs()));
        let shorten = (LONGEST_STEP / longest).min(1.0);
        let trial: Vec<f64> =
            now.searched.iter().zip(&step.parts).map(|(at, part)| at + shorten * part).collect();
        let gain = match next.at(model, values, &trial) {
            Some(()) => (now.square - next.square) / step.promised,
            None => f64::NEG_INFINITY,
        };
        let ends = step.promised <= small_gain * now.square;
        if gain > 0.0 {
            std::mem::swap(&mut now, &mut next);
            now.project();
            failures = 0;
            damping *= if gain > GOOD_GAIN {
                EASED
            } else if gain < POOR_GAIN {
                HARDENED
            } else {
                1.0
            };
        } else {
            failures += 1;
            damping = (damping * AFTER_LOSS).max(f64::EPSILON);
        }
        if ends || failures > MOST_FAILURES {
            break;
        }
    }
    now.solution()
}

/// A step of the search.
struct SearchStep {
    parts: Vec<f64>,
    /// By how much it would lower the square if the model were straight.
    promised: f64,
}

/// A place of the search: columns made orthogonal, residuals, and the projected derivatives.
#[derive(Clone)]
struct Trial {
    searched: Vec<f64>,
    /// Orthonormal columns.
    basis: Vec<Vec<f64>>,
    /// Upper triangle that makes the model's columns of the basis: `upper[column][row]`.
    upper: Vec<Vec<f64>>,
    /// The values' parts along the basis.
    along: Vec<f64>,
    linear: Vec<f64>,
    residuals: Vec<f64>,
    square: f64,
    /// Derivatives of the model, less their parts along the basis.
    derivatives: Vec<Vec<f64>>,
    /// Those parts: `shadow[searched][basis]`.
    shadow: Vec<Vec<f64>>,
}

impl Trial {
    fn new(samples: usize, linear: usize, searched: usize) -> Self {
        Self {
            searched: Vec::new(),
            basis: vec![vec![0.0; samples]; linear],
            upper: vec![vec![0.0; linear]; linear],
            along: vec![0.0; linear],
            linear: vec![0.0; linear],
            residuals: vec![0.0; samples],
            square: f64::INFINITY,
            derivatives: vec![vec![0.0; samples]; searched],
            shadow: vec![vec![0.0; linear]; searched],
        }
    }

    /// Moves to a place; `None` if the columns depend on each other or are not numbers.
    fn at(&mut self, model: &impl Separable, values: &[f64], searched: &[f64]) -> Option<()> {
        self.searched.clear();
        self.searched.extend_from_slice(searched);
        model.columns(searched, &mut self.basis, &mut self.derivatives);
        for index in 0..self.basis.len() {
            let (before, rest) = self.basis.split_at_mut(index);
            let (column, upper) = (rest.first_mut()?, self.upper.get_mut(index)?);
            let whole = length(column);
            upper.fill(0.0);
            remove(before, column, upper);
            let mut left = length(column);
            if left < KEPT_SHARE * whole {
                remove(before, column, upper);
                left = length(column);
            }
            if left.is_nan() || left <= f64::EPSILON * whole {
                return None;
            }
            *upper.get_mut(index)? = left;
            column.iter_mut().for_each(|value| *value /= left);
        }
        self.residuals.copy_from_slice(values);
        self.along.fill(0.0);
        remove(&self.basis, &mut self.residuals, &mut self.along);
        remove(&self.basis, &mut self.residuals, &mut self.along);
        self.square = dot(&self.residuals, &self.residuals);
        self.linear.copy_from_slice(&self.along);
        back_substitute(&self.upper, &mut self.linear)?;
        self.square.is_finite().then_some(())
    }

    /// Makes the derivatives those of the whole model, less what the linear parameters take up at once.
    fn project(&mut self) {
        for ((column, shadow), factor) in self.derivatives.iter_mut().zip(&mut self.shadow).zip(&self.linear)
        {
            column.iter_mut().for_each(|value| *value *= factor);
            shadow.fill(0.0);
            remove(&self.basis, column, shadow);
        }
    }

    /// Returns the damped step to lower squares.
    fn step(&self, damping: f64) -> Option<SearchStep> {
        let normal = self.normal();
        let mut damped = normal.clone();
        for (index, row) in damped.iter_mut().enumerate() {
            *row.get_mut(index)? *= 1.0 + damping;
        }
        let gradient: Vec<f64> = self.derivatives.iter().map(|column| dot(column, &self.residuals)).collect();
        let mut parts = gradient.clone();
        forward_and_back(&cholesky(&damped)?, &mut parts)?;
        let curved: f64 = normal.iter().zip(&parts).map(|(row, part)| part * dot(row, &parts)).sum();
        Some(SearchStep { promised: 2.0 * dot(&gradient, &parts) - curved, parts })
    }

    /// Returns the products of the projected derivatives.
    fn normal(&self) -> Vec<Vec<f64>> {
        self.derivatives.iter().map(|a| self.derivatives.iter().map(|b| dot(a, b)).collect()).collect()
    }

    fn solution(self) -> Option<Solution> {
        let lower = cholesky(&self.normal())?;
        let searched = self.searched.len();
        let unit = |count: usize, index: usize| -> Vec<f64> {
            (0..count).map(|place| f64::from(u8::from(place == index))).collect()
        };
        let mut searched_variances = Vec::with_capacity(searched);
        for index in 0..searched {
            let mut column = unit(searched, index);
            forward_and_back(&lower, &mut column)?;
            searched_variances.push(*column.get(index)?);
        }
        // A linear parameter's variance: its own, and what the searched ones' doubt makes of it.
        let mut linear_variances = vec![0.0; self.linear.len()];
        for index in 0..self.linear.len() {
            let mut own = unit(self.linear.len(), index);
            back_substitute(&self.upper, &mut own)?;
            for (variance, part) in linear_variances.iter_mut().zip(&own) {
                *variance += part * part;
            }
        }
        let mut through: Vec<Vec<f64>> = self.shadow.clone();
        for column in &mut through {
            back_substitute(&self.upper, column)?;
        }
        for (index, variance) in linear_variances.iter_mut().enumerate() {
            let row: Vec<f64> = through.iter().filter_map(|column| column.get(index).copied()).collect();
            let mut solved = row.clone();
            forward_and_back(&lower, &mut solved)?;
            *variance += dot(&row, &solved);
        }
        Some(Solution {
            searched: self.searched,
            linear: self.linear,
            searched_variances,
            linear_variances,
            residuals: self.residuals,
            square: self.square,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// a exp(-t / tau) + b t, sampled at whole times.
    struct Decay;

    impl Separable for Decay {
        fn columns(&self, searched: &[f64], linear: &mut [Vec<f64>], derivatives: &mut [Vec<f64>]) {
            for time in 0..linear[0].len() {
                let x = time as f64 / searched[0].exp();
                linear[0][time] = (-x).exp();
                linear[1][time] = time as f64;
                derivatives[0][time] = x * (-x).exp();
            }
        }
    }

    #[test]
    fn a_curve_without_noise_is_found_from_afar() {
        let values: Vec<f64> =
            (0..30).map(|t| 2.0 * (-f64::from(t) / 4.0).exp() + 0.1 * f64::from(t)).collect();
        for start in [0.5_f64, 4.5, 40.0] {
            let found = solve(&Decay, &values, 2, &[start.ln()], 1e-12).unwrap();
            approx::assert_relative_eq!(found.searched[0].exp(), 4.0, epsilon = 1e-6);
            approx::assert_relative_eq!(found.linear[0], 2.0, epsilon = 1e-6);
            approx::assert_relative_eq!(found.linear[1], 0.1, epsilon = 1e-6);
        }
    }

    #[test]
    fn variances_are_those_of_the_whole_problem() {
        let (a, tau) = (2.0_f64, 4.0_f64);
        let values: Vec<f64> =
            (0..30).map(|t| a * (-f64::from(t) / tau).exp() + 0.1 * f64::from(t)).collect();
        let found = solve(&Decay, &values, 2, &[tau.ln()], 1e-12).unwrap();
        // The whole problem's derivatives by a, b and ln tau, its normal matrix inverted.
        let rows = (0..30).map(|t| {
            let x = f64::from(t) / tau;
            nalgebra::Vector3::new((-x).exp(), f64::from(t), a * x * (-x).exp())
        });
        let normal = rows.fold(nalgebra::Matrix3::zeros(), |sum, row| sum + row * row.transpose());
        let inverse = normal.try_inverse().unwrap();
        for (index, variance) in found.linear_variances.iter().chain(&found.searched_variances).enumerate() {
            approx::assert_relative_eq!(*variance, inverse[(index, index)], max_relative = 1e-6);
        }
    }

    #[test]
    fn a_start_where_columns_are_no_numbers_is_refused() {
        assert!(solve(&Decay, &[1.0; 10], 2, &[f64::NAN], 1e-12).is_none());
    }
}
