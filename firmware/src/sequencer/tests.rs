//! The course of a plan: when samples are due, how steps end, however late the calls come.

extern crate std;
use super::*;
use crate::test_plans::{WIDE, discharge, hold, plan, rest};
use proptest::prelude::*;
use std::vec::Vec;

fn running(steps: &[Step]) -> Sequencer {
    let mut sequencer = Sequencer::default();
    sequencer.load(&CellPlan::from(&plan(steps)), Micros::ZERO);
    sequencer.start(1, Micros::ZERO).unwrap();
    sequencer.enter(0, Micros::ZERO);
    sequencer
}

#[test]
fn only_the_loaded_plan_can_be_started() {
    let mut sequencer = Sequencer::default();
    let none = sequencer.start(0, Micros::ZERO).unwrap_err();
    assert_eq!((none.cause, none.asked, none.limit), (RejectCause::WrongPlan, 0, 0));
    sequencer.load(&CellPlan::from(&plan(&[rest(10, 1)])), Micros::ZERO);
    let other = sequencer.start(7, Micros::ZERO).unwrap_err();
    assert_eq!((other.cause, other.asked, other.limit), (RejectCause::WrongPlan, 7, 1));
    assert_eq!(sequencer.start(1, Micros::new(3)), Ok(()));
    assert_eq!(sequencer.waiting_since(), Some(Micros::new(3)));
    assert_eq!(sequencer.next_sample(), None);
}

#[test]
fn samples_come_after_the_start_and_at_the_end_even_off_the_grid() {
    let mut step = rest(10, 1);
    step.duration = Micros::new(2_500);
    let mut sequencer = running(&[step]);
    let mut times = Vec::new();
    while let Some(due) = sequencer.next_sample() {
        let at = sequencer.take_sample(due).unwrap();
        times.push(at.get());
        if sequencer.judge(at, &Facts::default()).is_some() {
            break;
        }
    }
    assert_eq!(times, [1_000, 2_000, 2_500]);
}

#[test]
fn a_floor_goes_on_to_the_next_step_and_a_bound_ends_the_plan() {
    let sequencer = running(&[discharge(500), rest(10, 1)]);
    let mut facts = Facts { voltage: Some(MicroVolts::new(3_000_001)), ..Facts::default() };
    assert_eq!(sequencer.judge(Micros::new(1), &facts), None);
    facts.voltage = Some(MicroVolts::new(3_000_000));
    let turn = sequencer.judge(Micros::new(1), &facts).unwrap();
    assert_eq!((turn.cause, turn.next), (StepEnd::Floor, Next::Step(1)));

    let sequencer = running(&[hold(500, 10, 1), rest(10, 1)]);
    for (facts, cause) in [
        (Facts { voltage: Some(WIDE.lowest_voltage), ..Facts::default() }, StepEnd::BoundVoltage),
        (Facts { cell: Some(WIDE.highest_temperature), ..Facts::default() }, StepEnd::BoundTemperature),
        (Facts { rise: Some(WIDE.highest_rise), ..Facts::default() }, StepEnd::BoundRise),
        (Facts { charge: Some(WIDE.most_charge), ..Facts::default() }, StepEnd::BoundCharge),
    ] {
        let turn = sequencer.judge(Micros::new(1), &facts).unwrap();
        assert_eq!((turn.cause, turn.next), (cause, Next::Over(Outcome::Bounded)));
    }
}

#[test]
fn a_plan_that_is_over_leaves_nothing_but_its_number() {
    let endings: [fn(&mut Sequencer); 2] =
        [|sequencer| sequencer.stop(), |sequencer| sequencer.enter(1, Micros::from_millis(10))];
    for end in endings {
        let mut sequencer = running(&[hold(500, 10, 1)]);
        end(&mut sequencer);
        assert!(!sequencer.is_active());
        let left = Plan { number: 1, ..Plan::default() };
        assert_eq!(*sequencer.plan(), left);
        assert_eq!(left.permit, Permit::WatchOnly);
        let again = sequencer.start(1, Micros::from_millis(10)).unwrap_err();
        assert_eq!((again.cause, again.asked, again.limit), (RejectCause::WrongPlan, 1, 0));
    }
}

#[test]
fn a_loaded_plan_is_kept_for_its_time_and_no_longer() {
    let loaded = Micros::from_secs(100);
    for (late, taken) in [(0, true), (1, false)] {
        let mut sequencer = Sequencer::default();
        sequencer.load(&CellPlan::from(&plan(&[rest(10, 1)])), loaded);
        let now = loaded.saturating_add(limits::PLAN_KEPT).saturating_add(Micros::new(late));
        assert_eq!(sequencer.start(1, now).is_ok(), taken, "{late}");
        // It does not come back.
        assert_eq!(sequencer.start(1, loaded).is_ok(), taken, "{late}");
    }
}

#[test]
fn the_last_step_ends_the_plan() {
    let sequencer = running(&[rest(10, 1)]);
    let turn = sequencer.judge(Micros::from_millis(10), &Facts::default()).unwrap();
    assert_eq!(turn, Turn { step: 0, cause: StepEnd::Time, next: Next::Over(Outcome::Complete) });
}

proptest! {
    #[test]
    fn however_late_the_calls_samples_are_in_order_in_the_step_and_at_its_end(
        period in 1_000..100_000u32,
        periods in 1..50u64,
        odd in 0..1_000u64,
        lateness in proptest::collection::vec(0..300_000u64, 60),
    ) {
        let mut step = rest(10, 1);
        step.sample_period_us = period;
        step.duration = Micros::new(u64::from(period) * periods + odd);
        let mut sequencer = running(&[step]);
        let mut last = Micros::ZERO;
        let mut ended = false;
        for late in lateness {
            let due = sequencer.next_sample().unwrap();
            prop_assert!(due > last);
            prop_assert_eq!(sequencer.take_sample(due.saturating_sub(Micros::new(1))), None);
            let now = due.saturating_add(Micros::new(late));
            let at = sequencer.take_sample(now).unwrap();
            prop_assert!(at > last && at <= now);
            prop_assert!(at == now || now.saturating_sub(at) <= LATEST);
            last = at;
            if sequencer.judge(at, &Facts::default()).is_some() {
                prop_assert!(at >= step.duration);
                ended = true;
                break;
            }
            prop_assert!(sequencer.next_sample().unwrap() > at);
        }
        prop_assert!(ended);
    }
}
