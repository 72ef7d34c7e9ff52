//! A load whose owner is gone while another program talks to the fixture, and a plan that has run.

use crate::host::{Host, hold, plan, rest};
use crate::machine::Machine;
use celltriage_protocol::event::{Event, Outcome, Trip, TripCause};
use celltriage_protocol::limits;
use celltriage_protocol::reply::{RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::Options;
use std::time::{Duration, Instant};

const PERIOD: Micros = Micros::from_millis(10);

fn machine() -> Machine {
    Machine::with_cell(&library::sound(), &Options { initial_soc: 0.5, ..Options::default() })
}

fn trip(host: &Host) -> Option<Trip> {
    host.events.values().find_map(|event| if let Event::Tripped(trip) = event { Some(*trip) } else { None })
}

#[test]
fn whoever_only_asks_keeps_no_load_on_when_its_owner_is_gone() {
    let machine = machine();
    // Small steps of the fixture's time, so that many questions come in the three seconds.
    machine.scene().pace.lead = Duration::from_millis(100);
    let mut owner = Host::new(&machine);
    owner.start(&plan(&[rest(2), hold(3_000, 2, PERIOD), hold(1_500, 600, PERIOD)]));
    owner.stay_until("the pulse", |events| {
        events.values().any(|event| matches!(event, Event::Samples(block) if block.step == 1))
    });
    // Killed. What it said last was heard before now.
    let mut other = owner.come_back(&machine);
    let left_ns = machine.scene().now_ns;
    assert!(machine.scene().bench.load_is_on());
    let begun = Instant::now();
    let mut asked = 0;
    while machine.scene().bench.load_is_on() {
        let gone_ns = machine.scene().now_ns.saturating_sub(left_ns);
        assert!(gone_ns < 3_100_000_000, "the load is still on after {asked} questions");
        assert!(begun.elapsed() < crate::machine::PATIENCE);
        let newest = other.events.keys().next_back().copied().unwrap_or(0);
        let questions = [Request::Identify, Request::ReadState, Request::ResendFrom { sequence: newest }];
        other.send(&[0, 9, 9, 9, 0]);
        let number = other.say(&questions[asked % questions.len()]);
        other.reply_to(number);
        asked += 1;
    }
    let fell_ns = machine.scene().fell_ns().expect("the load was on");
    println!(
        "{asked} questions; the load fell {} ms after its owner was gone",
        (fell_ns - left_ns) / 1_000_000
    );
    assert!(asked >= 10, "{asked} questions");
    assert!(fell_ns - left_ns <= 3_100_000_000);
    assert_eq!(other.finish(), Outcome::Tripped);
    let trip = trip(&other).expect("a trip is told");
    assert_eq!((trip.cause, trip.limit), (TripCause::HostSilent, limits::HOST_SILENCE.get() as i64));
}

#[test]
fn a_plan_that_has_run_loads_no_other_cell() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 1, PERIOD)]));
    assert_eq!(host.finish(), Outcome::Complete);
    machine.scene().bench.swap_cell(Some((library::faded().parameters, 0.9)));
    let rises = machine.scene().pin.len();
    match host.ask(&Request::Start { plan: 1 }) {
        Reply::Rejected(reject) => assert_eq!((reject.cause, reject.limit), (RejectCause::WrongPlan, 0)),
        other => panic!("{other:?}"),
    }
    assert_eq!(machine.scene().pin.len(), rises, "the load was not on again");
}
