//! What the fixture remembers over resets and power failures: the number of its start, why it started, the last failure of the
//! program, the last trip, which stays latched until a person acknowledges it; and what that costs the flash.

use crate::host::{Host, hold, plan, rest};
use crate::machine::Machine;
use crate::words::flag;
use celltriage_protocol::description::{Description, ResetCause};
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::reply::{Activity, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::Fault;
use celltriage_simulated_board::library;

const PERIOD: Micros = Micros::from_millis(10);

fn described(machine: &Machine) -> Description {
    match Host::new(machine).ask(&Request::Describe) {
        Reply::Description(description) => description,
        other => panic!("{other:?}"),
    }
}

/// Lets something end the program; returns what the next start says.
fn after(machine: &Machine, wish: u8) -> Description {
    let starts = machine.scene().starts.len();
    machine.scene().wishes = wish;
    machine.wait_for("the program's restart", |scene| scene.starts.len() > starts);
    described(machine)
}

#[test]
fn starts_are_numbered_and_told_apart_over_resets_and_power_failures() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(3));
    let first = described(&machine);
    assert_eq!((first.reset, first.panic.clone(), first.trip), (Some(ResetCause::PowerOn), None, None));
    let flash = machine.scene().flash.clone();
    let bitten = after(&machine, flag::MUTE);
    assert_eq!((bitten.reset, bitten.boot), (Some(ResetCause::Watchdog), first.boot + 1));
    assert!(machine.scene().flash == flash, "a reset writes nothing");
    let panicked = after(&machine, flag::PANIC);
    assert_eq!((panicked.reset, panicked.boot), (Some(ResetCause::Panic), first.boot + 2));
    let panic = panicked.panic.expect("a panic is told");
    assert_eq!(panic.boot, first.boot + 1);
    println!("panic at {}", panic.place);
    // At least one of the addresses is code of the program.
    assert!(panic.place.split(' ').any(|address| address.starts_with("1000")), "{}", panic.place);
    let overflowed = after(&machine, flag::OVERFLOW);
    assert_eq!((overflowed.reset, overflowed.boot), (Some(ResetCause::Panic), first.boot + 3));
    let machine = Machine::power_up(machine.unplug());
    let again = described(&machine);
    assert_eq!(again.reset, Some(ResetCause::PowerOn));
    assert!(again.boot > overflowed.boot, "{} {}", again.boot, overflowed.boot);
    assert_eq!(again.panic.map(|past| past.boot), Some(first.boot + 2), "it outlives the power");
}

#[test]
fn a_trip_stays_latched_over_a_reset_and_a_power_failure_until_it_is_acknowledged() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(3));
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 60, PERIOD)]));
    host.stay_until("a sample under load", |events| {
        events.values().any(|event| matches!(event, Event::Samples(block) if block.step == 1))
    });
    let now = Micros::new(machine.scene().now_ns / 1_000);
    machine.scene().bench.inject(Fault::OpenForceLead.at(now));
    assert_eq!(host.finish(), Outcome::Tripped);
    drop(host);
    let tripped = described(&machine);
    after(&machine, flag::MUTE);
    let machine = Machine::power_up(machine.unplug());
    let past = described(&machine).trip.expect("the trip is told");
    assert_eq!((past.boot, past.trip.cause), (tripped.boot, TripCause::ContactLost));
    let mut host = Host::new(&machine);
    match host.ask(&Request::ReadState) {
        Reply::State(state) => {
            assert_eq!(
                (state.activity, state.trip, state.load_on),
                (Activity::Tripped, Some(past.trip), false)
            );
        }
        other => panic!("{other:?}"),
    }
    let loaded = host.ask(&Request::LoadPlan(plan(&[rest(1)])));
    assert!(matches!(loaded, Reply::Rejected(reject) if reject.cause == RejectCause::Tripped), "{loaded:?}");
    machine.scene().bench.mend();
    host.acknowledge(past.trip.number);
    drop(host);
    let machine = Machine::power_up(machine.unplug());
    assert_eq!(described(&machine).trip, Some(past), "it is told, but not latched");
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 1, PERIOD)]));
    assert_eq!(host.finish(), Outcome::Complete);
}

#[test]
fn a_loop_of_failures_wears_nothing() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(3));
    for _ in 0..8 {
        after(&machine, flag::PANIC);
    }
    let flash = machine.scene().flash.clone();
    let boot = described(&machine).boot;
    for _ in 0..10 {
        assert_eq!(after(&machine, flag::PANIC).reset, Some(ResetCause::Panic));
    }
    assert!(machine.scene().flash == flash, "a few failures after power-up are written, no more");
    assert_eq!(described(&machine).boot, boot + 10);
}
