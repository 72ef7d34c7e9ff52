//! The decision rule against the figures of JCGM 106:2012 and against an independent library.
//!
//! The guide's figures are quoted from memory, clause by clause: its text was searched for and not found in an open copy.
//! What they follow from is recomputed here with the distribution functions of `statrs`, so that a slip of memory would
//! show as a disagreement of both.

use super::judge::judge;
use super::limit::{Guard, Limit};
use super::measured::Measured;
use super::reason::Finding;
use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

fn at_most(limit: f64) -> Limit {
    Limit::AtMost { limit, doubtful: limit }
}

fn at_least(limit: f64) -> Limit {
    Limit::AtLeast { limit, doubtful: limit }
}

fn normal(value: f64, deviation: f64) -> Normal {
    Normal::new(value, deviation).unwrap()
}

/// Clause 7.3, table of conformance probabilities for one tolerance limit: z against p.
#[test]
fn distances_and_probabilities_of_one_limit_are_those_of_the_table() {
    for (probability, z) in [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)] {
        let guard = Guard::for_risk(1.0 - probability);
        assert!((guard.coverage - z).abs() < 0.0051, "{probability}: {}", guard.coverage);
        let measured = Measured::new(10.0 - guard.coverage * 0.3, 0.3);
        assert!((measured.probability_within(at_most(10.0)) - probability).abs() < 1e-12);
    }
}

/// Clause 7.3, example of the breakdown voltage of a Zener diode: at most -5.4 V asked for, -5.47 V measured, u = 0.05 V.
#[test]
fn a_breakdown_voltage_conforms_with_92_percent() {
    let measured = Measured::new(-5.47, 0.05);
    let probability = measured.probability_within(at_most(-5.40));
    assert_eq!((probability * 100.0).round(), 92.0);
    approx::assert_relative_eq!(probability, normal(-5.47, 0.05).cdf(-5.40), epsilon = 1e-9);
}

/// Clause 7.4, example of a motor oil: 12.5 to 16.3 mm2/s asked for, 13.6 measured, u = 1.8.
#[test]
fn a_viscosity_between_two_limits_conforms_with_66_percent() {
    let measured = Measured::new(13.6, 1.8);
    let window = Limit::Within { low: 12.5, high: 16.3 };
    let probability = measured.probability_within(window);
    assert_eq!((probability * 100.0).round(), 66.0);
    let oil = normal(13.6, 1.8);
    approx::assert_relative_eq!(probability, oil.cdf(16.3) - oil.cdf(12.5), epsilon = 1e-9);
    let found = judge(window, &measured, Guard::for_risk(0.05)).unwrap().0;
    assert_eq!(found, Finding::Inconclusive);
}

/// Clause 8.3.2: a guard band of the expanded uncertainty U = 2 u leaves a risk of 2.3 % at most.
#[test]
fn a_guard_band_of_the_expanded_uncertainty_leaves_2_3_percent() {
    let guard = Guard { risk: 0.023, coverage: 2.0 };
    let (found, conformity) = judge(at_most(100.0), &Measured::new(98.0, 1.0), guard).unwrap();
    assert_eq!((found, conformity.guard_band, conformity.accept), (Finding::Pass, 2.0, [None, Some(98.0)]));
    assert_eq!(((1.0 - conformity.probability) * 1e3).round(), 23.0);
}

/// Clause 8.3.3, example of a speed limit: at 100 km/h, with 2 % of the reading as standard uncertainty, a driver is
/// charged from 107 km/h on if 99.9 % certainty is wanted: guarded rejection.
#[test]
fn a_speed_is_rejected_from_107_on() {
    let guard = Guard::for_risk(0.001);
    let found = |speed: f64| judge(at_most(100.0), &Measured::new(speed, 0.02 * speed), guard).unwrap().0;
    assert_eq!(found(106.0), Finding::Inconclusive);
    assert_eq!(found(107.0), Finding::Fail);
}

