//! Whether a first-order result is confirmed by Monte Carlo (JCGM 101, clause 8).

use super::budget::Budget;
use super::monte_carlo::Propagated;
use super::tolerance::numerical_tolerance;

/// The comparison of the two intervals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validation {
    /// How far the ends may differ.
    pub tolerance: f64,
    /// How far the low ends differ.
    pub low: f64,
    /// How far the high ends differ.
    pub high: f64,
}

impl Validation {
    /// Returns whether the first-order result stands.
    pub fn holds(&self) -> bool {
        self.low <= self.tolerance && self.high <= self.tolerance
    }
}

/// Compares the symmetric intervals of one probability; `digits` are the significant digits of the standard uncertainty
/// that matter.
pub fn validate(budget: &Budget, propagated: &Propagated, probability: f64, digits: u32) -> Validation {
    let half = budget.expanded(probability);
    let [low, high] = propagated.symmetric(probability);
    Validation {
        tolerance: numerical_tolerance(budget.standard_uncertainty, digits),
        low: (budget.value - half - low).abs(),
        high: (budget.value + half - high).abs(),
    }
}
