//! A value with its doubt, and how probable it is that the truth keeps a limit.

use crate::limit::{Guard, Limit};
use crate::normal::{probability_below, probability_below_t};
use celltriage_measure::uncertainty::{AS_TWO, PRACTICALLY_NORMAL, coverage_factor};

/// A value with its doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Best value.
    pub value: f64,
    /// One standard deviation.
    pub standard_uncertainty: f64,
    /// An interval that holds the value where that is wider than the standard deviation says: with the probability that
    /// two standard deviations cover, by the same degrees of freedom.
    pub interval: Option<[f64; 2]>,
    /// Effective degrees of freedom of the standard uncertainty; `None` if it is taken as known.
    pub degrees_of_freedom: Option<f64>,
}

impl Measured {
    /// Makes a value with its standard uncertainty.
    pub const fn new(value: f64, standard_uncertainty: f64) -> Self {
        Self { value, standard_uncertainty, interval: None, degrees_of_freedom: None }
    }

    /// Returns whether all numbers can be judged at all.
    pub fn is_sound(&self) -> bool {
        let interval = self.interval.unwrap_or([self.value, self.value]);
        let finite = self.value.is_finite() && interval.iter().all(|end| end.is_finite());
        finite && self.standard_uncertainty.is_finite() && self.standard_uncertainty >= 0.0
    }

    /// Returns the degrees of freedom where they are few enough to matter.
    pub(super) fn few_degrees(&self) -> Option<f64> {
        self.degrees_of_freedom.filter(|degrees| *degrees < PRACTICALLY_NORMAL)
    }

    /// Returns the standard uncertainties of guard that a risk asks for, for this uncertainty.
    pub(super) fn coverage(&self, guard: Guard) -> f64 {
        match self.few_degrees() {
            Some(degrees) => coverage_factor(1.0 - 2.0 * guard.risk, degrees).max(guard.coverage),
            None => guard.coverage,
        }
    }

    /// Returns how far below and above the value the truth must be reckoned with, for a number of deviations.
    pub(super) fn reach(&self, coverage: f64) -> (f64, f64) {
        let (below, above) = self.deviations();
        (coverage * below, coverage * above)
    }

    /// Returns the factor that an interval was made with.
    fn interval_coverage(&self) -> f64 {
        self.few_degrees().map_or(2.0, |degrees| coverage_factor(AS_TWO, degrees))
    }

    /// Returns the standard deviations below and above the value; an interval may be lopsided.
    fn deviations(&self) -> (f64, f64) {
        let [low, high] = self.interval.unwrap_or([self.value, self.value]);
        let side = |half: f64| self.standard_uncertainty.max(half / self.interval_coverage());
        (side(self.value - low), side(high - self.value))
    }

    /// Returns the probability that the truth is not above `limit`.
    fn probability_up_to(&self, limit: f64) -> f64 {
        let (below, above) = self.deviations();
        let (distance, deviation) = (limit - self.value, if limit < self.value { below } else { above });
        match deviation > 0.0 {
            true => match self.few_degrees() {
                Some(degrees) => probability_below_t(distance / deviation, degrees),
                None => probability_below(distance / deviation),
            },
            // Without doubt the limit itself is allowed.
            false if distance >= 0.0 => 1.0,
            false => 0.0,
        }
    }

    /// Returns the probability that the truth is not below `limit`.
    fn probability_from(&self, limit: f64) -> f64 {
        Measured { value: -self.value, interval: self.interval.map(|[low, high]| [-high, -low]), ..*self }
            .probability_up_to(-limit)
    }

    /// Returns the probability that the truth keeps a limit.
    pub fn probability_within(&self, limit: Limit) -> f64 {
        match limit {
            Limit::AtMost { limit, .. } => self.probability_up_to(limit),
            Limit::AtLeast { limit, .. } => self.probability_from(limit),
            Limit::Within { low, high } => {
                (self.probability_from(low) + self.probability_up_to(high) - 1.0).max(0.0)
            }
        }
    }

    /// Returns the probability that the truth lies on the passing side of a doubtful range, where the limit has one.
    pub(super) fn probability_clear(&self, limit: Limit) -> Option<f64> {
        match limit {
            Limit::AtMost { limit, doubtful } if doubtful != limit => Some(self.probability_up_to(doubtful)),
            Limit::AtLeast { limit, doubtful } if doubtful != limit => Some(self.probability_from(doubtful)),
            _ => None,
        }
    }

    /// Returns the interval that holds the truth with 95 %.
    pub(super) fn interval_95(&self) -> [f64; 2] {
        let (below, above) = self.reach(self.interval_coverage());
        [self.value - below, self.value + above]
    }
}