/// Clause 7.2.2 lets a conformance probability follow from any distribution; an uncertainty of few readings is a t
/// distribution (JCGM 100, annex G). Factors: table G.2, 95 % two-sided is 2.5 % on one side; probabilities: statrs.
#[test]
fn few_readings_widen_the_guard_band_as_the_t_distribution_asks() {
    use statrs::distribution::StudentsT;
    let guard = Guard::for_risk(0.025);
    for (degrees, factor) in [(2.0, 4.30), (5.0, 2.57), (10.0, 2.23), (50.0, 2.01)] {
        let measured = Measured { degrees_of_freedom: Some(degrees), ..Measured::new(0.83, 0.01) };
        let (_, zones) = judge(at_least(0.8), &measured, guard).unwrap();
        assert!((zones.coverage_factor - factor).abs() < 0.006, "{degrees}: {}", zones.coverage_factor);
        let t = StudentsT::new(0.83, 0.01, degrees).unwrap();
        approx::assert_relative_eq!(zones.probability, 1.0 - t.cdf(0.8), epsilon = 1e-9);
        let at_bound = Measured { value: zones.accept[0].unwrap(), ..measured };
        approx::assert_relative_eq!(1.0 - at_bound.probability_within(at_least(0.8)), 0.025, epsilon = 1e-9);
    }
    // Three standard uncertainties inside pass with a known uncertainty and not with three readings.
    let few = Measured { degrees_of_freedom: Some(2.0), ..Measured::new(0.83, 0.01) };
    assert_eq!(judge(at_least(0.8), &few, guard).unwrap().0, Finding::Inconclusive);
    assert_eq!(judge(at_least(0.8), &Measured::new(0.83, 0.01), guard).unwrap().0, Finding::Pass);
}

#[test]
fn at_the_bounds_the_risk_is_the_stated_one() {
    for risk in [0.2, 0.05, 0.01, 0.001] {
        let guard = Guard::for_risk(risk);
        let (_, zones) = judge(at_least(0.8), &Measured::new(0.81, 0.006), guard).unwrap();
        let accepted = Measured::new(zones.accept[0].unwrap(), 0.006);
        approx::assert_relative_eq!(1.0 - accepted.probability_within(at_least(0.8)), risk, epsilon = 1e-12);
        let rejected = Measured::new(zones.reject[0].unwrap(), 0.006);
        approx::assert_relative_eq!(rejected.probability_within(at_least(0.8)), risk, epsilon = 1e-12);
    }
}

#[test]
fn a_lopsided_interval_counts_on_its_own_side_only() {
    // 30 to 90 %, most likely 40 %: the long side reaches up.
    let measured = Measured { interval: Some([0.3, 0.9]), ..Measured::new(0.4, 0.05) };
    approx::assert_relative_eq!(
        measured.probability_within(at_most(0.9)),
        normal(0.0, 1.0).cdf(2.0),
        epsilon = 1e-9
    );
    approx::assert_relative_eq!(
        measured.probability_within(at_least(0.3)),
        normal(0.0, 1.0).cdf(2.0),
        epsilon = 1e-9
    );
    // Its interval holds 95 %, so 2.3 % lie beyond either end; for a risk of 5 % the guard is narrower, for 0.1 % wider.
    let found = |limit, risk| judge(limit, &measured, Guard::for_risk(risk)).unwrap().0;
    assert_eq!(found(at_least(0.29), 0.05), Finding::Pass);
    assert_eq!(found(at_most(0.8), 0.05), Finding::Inconclusive);
    assert_eq!(found(at_most(0.91), 0.05), Finding::Pass);
    assert_eq!(found(at_most(0.91), 0.001), Finding::Inconclusive);
    assert_eq!(found(at_most(1.18), 0.001), Finding::Pass);
}

/// The true values of many cells, measured with noise: of what passed, no more than the stated risk may lie beyond the
/// limit, when all true values are equally likely before (the rule's own assumption).
#[test]
fn of_what_passes_no_more_than_the_stated_risk_is_beyond_the_limit() {
    let (risk, deviation) = (0.05, 0.01);
    let guard = Guard::for_risk(risk);
    let noise = normal(0.0, deviation);
    let (mut passed_wrong, mut wrong_at_the_worst) = (0.0, 0.0_f64);
    let steps = 2_000;
    for step in 0..steps {
        // The measured value runs over the neighbourhood of the limit; the truth given it is normal around it.
        let value = 0.75 + 0.1 * f64::from(step) / f64::from(steps);
        if let Some((Finding::Pass, _)) = judge(at_least(0.8), &Measured::new(value, deviation), guard) {
            let beyond = noise.cdf(0.8 - value);
            passed_wrong += beyond;
            wrong_at_the_worst = wrong_at_the_worst.max(beyond);
        }
    }
    assert!(passed_wrong > 0.0, "the neighbourhood of the limit was tried");
    assert!(wrong_at_the_worst <= risk + 1e-9, "{wrong_at_the_worst}");
}

