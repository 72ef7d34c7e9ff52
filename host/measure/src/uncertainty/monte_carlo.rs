//! Propagation of distributions by Monte Carlo (JCGM 101, clause 7), with a number of trials that adapts.
//!
//! Inputs are drawn from their shapes: normal, t, rectangular; normal ones with their correlations. Blocks of
//! trials are drawn until value, uncertainty and interval ends are stable within the numerical tolerance (7.9). The
//! same seed gives the same result on every machine.

use super::input::{Input, Shape};
use super::measurand::Measurand;
use super::tolerance::numerical_tolerance;
use nalgebra::{SMatrix, SVector};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal, StudentT};

/// How to draw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trials {
    /// Start of the random numbers.
    pub seed: u64,
    /// Coverage probability whose interval must be stable.
    pub probability: f64,
    /// Significant digits of the standard uncertainty that must be stable.
    pub digits: u32,
    /// Trials in a block (7.9.4: at least 10,000).
    pub block: usize,
    /// No more blocks than this.
    pub most_blocks: usize,
}

impl Default for Trials {
    fn default() -> Self {
        Self { seed: 1, probability: 0.95, digits: 2, block: 10_000, most_blocks: 500 }
    }
}

/// Why no distribution can be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DrawError {
    /// A correlated input is not normal with a known uncertainty.
    #[error("{input} is correlated, so it must be normal with a known uncertainty")]
    NotNormal {
        /// Name of the input.
        input: String,
    },
    /// No quantities can have such correlations.
    #[error("the correlations contradict each other")]
    Contradiction,
    /// The function has no finite value for a draw.
    #[error("the function gave {value} for a draw of its inputs")]
    NotFinite {
        /// What it gave.
        value: f64,
    },
}

/// The distribution of a result.
#[derive(Clone, Debug, PartialEq)]
pub struct Propagated {
    /// Mean.
    pub value: f64,
    /// Standard deviation.
    pub standard_uncertainty: f64,
    /// Whether the tolerance was reached before the trials ended.
    pub is_stable: bool,
    /// All values that were drawn, rising.
    values: Vec<f64>,
}

impl<const N: usize, F: Fn([f64; N]) -> f64> Measurand<N, F> {
    /// Draws until the result is stable.
    ///
    /// # Errors
    /// Why nothing can be drawn.
    pub fn monte_carlo(&self, trials: &Trials) -> Result<Propagated, DrawError> {
        let root = self.root()?;
        let mut random = ChaCha12Rng::seed_from_u64(trials.seed);
        let block = trials.block.max(100);
        let mut values = Vec::new();
        let mut blocks: Vec<[f64; 4]> = Vec::new();
        while blocks.len() < trials.most_blocks.max(2) {
            let mut drawn = Vec::with_capacity(block);
            for _ in 0..block {
                drawn.push((self.function)(self.draw(&root, &mut random)));
            }
            if let Some(value) = drawn.iter().copied().find(|value| !value.is_finite()) {
                return Err(DrawError::NotFinite { value });
            }
            values.extend_from_slice(&drawn);
            let one = Propagated::of(drawn, false);
            let [low, high] = one.symmetric(trials.probability);
            blocks.push([one.value, one.standard_uncertainty, low, high]);
            if blocks.len() >= 2 && is_stable(&blocks, trials.digits) {
                return Ok(Propagated::of(values, true));
            }
        }
        Ok(Propagated::of(values, false))
    }

    /// Returns the matrix that makes correlated normal numbers out of independent ones.
    fn root(&self) -> Result<SMatrix<f64, N, N>, DrawError> {
        for (row, input) in self.inputs.iter().enumerate() {
            let is_correlated = (0..N).any(|column| column != row && self.correlation(row, column) != 0.0);
            let is_normal = input.shape == Shape::Normal && input.degrees_of_freedom.is_infinite();
            if is_correlated && !is_normal {
                return Err(DrawError::NotNormal { input: input.name.to_string() });
            }
        }
        let root = self.correlation.cholesky();
        root.map(|root| root.l()).ok_or(DrawError::Contradiction)
    }

    fn draw(&self, root: &SMatrix<f64, N, N>, random: &mut ChaCha12Rng) -> [f64; N] {
        let plain = SVector::<f64, N>::from_fn(|row, _| match self.inputs.get(row) {
            Some(input) => standardized(input, random),
            None => 0.0,
        });
        let mixed = root * plain;
        let value = |index: usize| {
            let input = self.inputs.get(index);
            input.map_or(0.0, |input| {
                input.value + input.standard_uncertainty * mixed.get(index).copied().unwrap_or(0.0)
            })
        };
        std::array::from_fn(value)
    }
}

/// Draws a number of mean 0 in units of the standard uncertainty.
fn standardized(input: &Input, random: &mut ChaCha12Rng) -> f64 {
    match input.shape {
        Shape::Normal if input.degrees_of_freedom.is_finite() => {
            StudentT::new(input.degrees_of_freedom.max(1.0)).map_or(f64::NAN, |t| t.sample(random))
        }
        Shape::Normal => StandardNormal.sample(random),
        Shape::Rectangular => 3f64.sqrt() * (2.0 * random.random::<f64>() - 1.0),
    }
}

/// Returns whether twice the standard deviation of every mean over the blocks is within the tolerance (7.9.4).
fn is_stable(blocks: &[[f64; 4]], digits: u32) -> bool {
    let count = blocks.len() as f64;
    let statistics = |which: usize| {
        let of_block = |block: &[f64; 4]| block.get(which).copied().unwrap_or(0.0);
        let mean = blocks.iter().map(of_block).sum::<f64>() / count;
        let square = blocks.iter().map(|block| (of_block(block) - mean).powi(2)).sum::<f64>();
        (mean, (square / (count * (count - 1.0))).sqrt())
    };
    let tolerance = numerical_tolerance(statistics(1).0, digits);
    (0..4).all(|which| 2.0 * statistics(which).1 <= tolerance)
}

impl Propagated {
    fn of(mut values: Vec<f64>, is_stable: bool) -> Self {
        values.sort_unstable_by(f64::total_cmp);
        let count = values.len().max(2) as f64;
        let value = values.iter().sum::<f64>() / count;
        let square: f64 = values.iter().map(|drawn| (drawn - value).powi(2)).sum();
        Self { value, standard_uncertainty: (square / (count - 1.0)).sqrt(), is_stable, values }
    }

    /// Returns how many values were drawn.
    pub fn trials(&self) -> usize {
        self.values.len()
    }

    /// Returns the interval that leaves equal probabilities on both sides (7.7).
    pub fn symmetric(&self, probability: f64) -> [f64; 2] {
        let inside = self.inside(probability);
        self.interval((self.values.len() - inside) / 2, inside)
    }

    /// Returns the shortest interval of a probability (5.3.4, 7.7).
    pub fn shortest(&self, probability: f64) -> [f64; 2] {
        let inside = self.inside(probability);
        let width = |first: &usize| {
            let [low, high] = self.interval(*first, inside);
            high - low
        };
        let firsts = 0..self.values.len() - inside;
        let first = firsts.min_by(|a, b| width(a).total_cmp(&width(b))).unwrap_or(0);
        self.interval(first, inside)
    }

    fn inside(&self, probability: f64) -> usize {
        let inside = (probability.clamp(0.0, 1.0) * self.values.len() as f64 + 0.5) as usize;
        inside.min(self.values.len().saturating_sub(1))
    }

    fn interval(&self, first: usize, inside: usize) -> [f64; 2] {
        let at = |index: usize| self.values.get(index).copied().unwrap_or(f64::NAN);
        [at(first), at(first + inside)]
    }
}
