//! Is a measured value within a limit? The decision rule, in one place.
//!
//! JCGM 106:2012 (evaluation of measurement data: the role of measurement uncertainty in conformity assessment),
//! guarded acceptance and guarded rejection with a stated specific risk. The guard band is `k` standard uncertainties,
//! `k` the normal quantile of one minus the risk. A value passes only inside the limit by the guard band, fails only
//! beyond it by as much, and is inconclusive between; so the probability that what passed lies beyond the limit, and
//! that what failed lies within, is never above the stated risk. That probability is told with every decision. Where the
//! uncertainty itself is known from few readings, Student's t with its effective degrees of freedom takes the place of
//! the normal distribution (JCGM 106, 7.2.2; JCGM 100, annex G). A lopsided interval counts on each side with that side's
//! own deviation, in the guard band as in the probability.

use super::conformity::Conformity;
use super::normal::{coverage_for_risk, probability_below, probability_below_t};
use super::reason::Finding;
use celltriage_measure::uncertainty::{AS_TWO, PRACTICALLY_NORMAL, coverage_factor};

/// The stated risk of a wrong pass, and of a wrong fail, with the guard that follows from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// One-sided risk.
    pub risk: f64,
    /// Standard uncertainties of guard.
    pub coverage: f64,
}

impl Guard {
    /// Makes the guard for a stated risk.
    pub fn for_risk(risk: f64) -> Self {
        Self { risk, coverage: coverage_for_risk(risk) }
    }
}

/// What a number is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// The value may be at most `limit`; from `doubtful` up to it nothing is said.
    AtMost {
        /// Beyond this it fails.
        limit: f64,
        /// Up to this it passes.
        doubtful: f64,
    },
    /// The value must be at least `limit`; from `doubtful` down to it nothing is said.
    AtLeast {
        /// Below this it fails.
        limit: f64,
        /// From this on it passes.
        doubtful: f64,
    },
    /// The value must lie between both.
    Within {
        /// Lowest.
        low: f64,
        /// Highest.
        high: f64,
    },
}

impl Limit {
    /// Returns the same limit moved by an amount, for limits relative to the label.
    pub fn shifted(self, by: f64) -> Self {
        // Both are decimal figures of a person: 4.35 and 0.05 make 4.4, not 4.3999999999999995.
        let moved = |figure: f64| ((figure + by) * 1e9).round() / 1e9;
        match self {
            Limit::AtMost { limit, doubtful } => {
                Limit::AtMost { limit: moved(limit), doubtful: moved(doubtful) }
            }
            Limit::AtLeast { limit, doubtful } => {
                Limit::AtLeast { limit: moved(limit), doubtful: moved(doubtful) }
            }
            Limit::Within { low, high } => Limit::Within { low: moved(low), high: moved(high) },
        }
    }
}

/// A value with its doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Best value.
    pub value: f64,
    /// One standard deviation.
    pub standard_uncertainty: f64,
    /// An interval that holds the value where that is wider than the standard deviation tells: with the probability that
    /// two standard deviations cover, by the same degrees of freedom.
    pub interval: Option<[f64; 2]>,
    /// Effective degrees of freedom of the standard uncertainty; nothing where it is taken as known.
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
    fn few_degrees(&self) -> Option<f64> {
        self.degrees_of_freedom.filter(|degrees| *degrees < PRACTICALLY_NORMAL)
    }

    /// Returns the standard uncertainties of guard that a risk asks for, for this uncertainty.
    fn coverage(&self, guard: Guard) -> f64 {
        match self.few_degrees() {
            Some(degrees) => coverage_factor(1.0 - 2.0 * guard.risk, degrees).max(guard.coverage),
            None => guard.coverage,
        }
    }

    /// Returns how far below and above the value the truth must be reckoned with, for a number of deviations.
    fn reach(&self, coverage: f64) -> (f64, f64) {
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
    fn probability_clear(&self, limit: Limit) -> Option<f64> {
        match limit {
            Limit::AtMost { limit, doubtful } if doubtful != limit => Some(self.probability_up_to(doubtful)),
            Limit::AtLeast { limit, doubtful } if doubtful != limit => Some(self.probability_from(doubtful)),
            _ => None,
        }
    }

    /// Returns the interval that holds the truth with 95 %.
    fn interval_95(&self) -> [f64; 2] {
        let (below, above) = self.reach(self.interval_coverage());
        [self.value - below, self.value + above]
    }
}

