//! Is a measured value within a limit? The decision rule, in one place.
//!
//! JCGM 106:2012 (evaluation of measurement data: the role of measurement uncertainty in conformity assessment),
//! guarded acceptance and guarded rejection: a value passes only if it stays within the limit when moved towards it
//! by `k` standard uncertainties, fails only if it stays beyond when moved back by as much, and is inconclusive
//! between. `k` is the normal quantile of one minus the accepted one-sided risk.

use super::reason::Finding;

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
    /// An interval that holds the value where that is wider than the standard deviation tells.
    pub interval: Option<[f64; 2]>,
}

impl Measured {
    /// Makes a value with its standard uncertainty.
    pub const fn new(value: f64, standard_uncertainty: f64) -> Self {
        Self { value, standard_uncertainty, interval: None }
    }

    /// Returns whether all numbers can be judged at all.
    pub fn is_sound(&self) -> bool {
        let interval = self.interval.unwrap_or([self.value, self.value]);
        let finite = self.value.is_finite() && interval.iter().all(|end| end.is_finite());
        finite && self.standard_uncertainty.is_finite() && self.standard_uncertainty >= 0.0
    }

    /// Returns the lowest and the highest value that must be reckoned with.
    fn span(&self, coverage: f64) -> (f64, f64) {
        let reach = coverage * self.standard_uncertainty;
        let [low, high] = self.interval.unwrap_or([self.value, self.value]);
        ((self.value - reach).min(low), (self.value + reach).max(high))
    }
}

/// Holds a value against a limit with `coverage` standard uncertainties of guard. The limit itself is allowed.
pub fn judge(limit: Limit, measured: &Measured, coverage: f64) -> Finding {
    if !measured.is_sound() {
        return Finding::Missing;
    }
    let (lowest, highest) = measured.span(coverage);
    let (inside, outside) = match limit {
        Limit::AtMost { limit, doubtful } => (highest <= doubtful, lowest > limit),
        Limit::AtLeast { limit, doubtful } => (lowest >= doubtful, highest < limit),
        Limit::Within { low, high } => (lowest >= low && highest <= high, highest < low || lowest > high),
    };
    match (inside, outside) {
        (true, false) => Finding::Pass,
        (false, true) => Finding::Fail,
        _ => Finding::Inconclusive,
    }
}

/// Returns the number of standard deviations that a normal value exceeds with probability `risk` (0 < risk <= 0.5).
///
/// The distribution function is summed as the series of Abramowitz and Stegun 26.2.11 and inverted by halving.
pub fn coverage_for_risk(risk: f64) -> f64 {
    let wanted = 1.0 - risk;
    let (mut low, mut high) = (0.0, 6.0);
    // 50 halvings of 6 leave 5e-15, the rounding of the sum.
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if normal_probability(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

fn normal_probability(x: f64) -> f64 {
    let density = (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let (mut term, mut sum, mut odd) = (x, x, 1.0);
    while term > 1e-17 * sum {
        odd += 2.0;
        term *= x * x / odd;
        sum += term;
    }
    0.5 + density * sum
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT_MOST: Limit = Limit::AtMost { limit: 8.0, doubtful: 8.0 };
    const AT_LEAST: Limit = Limit::AtLeast { limit: 0.8, doubtful: 0.8 };

    #[test]
    fn coverage_is_the_normal_quantile() {
        // Table values of the standard normal distribution, six figures.
        for (risk, quantile) in
            [(0.5, 0.0), (0.05, 1.644854), (0.025, 1.959964), (0.01, 2.326348), (0.001, 3.090232)]
        {
            assert!((coverage_for_risk(risk) - quantile).abs() < 1e-6, "{risk}: {}", coverage_for_risk(risk));
        }
    }

    #[test]
    fn without_doubt_the_limit_itself_is_allowed() {
        let judged = |limit, value| judge(limit, &Measured::new(value, 0.0), 1.645);
        assert_eq!(judged(AT_MOST, 7.99), Finding::Pass);
        assert_eq!(judged(AT_MOST, 8.0), Finding::Pass);
        assert_eq!(judged(AT_MOST, 8.01), Finding::Fail);
        assert_eq!(judged(AT_LEAST, 0.81), Finding::Pass);
        assert_eq!(judged(AT_LEAST, 0.80), Finding::Pass);
        assert_eq!(judged(AT_LEAST, 0.79), Finding::Fail);
    }

    #[test]
    fn with_doubt_there_is_a_guard_band_on_both_sides() {
        let judged = |value| judge(AT_MOST, &Measured::new(value, 1.0), 2.0);
        assert_eq!(judged(6.0), Finding::Pass);
        assert_eq!(judged(6.1), Finding::Inconclusive);
        assert_eq!(judged(8.0), Finding::Inconclusive);
        assert_eq!(judged(10.0), Finding::Inconclusive);
        assert_eq!(judged(10.1), Finding::Fail);
    }

    #[test]
    fn a_doubtful_zone_passes_before_and_fails_after_it() {
        let zone = Limit::AtMost { limit: 0.10, doubtful: 0.05 };
        let judged = |value| judge(zone, &Measured::new(value, 0.0), 1.645);
        assert_eq!(judged(0.05), Finding::Pass);
        assert_eq!(judged(0.0501), Finding::Inconclusive);
        assert_eq!(judged(0.10), Finding::Inconclusive);
        assert_eq!(judged(0.1001), Finding::Fail);
        let zone = Limit::AtLeast { limit: 0.6, doubtful: 0.8 };
        let judged = |value| judge(zone, &Measured::new(value, 0.0), 1.645);
        assert_eq!(judged(0.8), Finding::Pass);
        assert_eq!(judged(0.7999), Finding::Inconclusive);
        assert_eq!(judged(0.6), Finding::Inconclusive);
        assert_eq!(judged(0.5999), Finding::Fail);
    }

    #[test]
    fn within_has_two_sides_and_an_interval_widens() {
        let window = Limit::Within { low: 2.0, high: 3.0 };
        assert_eq!(judge(window, &Measured::new(2.5, 0.0), 2.0), Finding::Pass);
        assert_eq!(judge(window, &Measured::new(1.9, 0.0), 2.0), Finding::Fail);
        assert_eq!(judge(window, &Measured::new(3.1, 0.0), 2.0), Finding::Fail);
        let wide = Measured { interval: Some([1.5, 3.5]), ..Measured::new(2.5, 0.0) };
        assert_eq!(judge(window, &wide, 2.0), Finding::Inconclusive);
    }

    #[test]
    fn what_is_not_a_number_is_missing() {
        for (value, doubt) in [(f64::NAN, 0.1), (1.0, f64::NAN), (f64::INFINITY, 0.1), (1.0, -0.1)] {
            assert_eq!(judge(AT_MOST, &Measured::new(value, doubt), 2.0), Finding::Missing);
        }
    }
}
