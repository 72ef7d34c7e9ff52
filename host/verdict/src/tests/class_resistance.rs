//! The decision rule on an interval that its maker meant for that rule.

use crate::{Guard, Limit, Measured, judge};
use celltriage_measure::estimate::synthetic::{Cell, Instrument, Run};
use celltriage_measure::estimate::{FrontEnd, Quantity, all};
use celltriage_measure::observation::Observations;
use celltriage_measure::test_support::nameplate;

/// Share of a normal distribution beyond two standard deviations on one side, as the coverage factor is defined.
const BEYOND_TWO: f64 = 0.5 * (1.0 - 0.954_499_736_103_641_6);

/// The interval is that of 95.45 % with the few degrees of freedom of the class, which the decision rule takes it for:
/// for that risk on one side its guard band ends where the interval does.
#[test]
fn the_decision_rule_finds_the_interval_that_was_meant() {
    let steps = [(0.0, 60.0), (0.6, 10.0), (3.0, 1.0), (0.0, 30.0)];
    let trace = Run::new(&Cell::default(), &steps).record(&Instrument::default());
    let found = all(&trace, &nameplate(), &Observations::default(), &FrontEnd::fixture());
    let found = found.get(Quantity::ResistanceOverClass).unwrap();
    let [low, high] = found.interval.unwrap();
    assert!(found.degrees_of_freedom.unwrap() < 10.0, "{found:?}");
    approx::assert_relative_eq!(low * high, found.value.powi(2), max_relative = 1e-9);
    let measured = Measured {
        interval: found.interval,
        degrees_of_freedom: found.degrees_of_freedom,
        ..Measured::new(found.value, found.standard_uncertainty)
    };
    let limit = Limit::AtMost { limit: 9.0, doubtful: 9.0 };
    let (_, zones) = judge(limit, &measured, Guard::for_risk(BEYOND_TWO)).unwrap();
    approx::assert_relative_eq!(found.value + zones.guard_band, high, max_relative = 1e-6);
    approx::assert_relative_eq!(zones.interval[1], high, max_relative = 1e-6);
}