/// Holds a value against a limit; nothing where it cannot be judged. The limit itself is allowed.
pub fn judge(limit: Limit, measured: &Measured, guard: Guard) -> Option<(Finding, Conformity)> {
    if !measured.is_sound() {
        return None;
    }
    let value = measured.value;
    let coverage = measured.coverage(guard);
    let (below, above) = measured.reach(coverage);
    let probability = measured.probability_within(limit);
    // Each bound as it is for this measurement: what passes lies inside `accept`, what fails beyond `reject`.
    let (accept, reject, doubtful) = match limit {
        Limit::AtMost { limit, doubtful } => (
            [None, Some(doubtful - above)],
            [None, Some(limit + below)],
            Some(doubtful).filter(|d| *d != limit),
        ),
        Limit::AtLeast { limit, doubtful } => (
            [Some(doubtful + below), None],
            [Some(limit - above), None],
            Some(doubtful).filter(|d| *d != limit),
        ),
        Limit::Within { low, high } => {
            ([Some(low + below), Some(high - above)], [Some(low - above), Some(high + below)], None)
        }
    };
    // Written out so that a value without doubt is held against the limit itself, without a rounding between.
    let (lowest, highest) = (value - below, value + above);
    let (inside, outside) = match limit {
        Limit::AtMost { limit, doubtful } => (highest <= doubtful, lowest > limit),
        Limit::AtLeast { limit, doubtful } => (lowest >= doubtful, highest < limit),
        Limit::Within { low, high } => (
            // With a doubt as wide as the window both ends add to the risk.
            lowest >= low && highest <= high && probability >= 1.0 - guard.risk,
            highest < low || lowest > high,
        ),
    };
    let finding = match (inside, outside) {
        (true, false) => Finding::Pass,
        (false, true) => Finding::Fail,
        _ => Finding::Inconclusive,
    };
    let conformity = Conformity {
        probability,
        probability_clear: measured.probability_clear(limit),
        risk: guard.risk,
        coverage_factor: coverage,
        degrees_of_freedom: measured.few_degrees(),
        guard_band: match limit {
            Limit::AtLeast { .. } => below,
            Limit::AtMost { .. } => above,
            Limit::Within { .. } => below.max(above),
        },
        accept,
        reject,
        doubtful,
        interval: measured.interval_95(),
    };
    Some((finding, conformity))
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT_MOST: Limit = Limit::AtMost { limit: 8.0, doubtful: 8.0 };
    const AT_LEAST: Limit = Limit::AtLeast { limit: 0.8, doubtful: 0.8 };

    fn finding(limit: Limit, measured: &Measured, coverage: f64) -> Finding {
        let guard = Guard { risk: probability_below(-coverage), coverage };
        judge(limit, measured, guard).map_or(Finding::Missing, |(finding, _)| finding)
    }

    #[test]
    fn without_doubt_the_limit_itself_is_allowed() {
        let judged = |limit, value| finding(limit, &Measured::new(value, 0.0), 1.645);
        assert_eq!(judged(AT_MOST, 7.99), Finding::Pass);
        assert_eq!(judged(AT_MOST, 8.0), Finding::Pass);
        assert_eq!(judged(AT_MOST, 8.01), Finding::Fail);
        assert_eq!(judged(AT_LEAST, 0.81), Finding::Pass);
        assert_eq!(judged(AT_LEAST, 0.80), Finding::Pass);
        assert_eq!(judged(AT_LEAST, 0.79), Finding::Fail);
    }

    #[test]
    fn with_doubt_there_is_a_guard_band_on_both_sides() {
        let judged = |value| finding(AT_MOST, &Measured::new(value, 1.0), 2.0);
        assert_eq!(judged(6.0), Finding::Pass);
        assert_eq!(judged(6.1), Finding::Inconclusive);
        assert_eq!(judged(8.0), Finding::Inconclusive);
        assert_eq!(judged(10.0), Finding::Inconclusive);
        assert_eq!(judged(10.1), Finding::Fail);
    }

    #[test]
    fn a_doubtful_zone_passes_before_and_fails_after_it() {
        let zone = Limit::AtMost { limit: 0.10, doubtful: 0.05 };
        let judged = |value| finding(zone, &Measured::new(value, 0.0), 1.645);
        assert_eq!(judged(0.05), Finding::Pass);
        assert_eq!(judged(0.0501), Finding::Inconclusive);
        assert_eq!(judged(0.10), Finding::Inconclusive);
        assert_eq!(judged(0.1001), Finding::Fail);
        let zone = Limit::AtLeast { limit: 0.6, doubtful: 0.8 };
        let judged = |value| finding(zone, &Measured::new(value, 0.0), 1.645);
        assert_eq!(judged(0.8), Finding::Pass);
        assert_eq!(judged(0.7999), Finding::Inconclusive);
        assert_eq!(judged(0.6), Finding::Inconclusive);
        assert_eq!(judged(0.5999), Finding::Fail);
    }

    #[test]
    fn within_has_two_sides_and_an_interval_widens() {
        let window = Limit::Within { low: 2.0, high: 3.0 };
        assert_eq!(finding(window, &Measured::new(2.5, 0.0), 2.0), Finding::Pass);
        assert_eq!(finding(window, &Measured::new(1.9, 0.0), 2.0), Finding::Fail);
        assert_eq!(finding(window, &Measured::new(3.1, 0.0), 2.0), Finding::Fail);
        let wide = Measured { interval: Some([1.5, 3.5]), ..Measured::new(2.5, 0.0) };
        assert_eq!(finding(window, &wide, 2.0), Finding::Inconclusive);
    }

    #[test]
    fn what_is_not_a_number_is_missing() {
        for (value, doubt) in [(f64::NAN, 0.1), (1.0, f64::NAN), (f64::INFINITY, 0.1), (1.0, -0.1)] {
            assert_eq!(finding(AT_MOST, &Measured::new(value, doubt), 2.0), Finding::Missing);
        }
    }
}
