//! A link that breaks in the middle of a run: back in time, back too late, back as another, back without memory.
//!
//! Over real pseudo-terminals that are hung up and opened again under a name that stays, and in process with a break at
//! every n-th operation of the link.

use celltriage_link::{Client, LinkError, RunEnd, SerialLink, read_recording};
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::plan::Plan;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::{fixture::SimulatedFixture, library};
use celltriage_tests::{Break, BreakingLink, Collector, SharedBench, samples, short_plan};
use serialport::{SerialPort, TTYPort};
use std::io::{ErrorKind, Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

fn plan() -> Plan {
    short_plan(2_000)
}

fn fixture(serial: u64) -> SimulatedFixture {
    let cell = library::sound();
    let options = celltriage_simulated_board::options::Options { serial, ..cell.options(11) };
    SimulatedFixture::new(cell.parameters, options)
}

/// Charge counted at the end, in coulombs.
fn charge(events: &[Event]) -> f64 {
    let last = events.iter().rev().find_map(|event| match event {
        Event::StepEnded { charge: Ok(charge), .. } => Some(charge.get() as f64 / 1e6),
        _ => None,
    });
    last.expect("a step has ended with its charge")
}

/// What happens while nobody is connected.
#[derive(Clone, Copy, PartialEq)]
enum Gap {
    /// The fixture goes on for this long.
    GoesOn(Micros),
    /// Its supply fails.
    Restart,
    /// Somebody plugs in another one.
    Another,
    /// Nothing comes back.
    Forever,
}

/// Runs the plan over a pseudo-terminal that is hung up once, about half way through the hold.
fn run_with(gap: Gap, folder: &Path, watch: &mut Collector) -> Result<RunEnd, LinkError> {
    let name = folder.join("fixture");
    let (mut master, mut slave) = TTYPort::pair().expect("a pseudo-terminal");
    std::os::unix::fs::symlink(slave.name().expect("a name"), &name).expect("a link");
    let quit = Arc::new(AtomicBool::new(false));
    let (ended, link) = (Arc::clone(&quit), name.clone());
    let far = std::thread::spawn(move || {
        let mut fixture = fixture(1);
        let (mut buffer, mut out, mut broken) = ([0u8; 512], Vec::new(), false);
        master.set_timeout(Duration::from_millis(1)).expect("a time-out");
        while !ended.load(Ordering::Relaxed) {
            // Four times real time: a host that a busy computer holds up for a moment is not yet a silent one.
            std::thread::sleep(Duration::from_millis(5));
            match master.read(&mut buffer) {
                Ok(count) => fixture.send(&buffer[..count]),
                Err(error) if error.kind() == ErrorKind::TimedOut => {}
                Err(_) => {}
            }
            out.clear();
            fixture.receive(Micros::from_millis(20), &mut out);
            let _host_may_have_closed = master.write_all(&out);
            let half_way = fixture.truth().is_some_and(|truth| truth.charge_out_c > 0.9);
            if broken || !half_way {
                continue;
            }
            broken = true;
            let (new_master, new_slave) = TTYPort::pair().expect("a pseudo-terminal");
            std::fs::remove_file(&link).expect("the link is there");
            // The old pair is hung up here: the host's next read fails.
            master = new_master;
            drop(std::mem::replace(&mut slave, new_slave));
            master.set_timeout(Duration::from_millis(1)).expect("a time-out");
            match gap {
                Gap::GoesOn(span) => {
                    let mut left = span.get();
                    while left > 0 {
                        out.clear();
                        fixture.receive(Micros::new(left.min(1_000)), &mut out);
                        left = left.saturating_sub(1_000);
                    }
                }
                Gap::Restart => fixture.power_cycle(),
                Gap::Another => fixture = self::fixture(2),
                Gap::Forever => continue,
            }
            std::thread::sleep(Duration::from_millis(200));
            std::os::unix::fs::symlink(slave.name().expect("a name"), &link).expect("a link");
        }
    });
    let result = SerialLink::open(&name.to_string_lossy())
        .and_then(Client::connect)
        .and_then(|(mut client, ..)| client.run(&plan(), watch));
    quit.store(true, Ordering::Relaxed);
    far.join().expect("the far end ends well");
    result
}

#[test]
fn a_link_that_is_back_in_time_costs_no_sample_and_no_charge() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut watch = Collector::default();
    let end =
        run_with(Gap::GoesOn(Micros::from_millis(1_000)), folder.path(), &mut watch).expect("ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Complete, trip: None });
    let mut clean = Collector::default();
    let (mut client, ..) = Client::connect(SharedBench::new(fixture(1))).expect("connects");
    client.run(&plan(), &mut clean).expect("ends well");
    assert_eq!(samples(&watch.events), samples(&clean.events));
    // 0.6 A for 3 s, and the sink's own 0.3 %.
    assert!((charge(&watch.events) - 1.8).abs() < 0.02, "{} C", charge(&watch.events));
    assert!(watch.remarks.iter().any(|text| text.contains("went on by itself")), "{:?}", watch.remarks);
}

#[test]
fn a_link_that_is_back_too_late_still_brings_the_trip_and_the_charge_up_to_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut watch = Collector::default();
    let end = run_with(Gap::GoesOn(Micros::from_secs(4)), folder.path(), &mut watch).expect("ends well");
    // The hold ends by itself within the silence; the watch over the host then trips in the rest.
    assert_eq!(end.outcome, Outcome::Tripped);
    assert_eq!(end.trip.map(|trip| trip.cause), Some(TripCause::HostSilent));
    assert!((charge(&watch.events) - 1.8).abs() < 0.02, "{} C", charge(&watch.events));
}