fn any_limit() -> impl Strategy<Value = Limit> {
    prop_oneof![
        (-5.0..5.0f64, 0.0..1.0f64).prop_map(|(limit, zone)| Limit::AtMost { limit, doubtful: limit - zone }),
        (-5.0..5.0f64, 0.0..1.0f64)
            .prop_map(|(limit, zone)| Limit::AtLeast { limit, doubtful: limit + zone }),
        (-5.0..5.0f64, 0.01..5.0f64).prop_map(|(low, width)| Limit::Within { low, high: low + width }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4096))]

    #[test]
    fn more_doubt_never_makes_a_finding_firmer(
        limit in any_limit(), value in -6.0..6.0f64, doubt in 0.0..2.0f64, more in 0.0..2.0f64, risk in 0.0001..0.5f64,
    ) {
        let guard = Guard::for_risk(risk);
        let less = judge(limit, &Measured::new(value, doubt), guard).unwrap().0;
        let wider = judge(limit, &Measured::new(value, doubt + more), guard).unwrap().0;
        prop_assert!(wider == less || wider == Finding::Inconclusive, "{less:?} became {wider:?}");
    }

    #[test]
    fn a_pass_or_a_fail_is_wrong_with_no_more_than_the_stated_risk(
        limit in any_limit(), value in -6.0..6.0f64, doubt in 1e-6..2.0f64, risk in 0.0001..0.4999f64,
    ) {
        let (found, conformity) = judge(limit, &Measured::new(value, doubt), Guard::for_risk(risk)).unwrap();
        prop_assert!((0.0..=1.0).contains(&conformity.probability));
        match found {
            Finding::Pass => prop_assert!(1.0 - conformity.probability <= risk + 1e-9),
            Finding::Fail => prop_assert!(conformity.probability <= risk + 1e-9),
            _ => {}
        }
        let [low, high] = conformity.accept;
        let accepted = low.is_none_or(|low| value >= low) && high.is_none_or(|high| value <= high);
        if found == Finding::Pass { prop_assert!(accepted); }
        let [low, high] = conformity.reject;
        let rejected = low.is_some_and(|low| value < low - 1e-9) || high.is_some_and(|high| value > high + 1e-9);
        if rejected { prop_assert_eq!(found, Finding::Fail); }
    }

    /// The same for lopsided intervals and few degrees of freedom, each side a half of its own distribution. Nothing of the
    /// rule's own arithmetic is used: the tails are those of `statrs`.
    #[test]
    fn the_stated_risk_is_kept_for_lopsided_intervals_and_few_degrees_of_freedom(
        limit in any_limit(), value in -6.0..6.0f64, doubt in 1e-3..1.0f64, sides in [0.1..8.0f64, 0.1..8.0f64],
        degrees in proptest::option::of(1.0..40.0f64), risk in 0.0001..0.4999f64,
    ) {
        use statrs::distribution::StudentsT;
        // 95.45 % to both sides: two standard deviations, or what Student's t has in their place.
        let of_t = |degrees: f64| StudentsT::new(0.0, 1.0, degrees).unwrap();
        let two = degrees.map_or(2.0, |degrees| of_t(degrees).inverse_cdf(0.5 + 0.9545 / 2.0));
        let [low, high] = sides.map(|side| side * doubt * two);
        let measured = Measured {
            interval: Some([value - low, value + high]), degrees_of_freedom: degrees, ..Measured::new(value, doubt)
        };
        let tail = |distance: f64, side: f64| {
            let z = -distance / (doubt * side.max(1.0));
            degrees.map_or_else(|| normal(0.0, 1.0).cdf(z), |degrees| of_t(degrees).cdf(z))
        };
        let above = |bound: f64| if bound >= value { tail(bound - value, sides[1]) } else { 1.0 - tail(value - bound, sides[0]) };
        let (keeps, clear) = match limit {
            Limit::AtMost { limit, doubtful } => (1.0 - above(limit), 1.0 - above(doubtful)),
            Limit::AtLeast { limit, doubtful } => (above(limit), above(doubtful)),
            Limit::Within { low, high } => (above(low) - above(high), above(low) - above(high)),
        };
        let (found, conformity) = judge(limit, &measured, Guard::for_risk(risk)).unwrap();
        prop_assert!((conformity.probability - keeps.max(0.0)).abs() < 1e-6);
        match found {
            Finding::Pass => prop_assert!(keeps >= 1.0 - risk - 1e-6 && clear >= 1.0 - risk - 1e-6, "{keeps} {clear}"),
            Finding::Fail => prop_assert!(keeps <= risk + 1e-6, "{keeps}"),
            _ => {}
        }
    }

    #[test]
    fn a_smaller_stated_risk_never_lets_more_pass(
        limit in any_limit(), value in -6.0..6.0f64, doubt in 0.0..2.0f64, risk in 0.001..0.5f64, share in 0.1..1.0f64,
    ) {
        let found = |risk| judge(limit, &Measured::new(value, doubt), Guard::for_risk(risk)).unwrap().0;
        if found(risk * share) == Finding::Pass { prop_assert_eq!(found(risk), Finding::Pass); }
    }
}
