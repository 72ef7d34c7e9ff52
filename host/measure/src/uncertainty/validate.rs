//! Whether a first-order result is good enough in the eyes of Monte Carlo (JCGM 101, clause 8).

use super::budget::Budget;
use super::monte_carlo::Propagated;

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

/// Returns half of the last of the significant digits of a standard uncertainty (JCGM 101, 7.9.2).
pub fn numerical_tolerance(standard_uncertainty: f64, digits: u32) -> f64 {
    if standard_uncertainty <= 0.0 {
        return 0.0;
    }
    // u = c x 10^l with an integer c of `digits` digits.
    let scale = |u: f64| u.log10().floor() as i32 - (digits.max(1) as i32 - 1);
    let last = scale(standard_uncertainty);
    // 0.0996 rounds to 0.10: the rounded figure counts.
    let rounded = (standard_uncertainty / 10f64.powi(last)).round() * 10f64.powi(last);
    0.5 * 10f64.powi(scale(rounded))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 101, 7.9.2, its examples: 0.000 35 g with two digits gives 0.000 005 g; 2 K with one digit gives 0.5 K.
    #[test]
    fn tolerances_are_those_of_the_examples() {
        approx::assert_relative_eq!(numerical_tolerance(0.000_35, 2), 0.000_005, max_relative = 1e-9);
        approx::assert_relative_eq!(numerical_tolerance(2.0, 1), 0.5, max_relative = 1e-9);
        approx::assert_relative_eq!(numerical_tolerance(0.0996, 2), 0.005, max_relative = 1e-9);
    }
}
