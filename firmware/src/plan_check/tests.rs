//! Plans at and beyond each limit.

use super::*;
use crate::test_plans::{discharge, hold, plan, rest};
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::plan::Plan;
use celltriage_protocol::units::{MicroVolts, MilliCelsius};

fn cause(plan: &Plan) -> Option<(RejectCause, i64, i64)> {
    cause_of(plan, CellLabel::default())
}

fn cause_of(plan: &Plan, label: CellLabel) -> Option<(RejectCause, i64, i64)> {
    let plan = CellPlan { label, plan: plan.clone() };
    check(&plan, limits::LARGEST_PULSE).err().map(|reject| (reject.cause, reject.asked, reject.limit))
}

fn label(chemistry: Chemistry, end_mv: i32) -> CellLabel {
    CellLabel { chemistry, end_of_discharge: Some(MicroVolts::from_millivolts(end_mv)) }
}

fn with(step: Step, change: impl Fn(&mut Step)) -> Plan {
    let mut step = step;
    change(&mut step);
    plan(&[step])
}

#[test]
fn a_sensible_plan_passes() {
    let steps =
        [rest(5_000, 100), hold(456, 10_000, 10), hold(2_280, 1_000, 1), rest(60_000, 1_000), discharge(600)];
    assert_eq!(cause(&plan(&steps)), None);
}

#[test]
fn each_figure_outside_its_limit_is_refused_with_both_figures() {
    use RejectCause::*;
    let us = |millis: u64| Micros::from_millis(millis);
    let cases = [
        (plan(&[]), (EmptyPlan, 0, 1)),
        (with(hold(500, 10, 1), |s| s.sample_period_us = 999), (SamplePeriod, 999, 1_000)),
        (with(hold(500, 900, 1), |s| s.sample_period_us = 100_001), (SamplePeriod, 100_001, 100_000)),
        (with(rest(9_000, 1), |s| s.sample_period_us = 1_000_001), (SamplePeriod, 1_000_001, 1_000_000)),
        (with(rest(10, 1), |s| s.duration = Micros::ZERO), (Duration, 0, 1_000)),
        (with(rest(10, 10), |s| s.duration = us(9)), (Duration, 9_000, 10_000)),
        (
            with(rest(10, 10), |s| s.duration = Micros::from_secs(43_201)),
            (Duration, 43_201_000_000, 43_200_000_000),
        ),
        (with(rest(1_000, 100), |s| s.report_every = 0), (ReportEvery, 0, 1)),
        (with(rest(1_000, 100), |s| s.report_every = 11), (ReportEvery, 11, 10)),
        (plan(&[hold(0, 10, 1)]), (Current, 0, 15_000)),
        (plan(&[hold(-500, 10, 1)]), (Current, -500_000, 15_000)),
        (plan(&[hold(5_001, 10, 1)]), (Current, 5_001_000, 5_000_000)),
        (plan(&[hold(1_501, 2_001, 1)]), (Current, 1_501_000, 1_500_000)),
        (plan(&[discharge(1_501)]), (Current, 1_501_000, 1_500_000)),
        (
            with(hold(500, 10, 1), |s| s.bounds.lowest_voltage = MicroVolts::new(2_599_999)),
            (LowestVoltage, 2_599_999, 2_600_000),
        ),
        (
            with(hold(500, 10, 1), |s| s.bounds.highest_temperature = MilliCelsius::new(45_001)),
            (Temperature, 45_001, 45_000),
        ),
        (
            with(rest(10, 1), |s| s.bounds.highest_rise = MilliCelsius::new(8_001)),
            (Temperature, 8_001, 8_000),
        ),
    ];
    for (plan, expected) in cases {
        assert_eq!(cause(&plan), Some(expected));
    }
}

#[test]
fn a_floor_below_the_plans_limit_is_refused() {
    let mut step = discharge(500);
    step.action =
        Action::Discharge { current: MicroAmps::from_milliamps(500), floor: MicroVolts::new(2_000_000) };
    assert_eq!(cause(&plan(&[step])), Some((RejectCause::LowestVoltage, 2_000_000, 2_600_000)));
}

/// A discharge with 0.5 A to so many millivolts, bounded there, of a cell with this charge limit.
fn down_to(floor_mv: i32, charge_limit_mv: i32) -> Plan {
    let floor = MicroVolts::from_millivolts(floor_mv);
    let mut step = discharge(500);
    step.action = Action::Discharge { current: MicroAmps::from_milliamps(500), floor };
    step.bounds.lowest_voltage = floor;
    let mut plan = plan(&[step]);
    plan.charge_limit = MicroVolts::from_millivolts(charge_limit_mv);
    plan
}

#[test]
fn a_plan_may_go_as_low_as_its_label_and_no_lower() {
    use Chemistry::{Lfp, Nmc, Unknown};
    for (chemistry, end_mv, limit_mv, lowest_mv) in [
        (Lfp, 2_000, 3_650, 2_000),
        (Lfp, 2_500, 3_600, 2_500),
        (Lfp, 3_000, 3_650, 2_600),
        (Nmc, 2_500, 4_200, 2_500),
        (Nmc, 2_750, 4_200, 2_600),
        (Unknown, 2_500, 4_200, 2_600),
    ] {
        let label = label(chemistry, end_mv);
        assert_eq!(cause_of(&down_to(lowest_mv, limit_mv), label), None, "{label:?}");
        let (asked, limit) = (i64::from(lowest_mv) * 1_000 - 1_000, i64::from(lowest_mv) * 1_000);
        let refused = Some((RejectCause::LowestVoltage, asked, limit));
        assert_eq!(cause_of(&down_to(lowest_mv - 1, limit_mv), label), refused, "{label:?}");
    }
}

