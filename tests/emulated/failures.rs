//! The program itself fails: a part that hangs, a panic, a stack that is used up; and a bus that is locked, at which it must
//! not fail. The load goes off, the program starts
//! again, and nothing of it has to be told twice.

use crate::host::{Host, hold, plan, rest};
use crate::log::log_lines;
use crate::machine::Machine;
use crate::player::Scene;
use crate::words::{flag, kind};
use celltriage_protocol::event::{Event, Outcome, Trip, TripCause};
use celltriage_protocol::reply::{Activity, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::{Micros, NoData};
use celltriage_simulated_board::library;

/// The watchdog's time, as the boards have it, and one sample of 10 ms and a pass.
const BITTEN: Micros = Micros::from_millis(100 + 10 + 1);
const AT_ONCE: Micros = Micros::from_millis(10 + 1);
/// A sample, the longest transfer, and as long again for the attempt to free the lines.
const LOCKED: Micros = Micros::from_millis(10 + 1 + 1);

/// Starts a load and lets something happen; returns the bench's time at which it did.
fn begin_load(machine: &Machine, host: &mut Host, cause: impl Fn(&mut Scene)) -> u64 {
    host.start(&plan(&[rest(2), hold(600, 60, Micros::from_millis(10))]));
    let loaded = |events: &std::collections::BTreeMap<u32, Event>| {
        events.values().any(|event| matches!(event, Event::Samples(block) if block.step == 1))
    };
    host.stay_until("a sample under load", loaded);
    let mut scene = machine.scene();
    assert!(scene.bench.load_is_on(), "{:?}", log_lines(&scene.log));
    cause(&mut scene);
    scene.now_ns
}

/// Lets the program fail under load; returns the machine after its restart and the time from the cause to the pin.
fn fail_under_load(cause: impl Fn(&mut Scene)) -> (Machine, Micros) {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(3));
    let began_ns = begin_load(&machine, &mut Host::new(&machine), cause);
    machine.wait_for("the program's restart", |scene| scene.starts.len() == 2);
    let fell_ns = machine.scene().fell_ns().expect("the load has gone off");
    (machine, Micros::new(fell_ns.saturating_sub(began_ns) / 1_000))
}

fn last_trip(host: &Host) -> Trip {
    let trips = host.events.values().rev();
    trips
        .filter_map(|event| if let Event::Tripped(trip) = event { Some(*trip) } else { None })
        .next()
        .expect("a trip")
}

/// Sees that the first thing that each start of the program did was to drive the pin to its safe level.
fn assert_started_safely(machine: &Machine) {
    machine.wait_for("the first acts", |scene| scene.first_acts.iter().all(|acts| acts.len() > 1));
    let scene = machine.scene();
    for acts in &scene.first_acts {
        assert_eq!(acts[..2], [(kind::AWAKE, None), (kind::PIN, Some(0))], "{acts:?}");
    }
}

/// Sees that the program works as after power-up.
fn assert_well(machine: &Machine) {
    assert_started_safely(machine);
    let mut host = Host::new(machine);
    match host.ask(&Request::ReadState) {
        Reply::State(state) => {
            assert_eq!((state.activity, state.load_on, state.trip), (Activity::Idle, false, None))
        }
        other => panic!("{other:?}"),
    }
    host.start(&plan(&[rest(2), hold(600, 1, Micros::from_millis(10)), rest(1)]));
    assert_eq!(host.finish(), Outcome::Complete);
    assert_eq!(machine.scene().starts.len(), 2);
}

#[test]
fn from_power_up_on_the_load_is_off_until_a_plan_wants_it() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(3));
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 1, Micros::from_millis(10)), rest(1)]));
    assert_eq!(host.finish(), Outcome::Complete);
    assert_started_safely(&machine);
    let scene = machine.scene();
    let (driven_ns, first_on) = (scene.driven_ns.expect("it was driven"), scene.pin[0]);
    println!("the pin is driven low {driven_ns} ns after the program can tell the time");
    assert!(driven_ns < 1_000_000, "{driven_ns}");
    // Two seconds of rest come before the load.
    assert!(first_on.1 && first_on.0 > 2_000_000_000, "{first_on:?}");
}

#[test]
fn a_bus_that_is_locked_trips_and_does_not_reset() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(3));
    let mut host = Host::new(&machine);
    let began_ns = begin_load(&machine, &mut host, |scene| scene.bus_is_held = true);
    assert_eq!(host.finish(), Outcome::Tripped);
    let fell_ns = machine.scene().fell_ns().expect("the load has gone off");
    let time = Micros::new(fell_ns.saturating_sub(began_ns) / 1_000);
    println!("locked bus: load off {time} after a line was held");
    assert!(time <= LOCKED, "{time}");
    let locked = (TripCause::MissingReading, NoData::BusLocked as i64);
    let trip = last_trip(&host);
    assert_eq!((trip.cause, trip.limit), locked, "{trip:?}");
    // It goes on, with the load off and without a reset, also through the start with such a bus.
    assert_eq!(machine.scene().starts.len(), 1);
    let logged = log_lines(&machine.scene().log);
    assert!(logged.iter().any(|line| line.contains("bus locked")), "{logged:?}");
    let scene = machine.unplug();
    let machine = Machine::power_up(scene);
    let mut host = Host::new(&machine);
    assert!(matches!(host.ask(&Request::ReadState), Reply::State(state) if !state.load_on));
    machine.scene().bus_is_held = false;
    // Nobody has acknowledged it, so it was latched again.
    host.acknowledge(trip.number);
    host.start(&plan(&[rest(2), hold(600, 1, Micros::from_millis(10)), rest(1)]));
    assert_eq!(host.finish(), Outcome::Complete);
    assert_eq!(machine.scene().starts.len(), 2, "no watchdog has bitten");
    let logged = log_lines(&machine.scene().log);
    assert!(logged.iter().any(|line| line.contains("bus freed")), "{logged:?}");
}

#[test]
fn a_part_that_no_longer_says_that_it_is_alive_starves_the_watchdog() {
    let (machine, time) = fail_under_load(|scene| scene.wishes = flag::MUTE);
    println!("watchdog: load off {time} after a part fell silent");
    assert!(time <= BITTEN, "{time}");
    assert!(machine.scene().failures.is_empty());
    assert_well(&machine);
}

#[test]
fn a_panic_drops_the_load_and_starts_anew() {
    let (machine, time) = fail_under_load(|scene| scene.wishes = flag::PANIC);
    println!("panic: load off {time} after it was asked for");
    assert!(time <= AT_ONCE, "{time}");
    assert_eq!(machine.scene().failures.len(), 1);
    assert_well(&machine);
}

#[test]
fn a_stack_that_is_used_up_drops_the_load_and_starts_anew() {
    let (machine, time) = fail_under_load(|scene| scene.wishes = flag::OVERFLOW);
    println!("stack: load off {time} after it was asked for");
    assert!(time <= AT_ONCE, "{time}");
    assert_eq!(machine.scene().failures.len(), 1);
    assert_well(&machine);
}
