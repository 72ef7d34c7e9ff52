//! The result of a first-order propagation, line by line.

use super::coverage::coverage_factor;
use super::input::Text;
use serde::{Deserialize, Serialize};

/// One line of a budget: what one input adds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Contribution {
    /// What is uncertain.
    pub input: Text,
    /// Symbol of its unit.
    pub unit: Text,
    /// Its best value.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Degrees of freedom of that uncertainty; absent where it is taken as known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub degrees_of_freedom: Option<f64>,
    /// Change of the result per unit of the input.
    pub sensitivity: f64,
    /// Share of the result's variance, 0 to 1; with correlated inputs it may be negative. All shares add up to 1.
    pub share: f64,
}

impl Contribution {
    /// Returns what the input alone would make uncertain, in the unit of the result.
    pub fn amount(&self) -> f64 {
        (self.sensitivity * self.standard_uncertainty).abs()
    }
}

/// A result with its combined standard uncertainty and where that comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Best value of the result.
    pub value: f64,
    /// Combined standard uncertainty.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom (Welch and Satterthwaite); infinite where all is taken as known.
    pub degrees_of_freedom: f64,
    /// One line per input, in the order of the inputs.
    pub contributions: Vec<Contribution>,
}

impl Budget {
    /// Returns the half-width of the interval that holds the value with a probability.
    pub fn expanded(&self, probability: f64) -> f64 {
        coverage_factor(probability, self.degrees_of_freedom) * self.standard_uncertainty
    }

    /// Returns the covariance with another result of the same inputs under their correlations (GUM H.2.3, H.9).
    pub fn covariance(&self, other: &Self, correlation: impl Fn(usize, usize) -> f64) -> f64 {
        let mut sum = 0.0;
        for (row, a) in self.contributions.iter().enumerate() {
            for (column, b) in other.contributions.iter().enumerate() {
                let of_inputs = correlation(row, column) * a.standard_uncertainty * b.standard_uncertainty;
                sum += a.sensitivity * b.sensitivity * of_inputs;
            }
        }
        sum
    }
}
