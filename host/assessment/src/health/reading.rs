//! A number of one cell as an instrument measured it, and how two such numbers compare where they share errors.
//!
//! What both share cancels in their difference; where it comes from two instruments it does not. Weights and distances are
//! those of correlated values (JCGM 100, 5.2.2 and annex H.2: covariance of results that share inputs).

use celltriage_measure::estimate::{Estimates, Quantity, SharedErrors};
use celltriage_measure::normal_model::Known;
use serde::{Deserialize, Serialize};

/// Part of a standard uncertainty that is a cell's own, however large the shared errors are told (judged).
const LEAST_OWN: f64 = 0.1;

/// A number with its standard uncertainty and what of that it shares with others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Value, and the whole standard uncertainty.
    #[serde(flatten)]
    pub known: Known,
    /// The shared part, signed, by its causes, each with the instrument and its calibration.
    #[serde(default, skip_serializing_if = "SharedErrors::is_empty")]
    pub shared: SharedErrors,
}

impl Reading {
    /// Reads an estimate; `instrument` names what measured it, with its calibration.
    pub fn of(estimates: &Estimates, quantity: Quantity, instrument: &str) -> Option<Self> {
        let known = Known::from(estimates.get(quantity)?);
        Some(Self { known, shared: estimates.shared_errors(quantity, instrument) })
    }

    /// Puts a cell's own part and the shared one together.
    pub(super) fn with(own: Known, shared: SharedErrors) -> Self {
        let whole = own.standard_uncertainty.hypot(shared_variance(&shared).sqrt());
        Self { known: Known { standard_uncertainty: whole, ..own }, shared }
    }

    /// Returns the number with the part of its uncertainty that no other number has.
    pub(super) fn own(&self) -> Known {
        let whole = self.known.standard_uncertainty;
        let own = (whole.powi(2) - shared_variance(&self.shared)).max(0.0).sqrt();
        Known { standard_uncertainty: own.max(LEAST_OWN * whole), ..self.known }
    }

    fn variance(&self) -> f64 {
        self.own().standard_uncertainty.powi(2) + shared_variance(&self.shared)
    }

    fn covariance(&self, other: &Self) -> f64 {
        self.shared.iter().filter_map(|(cause, amount)| Some(amount * other.shared.get(cause)?)).sum()
    }

    /// Returns how many standard deviations this value lies from an expected one.
    pub fn distance(&self, expected: &Self) -> f64 {
        let variance = self.variance() + expected.variance() - 2.0 * self.covariance(expected);
        (self.known.value - expected.known.value) / variance.max(0.0).sqrt()
    }

    /// Joins this value with an expected one; also returns the weight of this one.
    pub fn joined(&self, expected: &Self) -> (Known, f64) {
        let (own, others, both) = (self.variance(), expected.variance(), self.covariance(expected));
        let apart = own + others - 2.0 * both;
        let weight = if apart > 0.0 { ((others - both) / apart).clamp(0.0, 1.0) } else { 1.0 };
        let value = weight * self.known.value + (1.0 - weight) * expected.known.value;
        let variance =
            weight.powi(2) * own + (1.0 - weight).powi(2) * others + 2.0 * weight * (1.0 - weight) * both;
        // The least own part may lift both a little above what was measured; joining never makes less of that.
        let standard_uncertainty = variance.max(0.0).sqrt().min(self.known.standard_uncertainty);
        (Known { value, standard_uncertainty }, weight)
    }

    /// Returns this value over another one; what both share cancels as far as it is the same share of each.
    pub(super) fn over(&self, other: &Self) -> Option<Known> {
        let (own, rest) = (self.known.value, other.known.value);
        if own <= 0.0 || rest <= 0.0 {
            return None;
        }
        let variance = self.variance() / own.powi(2) + other.variance() / rest.powi(2)
            - 2.0 * self.covariance(other) / own / rest;
        let value = own / rest;
        Some(Known { value, standard_uncertainty: value * variance.max(0.0).sqrt() })
    }
}

fn shared_variance(shared: &SharedErrors) -> f64 {
    shared.values().map(|amount| amount * amount).sum()
}

/// Returns what the weighted mean of readings shares with others; the weights add up to 1.
pub(super) fn shared_by_mean(readings: &[&Reading], weights: &[f64]) -> SharedErrors {
    let mut mean = SharedErrors::new();
    for (reading, weight) in readings.iter().zip(weights) {
        for (cause, amount) in &reading.shared {
            *mean.entry(cause.clone()).or_default() += weight * amount;
        }
    }
    mean
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reading(value: f64, own: f64, shared: &[(&str, f64)]) -> Reading {
        let shared = shared.iter().map(|(cause, amount)| ((*cause).to_owned(), *amount)).collect();
        Reading::with(Known { value, standard_uncertainty: own }, shared)
    }

    #[test]
    fn a_shared_error_cancels_between_numbers_of_one_instrument_only() {
        let [one, same] = [0.90, 0.93].map(|value| reading(value, 0.003, &[("gain, fixture 1", 0.005)]));
        let other = reading(0.93, 0.003, &[("gain, fixture 2", 0.005)]);
        approx::assert_relative_eq!(one.distance(&same), -0.03 / (0.003 * 2f64.sqrt()), epsilon = 1e-9);
        let apart = 2f64.sqrt() * 0.003f64.hypot(0.005);
        approx::assert_relative_eq!(one.distance(&other), -0.03 / apart, epsilon = 1e-9);
        // Joining narrows the part of their own and leaves the shared error whole.
        let (joined, weight) = one.joined(&same);
        approx::assert_relative_eq!(weight, 0.5, epsilon = 1e-9);
        let expected = (0.003 / 2f64.sqrt()).hypot(0.005);
        approx::assert_relative_eq!(joined.standard_uncertainty, expected, epsilon = 1e-9);
        assert!(one.joined(&other).0.standard_uncertainty < joined.standard_uncertainty);
    }

    #[test]
    fn a_ratio_keeps_the_errors_of_two_instruments() {
        let gain = |value: f64, which| reading(value, 0.001 * value, &[(which, 0.005 * value)]);
        let same = gain(0.9, "fixture 1").over(&gain(0.95, "fixture 1")).unwrap();
        let other = gain(0.9, "fixture 1").over(&gain(0.95, "fixture 2")).unwrap();
        approx::assert_relative_eq!(
            same.standard_uncertainty,
            same.value * 0.001 * 2f64.sqrt(),
            epsilon = 1e-9
        );
        assert!(other.standard_uncertainty > 4.0 * same.standard_uncertainty);
        assert_eq!(gain(0.9, "fixture 1").over(&reading(0.0, 0.1, &[])), None);
    }

    proptest! {
        #[test]
        fn joining_lies_between_both_and_is_never_wider_than_the_measurement(
            value in 0.3..1.2f64, own in 0.001..0.3f64, shared in -0.05..0.05f64,
            expected in 0.3..1.2f64, others in 0.001..0.3f64, common in -0.05..0.05f64, is_same: bool,
        ) {
            let measured = reading(value, own, &[("gain, fixture 1", shared)]);
            let cause = if is_same { "gain, fixture 1" } else { "gain, fixture 2" };
            let expected = reading(expected, others, &[(cause, common)]);
            let (joined, weight) = measured.joined(&expected);
            prop_assert!((0.0..=1.0).contains(&weight));
            prop_assert!(joined.standard_uncertainty <= measured.known.standard_uncertainty + 1e-12);
            let (low, high) = (value.min(expected.known.value), value.max(expected.known.value));
            prop_assert!(joined.value >= low - 1e-12 && joined.value <= high + 1e-12);
        }
    }
}