#[test]
fn a_pulse_is_bounded_by_the_strictest_floor_whatever_the_label() {
    let label = label(Chemistry::Lfp, 2_000);
    let bounded = |milliamps, lowest_mv| {
        let mut plan = with(hold(milliamps, 1_000, 1), |step| {
            step.bounds.lowest_voltage = MicroVolts::from_millivolts(lowest_mv);
        });
        plan.charge_limit = MicroVolts::from_millivolts(3_650);
        cause_of(&plan, label)
    };
    assert_eq!(bounded(1_500, 2_000), None);
    assert_eq!(bounded(1_501, 2_599), Some((RejectCause::LowestVoltage, 2_599_000, 2_600_000)));
    assert_eq!(bounded(1_501, 2_600), None);
}

#[test]
fn a_label_that_contradicts_itself_is_refused_with_both_figures() {
    use Chemistry::{Lco, Lfp, Lmo, Nca, Nmc, Unknown};
    use RejectCause::{ChargeLimit, EndOfDischarge};
    let cause = |chemistry, end_mv, limit_mv: i32| {
        let mut plan = plan(&[rest(10, 1)]);
        plan.charge_limit = MicroVolts::from_millivolts(limit_mv);
        cause_of(&plan, label(chemistry, end_mv))
    };
    assert_eq!(cause(Lfp, 2_000, 3_700), None);
    assert_eq!(cause(Lfp, 2_000, 3_701), Some((ChargeLimit, 3_701_000, 3_700_000)));
    assert_eq!(cause(Lfp, 2_000, 4_200), Some((ChargeLimit, 4_200_000, 3_700_000)));
    assert_eq!(cause(Lfp, 1_999, 3_650), Some((EndOfDischarge, 1_999_000, 2_000_000)));
    assert_eq!(cause(Lfp, 3_650, 3_650), Some((EndOfDischarge, 3_650_000, 3_650_000)));
    for chemistry in [Lco, Nmc, Nca, Lmo] {
        assert_eq!(cause(chemistry, 2_500, 4_200), None);
        assert_eq!(cause(chemistry, 2_499, 4_200), Some((EndOfDischarge, 2_499_000, 2_500_000)));
    }
    assert_eq!(cause(Unknown, 2_000, 4_200), None, "the strictest floors hold");
    for (end_mv, limit) in [(0, 1), (-1, 1), (4_200, 4_200_000), (4_201, 4_200_000)] {
        let refused = Some((EndOfDischarge, i64::from(end_mv) * 1_000, limit));
        assert_eq!(cause(Unknown, end_mv, 4_200), refused);
    }
}

#[test]
fn a_charge_limit_that_no_lithium_ion_cell_has_is_refused() {
    for (asked, limit) in [(0, 3_500_000), (3_499_999, 3_500_000), (4_550_001, 4_550_000)] {
        let mut plan = plan(&[rest(10, 1)]);
        plan.charge_limit = MicroVolts::new(asked);
        assert_eq!(cause(&plan), Some((RejectCause::ChargeLimit, i64::from(asked), limit)));
    }
}

#[test]
fn a_watched_cell_gets_rest_but_no_load() {
    let mut watched = plan(&[rest(10, 1)]);
    watched.permit = Permit::WatchOnly;
    assert_eq!(cause(&watched), None);
    let mut loaded = plan(&[rest(10, 1), hold(500, 10, 1)]);
    loaded.permit = Permit::WatchOnly;
    assert_eq!(cause(&loaded), Some((RejectCause::WatchOnly, 500_000, 0)));
}

#[test]
fn a_pulse_is_no_larger_than_the_adapter_bears() {
    let cause = |milliamps, adapter: Adapter| {
        let plan = CellPlan::from(&plan(&[hold(milliamps, 1_000, 1)]));
        check(&plan, adapter.largest_pulse()).err().map(|reject| (reject.cause, reject.asked, reject.limit))
    };
    let fitted = Adapter { id: 7, ..Adapter::NONE };
    assert_eq!(cause(3_000, fitted), None);
    assert_eq!(cause(3_001, fitted), Some((RejectCause::Current, 3_001_000, 3_000_000)));
    assert_eq!(cause(5_000, Adapter::NONE), None);
}

#[test]
fn pulses_that_follow_each_other_count_as_one() {
    let two = plan(&[hold(5_000, 1_500, 1), hold(4_000, 501, 1)]);
    assert_eq!(cause(&two), Some((RejectCause::Current, 4_000_000, 1_500_000)));
    assert_eq!(cause(&plan(&[hold(5_000, 1_500, 1), rest(20, 1), hold(4_000, 501, 1)])), None);
}

#[test]
fn a_rest_too_short_to_judge_the_contact_is_refused() {
    let short = plan(&[hold(500, 10, 1), rest(11, 1), hold(500, 10, 1)]);
    assert_eq!(cause(&short), Some((RejectCause::Duration, 11_000, 12_000)));
    assert_eq!(cause(&plan(&[hold(500, 10, 1), rest(6, 1), rest(6, 1), hold(500, 10, 1)])), None);
}
