//! Is a measured value within a limit? The decision rule, in one place.
//!
//! JCGM 106:2012 (evaluation of measurement data: the role of measurement uncertainty in conformity assessment),
//! guarded acceptance and guarded rejection with a stated specific risk. The guard band is `k` standard uncertainties,
//! `k` the normal quantile of one minus the risk. A value passes only inside the limit by the guard band, fails only
//! beyond it by as much, and is inconclusive between; so the probability that what passed lies beyond the limit, and
//! that what failed lies within, is never above the stated risk. That probability is reported with every decision. Where the
//! uncertainty itself is known from few readings, Student's t with its effective degrees of freedom takes the place of
//! the normal distribution (JCGM 106, 7.2.2; JCGM 100, annex G). A lopsided interval counts on each side with that side's
//! own deviation, in the guard band as in the probability.

use super::conformity::Conformity;
use super::limit::{Guard, Limit};
use super::measured::Measured;
use super::reason::Finding;

/// Compares a value with a limit; `None` if it cannot be judged. The limit itself is allowed.
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
    use crate::normal::probability_below;

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
