//! The normal distribution as the decision rule needs it, and Student's t where an uncertainty rests on few readings.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Returns the probability that a standard normal value lies below `z`.
pub fn probability_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// Returns the probability that a value lies below `t` standard uncertainties that have so many degrees of freedom.
pub fn probability_below_t(t: f64, degrees_of_freedom: f64) -> f64 {
    // At least one: fewer would be no distribution with a middle. A failure counts as no knowledge.
    StudentsT::new(0.0, 1.0, degrees_of_freedom.max(1.0)).map_or(0.5, |distribution| distribution.cdf(t))
}

/// Returns the number of standard deviations that a normal value exceeds with probability `risk` (0 < risk <= 0.5).
///
/// The tail of [`probability_below`] is inverted by halving.
pub fn coverage_for_risk(risk: f64) -> f64 {
    let (mut low, mut high) = (0.0, 8.0);
    // 54 halvings of 8 leave 4e-16, the rounding of the numbers themselves.
    for _ in 0..54 {
        let middle = 0.5 * (low + high);
        if probability_below(-middle) > risk {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::Normal;

    #[test]
    fn probabilities_and_quantiles_are_those_of_an_independent_library() {
        let normal = Normal::standard();
        for step in -320..=320 {
            let z = f64::from(step) / 40.0;
            approx::assert_relative_eq!(probability_below(z), normal.cdf(z), max_relative = 1e-9);
        }
        for risk in [0.5, 0.3, 0.1, 0.05, 0.025, 0.01, 0.001, 0.0001] {
            let theirs = normal.inverse_cdf(1.0 - risk);
            approx::assert_relative_eq!(coverage_for_risk(risk), theirs, epsilon = 1e-8);
        }
    }

    #[test]
    fn the_far_tails_stay_numbers() {
        assert_eq!(probability_below(f64::INFINITY), 1.0);
        assert_eq!(probability_below(f64::NEG_INFINITY), 0.0);
        assert!(probability_below(-37.0) > 0.0 && probability_below(60.0) == 1.0);
    }
}
