//! From standard uncertainty to interval: effective degrees of freedom and coverage factor (GUM annex G).

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Degrees of freedom above which the t distribution is normal to five digits.
pub const PRACTICALLY_NORMAL: f64 = 1e5;

/// Probability that two standard uncertainties cover where the uncertainty is known: what "k = 2" stands for. With few
/// degrees of freedom the factor of this probability is larger (JCGM 100, G.6.4; EA-4/02, annex E, from memory).
pub const AS_TWO: f64 = 0.9545;

/// Returns the effective degrees of freedom of a combined uncertainty (GUM G.4.1, Welch and Satterthwaite).
///
/// `parts` are the amounts `|c u|` of independent inputs with their degrees of freedom. Infinite where no part is
/// estimated from few readings; never below that of the worst part.
pub fn effective_degrees_of_freedom(combined: f64, parts: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    let sum: f64 = parts.into_iter().map(|(amount, degrees)| amount.powi(4) / degrees).sum();
    if sum > 0.0 { combined.powi(4) / sum } else { f64::INFINITY }
}

/// Returns the factor of the standard uncertainty whose symmetric interval holds the value with a probability.
///
/// Non-integer degrees of freedom are used as they are (GUM G.4.1 allows interpolation or the next lower integer).
pub fn coverage_factor(probability: f64, degrees_of_freedom: f64) -> f64 {
    let quantile = 0.5 + probability.clamp(0.0, 1.0) / 2.0;
    if degrees_of_freedom < PRACTICALLY_NORMAL {
        StudentsT::new(0.0, 1.0, degrees_of_freedom.max(1.0)).map_or(f64::NAN, |t| t.inverse_cdf(quantile))
    } else {
        Normal::standard().inverse_cdf(quantile)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// GUM table G.2, to its printed digits.
    #[test]
    fn factors_are_those_of_the_published_table() {
        let rows = [
            (1.0, 1.84, 12.71, 63.66),
            (2.0, 1.32, 4.30, 9.92),
            (5.0, 1.11, 2.57, 4.03),
            (10.0, 1.05, 2.23, 3.17),
            (16.0, 1.03, 2.12, 2.92),
            (50.0, 1.01, 2.01, 2.68),
            (f64::INFINITY, 1.00, 1.96, 2.576),
        ];
        for (degrees, one, most, nearly_all) in rows {
            for (probability, expected) in [(0.6827, one), (0.95, most), (0.99, nearly_all)] {
                let found = coverage_factor(probability, degrees);
                assert!((found - expected).abs() <= 0.005 + 1e-9, "{degrees} {probability}: {found}");
            }
        }
    }

    /// GUM G.4.1, its example: three inputs of 0.25 %, 0.57 %, 0.82 % with 9, 4 and 14 degrees of freedom give 19.0.
    #[test]
    fn three_inputs_give_the_degrees_of_freedom_of_the_example() {
        let parts = [(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)];
        let combined = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
        approx::assert_relative_eq!(combined, 1.03, epsilon = 0.005);
        let found = effective_degrees_of_freedom(combined, parts);
        approx::assert_relative_eq!(found, 19.0, epsilon = 0.05);
        assert_eq!(effective_degrees_of_freedom(1.0, [(1.0, f64::INFINITY)]), f64::INFINITY);
    }
}
