//! Every way in which a step ends, on the emulated fixture: its time, its floor, each bound, a stop.

use crate::host::{Host, hold, plan, rest, step};
use crate::machine::Machine;
use celltriage_protocol::event::{Event, Outcome, StepEnd};
use celltriage_protocol::plan::{Action, Bounds, Step};
use celltriage_protocol::reply::{Activity, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::Options;

const PERIOD: Micros = Micros::from_millis(10);

fn machine() -> Machine {
    Machine::with_cell(&library::sound(), &Options { initial_soc: 0.5, ..Options::default() })
}

fn bounded(change: impl Fn(&mut Bounds)) -> Step {
    let mut step = hold(600, 5, PERIOD);
    change(&mut step.bounds);
    step
}

/// Returns how the last step of a plan ended, and the plan.
fn ends(host: &mut Host, steps: &[Step]) -> (StepEnd, Outcome) {
    host.events.clear();
    host.start(&plan(steps));
    let outcome = host.finish();
    (last_end(host), outcome)
}

fn last_end(host: &Host) -> StepEnd {
    let mut ends = host.events.values().filter_map(|event| match event {
        Event::StepEnded { cause, .. } => Some(*cause),
        _ => None,
    });
    ends.next_back().expect("a step has ended")
}

#[test]
fn a_step_ends_by_time_floor_or_bound() {
    let machine = machine();
    let mut host = Host::new(&machine);
    let never_so_high = MicroVolts::from_millivolts(4_400);
    let current = MicroAmps::from_milliamps(600);
    let discharge = step(Action::Discharge { current, floor: never_so_high }, 60, PERIOD);
    for (last, expected) in [
        (rest(1), (StepEnd::Time, Outcome::Complete)),
        (discharge, (StepEnd::Floor, Outcome::Complete)),
        (bounded(|b| b.lowest_voltage = never_so_high), (StepEnd::BoundVoltage, Outcome::Bounded)),
        (
            bounded(|b| b.highest_temperature = MilliCelsius::new(1_000)),
            (StepEnd::BoundTemperature, Outcome::Bounded),
        ),
        (bounded(|b| b.highest_rise = MilliCelsius::new(-3_000)), (StepEnd::BoundRise, Outcome::Bounded)),
        (
            bounded(|b| b.most_charge = MicroCoulombs::new(1_000_000)),
            (StepEnd::BoundCharge, Outcome::Bounded),
        ),
    ] {
        assert_eq!(ends(&mut host, &[rest(2), hold(300, 1, PERIOD), rest(1), last]), expected);
        assert!(!machine.scene().bench.load_is_on());
    }
}

#[test]
fn a_stop_drops_the_load_before_it_is_answered() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(300, 1, PERIOD), hold(600, 60, PERIOD), rest(1)]));
    host.stay_until("the second load", |events| {
        events.values().any(|event| matches!(event, Event::Samples(block) if block.step == 2))
    });
    assert!(machine.scene().bench.load_is_on());
    assert_eq!(host.ask(&Request::Stop), Reply::Done);
    assert!(!machine.scene().bench.load_is_on());
    assert_eq!((host.finish(), last_end(&host)), (Outcome::Stopped, StepEnd::Stopped));
    match host.ask(&Request::ReadState) {
        Reply::State(state) => assert_eq!((state.activity, state.step), (Activity::Idle, None)),
        other => panic!("{other:?}"),
    }
}

#[test]
fn means_of_several_samples_are_told_in_place_of_each() {
    let machine = machine();
    let mut host = Host::new(&machine);
    // Seven do not go into a hundred: the last mean of the step is one of fewer.
    let averaged = Step { report_every: 7, ..hold(600, 1, PERIOD) };
    assert_eq!(ends(&mut host, &[rest(2), averaged]), (StepEnd::Time, Outcome::Complete));
    let told: Vec<u64> = host
        .events
        .values()
        .filter_map(|event| match event {
            Event::Samples(block) if block.step == 1 => Some(block.samples().map(|s| s.at.get())),
            _ => None,
        })
        .flatten()
        .collect();
    // Under load the first reading may not be there yet; the means are 70 ms apart.
    assert!((14..=15).contains(&told.len()), "{told:?}");
    let whole = told.windows(2).filter(|pair| pair[1] - pair[0] == 70_000).count();
    assert!(whole >= 12, "{told:?}");
}
