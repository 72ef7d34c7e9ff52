//! A whole run over a real pseudo-terminal: damage on the line, a person who stops, a host that falls silent, a line unplugged.

use celltriage_link::{Client, LinkError, RunEnd, SerialLink};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::run::Token;
use celltriage_tests::{Collector, FarEnd, NOON, Shop, samples, short_plan};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

fn run(port: &str, watch: &mut Collector) -> Result<RunEnd, LinkError> {
    let (mut client, identity, _) = Client::connect(SerialLink::open(port)?)?;
    assert_eq!(identity.board.as_str(), "simulated");
    client.run(&short_plan(1_000), watch)
}

#[test]
fn a_whole_plan_runs_over_a_serial_port() {
    let far = FarEnd::start(None);
    let mut watch = Collector::default();
    let end = run(&far.port, &mut watch).expect("the run ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Complete, trip: None });
    // 3 s at 1 kHz; a millisecond at each change of settings may be reported as missing.
    let count = samples(&watch.events);
    assert!((2_990..=3_060).contains(&count), "{count} samples");
}

#[test]
fn damage_on_the_line_is_mended_by_asking_again() {
    let clean = {
        let far = FarEnd::start(None);
        let mut watch = Collector::default();
        run(&far.port, &mut watch).expect("the clean run ends well");
        samples(&watch.events)
    };
    let far = FarEnd::start(Some(1_777));
    let mut watch = Collector::default();
    let end = run(&far.port, &mut watch).expect("the damaged run ends well");
    assert_eq!(end.outcome, Outcome::Complete);
    assert_eq!(samples(&watch.events), clean, "no sample may be lost to a garbled byte in 1,777");
}

#[test]
fn a_person_who_stops_gets_the_load_off_and_a_stopped_plan() {
    let far = FarEnd::start(None);
    let mut watch = Collector { stop_after: Some(30), ..Collector::default() };
    let end = run(&far.port, &mut watch).expect("the run ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Stopped, trip: None });
    let (mut client, _, state) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    assert!(!state.load_on, "load off after a stop");
    assert!(matches!(client.ask(&Request::Stop), Ok(Reply::Done)));
}

/// The far end waits for a slow host, but not for a dead one.
#[test]
fn a_host_that_falls_silent_in_a_run_is_a_trip() {
    let far = FarEnd::with_patience(None, Duration::from_millis(300));
    let (mut client, _, _) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    let plan = short_plan(100_000);
    let loaded = client.ask(&Request::Load(CellPlan::from(&plan))).expect("loaded");
    let Reply::Loaded { loading, .. } = loaded else { panic!("{loaded:?}") };
    client.ask(&Request::StartRun { plan: plan.number, loading, token: Token(1) }).expect("started");
    drop(client);
    std::thread::sleep(Duration::from_secs(2));
    let (_, _, state) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    assert_eq!(state.trip.map(|trip| trip.cause), Some(TripCause::HostSilent), "{state:?}");
    assert!(!state.load_on);
}

#[test]
fn a_fixture_unplugged_in_the_middle_leaves_a_recorded_unfinished_cell() {
    let shop = Shop::new();
    let far = FarEnd::start(None);
    let quit = Arc::clone(&far.quit);
    let unplug = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(1_500));
        quit.store(true, Ordering::Relaxed);
    });
    let call = shop.call(
        NOON,
        &[
            "assess",
            "--id",
            "PE-9",
            "--port",
            &far.port,
            "--no-signs",
            "--thickness-mm",
            "3.2",
            "--rated-capacity-ah",
            "3.0",
            "--charge-limit-v",
            "4.35",
            "--end-of-discharge-v",
            "3.0",
            "--nominal-thickness-mm",
            "3.2",
            "--extent",
            "full",
        ],
        None,
    );
    unplug.join().expect("unplugged");
    assert_eq!(call.code, 4, "{}\n{}", call.out, call.err);
    let book = shop.open();
    let entry = book.entry(1).expect("readable").expect("there is an entry");
    assert_eq!(entry.fate.as_deref(), Some("quarantine"));
    assert!(book.recordings_of(1).expect("readable")[0].length > 1_000, "what came before is kept");
}