#[test]
fn a_fixture_that_restarted_is_said_so_and_the_run_is_over() {
    let folder = tempfile::tempdir().expect("a folder");
    let error = run_with(Gap::Restart, folder.path(), &mut Collector::default()).expect_err("restarted");
    assert!(matches!(error, LinkError::Restarted { .. }), "{error:?}");
}

#[test]
fn another_fixture_on_the_same_port_is_not_taken_for_the_first() {
    let folder = tempfile::tempdir().expect("a folder");
    let error = run_with(Gap::Another, folder.path(), &mut Collector::default()).expect_err("another");
    assert!(matches!(error, LinkError::Another { before: 1, found: 2, .. }), "{error:?}");
}

#[test]
fn a_person_who_does_not_want_to_wait_for_a_lost_fixture_need_not() {
    let folder = tempfile::tempdir().expect("a folder");
    // Wants to stop from the remark on: the far end never comes back.
    let mut watch = Collector { stop_at_remark: true, ..Collector::default() };
    let error = run_with(Gap::Forever, folder.path(), &mut watch).expect_err("gone");
    assert!(matches!(error, LinkError::Gone { .. }), "{error:?}");
}

#[test]
fn a_break_at_every_nth_operation_of_the_link_loses_no_event_and_no_charge() {
    let mut clean = Collector::default();
    let (mut client, ..) = Client::connect(SharedBench::new(fixture(1))).expect("connects");
    client.run(&plan(), &mut clean).expect("ends well");
    let wanted = samples(&clean.events);
    let (mut mended, mut refused) = (0, 0);
    for operation in (1..40).chain((40..1_200).step_by(29)) {
        let mut watch = Collector::default();
        let link = BreakingLink::at(SharedBench::new(fixture(1)), operation, Break::OnceLosing(40));
        let run = Client::connect(link).and_then(|(mut client, ..)| client.run(&plan(), &mut watch));
        match run {
            Ok(end) => {
                assert_eq!(end.outcome, Outcome::Complete, "operation {operation}");
                let numbers: Vec<u32> =
                    read_recording(&watch.frames).events.iter().map(|(number, _)| *number).collect();
                assert!(
                    numbers.windows(2).all(|pair| pair[1] == pair[0] + 1),
                    "operation {operation}: {numbers:?}"
                );
                // A break before the first sample moves the plan against the readings of temperature, which cost samples.
                assert!(samples(&watch.events).abs_diff(wanted) <= 20, "operation {operation}");
                assert!((charge(&watch.events) - 1.8).abs() < 0.02, "operation {operation}");
                mended += 1;
            }
            // Before the plan runs there is nothing to mend: the call fails and nothing was loaded.
            Err(LinkError::Gone { .. }) => {
                assert!(watch.events.is_empty(), "operation {operation}");
                refused += 1;
            }
            Err(error) => panic!("operation {operation}: {error:?}"),
        }
    }
    assert!(mended > 40 && refused > 5, "{mended} mended, {refused} refused");
}
