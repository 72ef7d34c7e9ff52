//! Whose run it is, over links made again and between hosts and fixtures of different age.

use celltriage_link::{Client, Link, LinkError, Owned, read_recording};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::reply::{Identity, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_tests::{BadLine, Collector, Line, MID_HOLD, SharedBench, long_hold, samples};
use std::time::Duration;

/// A run whose link was cut in its load; what was recorded of it, and the run for whoever goes on with it.
fn cut_off(bench: &SharedBench) -> (Owned, Collector) {
    let (mut watch, line) = (Collector::default(), Line { cut_at: Some(MID_HOLD), ..Line::default() });
    let (mut client, ..) = Client::connect(BadLine::to(bench, line, 1)).expect("connects");
    let error = client.run(&long_hold(), &mut watch).expect_err("cut");
    assert!(matches!(error, LinkError::Gone { .. }), "{error:?}");
    assert!(bench.0.borrow().load_is_on());
    (client.left().expect("the run is under way"), watch)
}

fn wait(bench: &SharedBench, millis: u64) {
    let until = bench.0.borrow().now().saturating_add(Micros::from_millis(millis));
    while bench.0.borrow().now() < until {
        let left = until.saturating_sub(bench.0.borrow().now());
        // What is told meanwhile is lost with the link.
        bench.0.borrow_mut().receive(left, &mut Vec::new());
    }
}

#[test]
fn a_host_that_makes_its_link_again_goes_on_with_its_run_and_misses_nothing() {
    let bench = SharedBench::sound(11);
    let (owned, mut watch) = cut_off(&bench);
    wait(&bench, 1_500);
    let (mut client, _, state) = Client::connect(bench.clone()).expect("connects");
    assert!(state.load_on, "nobody has stopped it");
    let end = client.take_over(owned, &mut watch).expect("goes on");
    assert_eq!(end.outcome, Outcome::Complete);
    let numbers: Vec<u32> = read_recording(&watch.frames).events.iter().map(|(number, _)| *number).collect();
    assert!(numbers.windows(2).all(|pair| pair[1] == pair[0] + 1), "{numbers:?}");
    // 2 s and 2 s of rest at 100 ms, 8 s of load at 10 ms.
    assert!(samples(&watch.events).abs_diff(840) <= 20, "{}", samples(&watch.events));
}

#[test]
fn a_host_that_comes_back_too_late_learns_how_its_run_ended_and_one_after_a_restart_that() {
    let bench = SharedBench::sound(11);
    let (owned, mut watch) = cut_off(&bench);
    wait(&bench, 3_500);
    assert!(!bench.0.borrow().load_is_on());
    let (mut client, ..) = Client::connect(bench.clone()).expect("connects");
    let end = client.take_over(owned, &mut watch).expect("its end is told");
    assert_eq!(end.trip.map(|trip| trip.cause), Some(TripCause::HostSilent));

    let bench = SharedBench::sound(11);
    let (owned, mut watch) = cut_off(&bench);
    bench.0.borrow_mut().power_cycle();
    let (mut client, ..) = Client::connect(bench.clone()).expect("connects");
    let error = client.take_over(owned, &mut watch).expect_err("restarted");
    assert!(matches!(error, LinkError::Restarted { .. }), "{error:?}");
}

#[test]
fn another_hosts_run_is_refused_to_whoever_has_no_token_of_it() {
    let bench = SharedBench::sound(11);
    let (owned, mut watch) = cut_off(&bench);
    // The run is stopped by somebody, and another one begun.
    let (mut other, ..) = Client::connect(bench.clone()).expect("connects");
    other.ask(&Request::Stop).expect("obeyed");
    let line = Line { cut_at: Some(MID_HOLD.saturating_add(MID_HOLD)), ..Line::default() };
    let (mut other, ..) = Client::connect(BadLine::to(&bench, line, 2)).expect("connects");
    other.run(&long_hold(), &mut Collector::default()).expect_err("cut");
    let (mut client, ..) = Client::connect(bench.clone()).expect("connects");
    let error = client.take_over(owned, &mut watch).expect_err("not its own");
    assert!(
        matches!(&error, LinkError::Refused { reject, .. } if reject.cause == RejectCause::OtherToken),
        "{error:?}"
    );
    assert!(error.to_string().contains("the run belongs to another program"), "{error}");
}

/// A fixture of wire version 1, as far as its identity says so; what version 2 says to it is counted.
struct OldFixture {
    bench: SharedBench,
    heard_new: u32,
}

impl Link for OldFixture {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut candidate = bytes.strip_suffix(&[0]).unwrap_or(bytes).to_vec();
        if frame::decode(&mut candidate).is_ok() && candidate[0] > 1 {
            self.heard_new += 1;
            assert_eq!(self.heard_new, 0, "version 2 is not said to a fixture of version 1");
        }
        self.bench.send(bytes)
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let mut told = Vec::new();
        self.bench.receive(&mut told, wait)?;
        let mut count = 0;
        for whole in told.split_inclusive(|byte| *byte == 0) {
            let mut candidate = whole[..whole.len() - 1].to_vec();
            let mut out = [0; MAX_ENCODED + 1];
            let bytes = match frame::decode(&mut candidate) {
                Ok(frame::Frame { sequence, message: Message::Reply(Reply::Identity(identity)) }) => {
                    let old = Reply::Identity(Identity { versions: (1, 1), ..identity });
                    frame::encode_reply(sequence, &old, &mut out).expect("it fits")
                }
                _ => whole,
            };
            into.extend(bytes);
            count += bytes.len();
        }
        Ok(count)
    }

    fn draw(&mut self) -> u64 {
        self.bench.draw()
    }

    fn describe(&self) -> String {
        "old fixture".to_owned()
    }
}

#[test]
fn a_new_host_looks_at_an_old_fixture_and_stops_it_and_runs_nothing_on_it() {
    let bench = SharedBench::sound(11);
    let link = OldFixture { bench: bench.clone(), heard_new: 0 };
    let (mut client, identity, _) = Client::connect(link).expect("it can be looked at");
    assert_eq!((identity.versions, client.description()), ((1, 1), None));
    let error = client.run(&long_hold(), &mut Collector::default()).expect_err("refused");
    assert!(matches!(error, LinkError::NoOwnership { theirs: 1, .. }), "{error:?}");
    let text = error.to_string();
    assert!(text.contains("wire version 1") && text.contains("Update the fixture's firmware"), "{text}");
    assert!(client.state().is_ok());
    assert!(matches!(client.ask(&Request::Stop), Ok(Reply::Done)));
    assert!(!bench.0.borrow().load_is_on());
}

/// A host of version 1 reads the version first: what it cannot read under a newer one, it calls newer than itself and
/// says to update it.
#[test]
fn an_old_host_gets_refusals_that_it_can_only_read_as_newer_than_itself() {
    let mut bench = SharedBench::sound(11);
    let plan = long_hold();
    let requests = [
        Request::LoadPlan(plan.clone()),
        Request::Start { plan: plan.number },
        Request::KeepAlive,
        Request::AcknowledgeTrip { trip: 1 },
    ];
    for (sequence, request) in (1..).zip(requests) {
        let mut out = [0; MAX_ENCODED + 1];
        bench.send(frame::encode_request(sequence, &request, &mut out).expect("it fits")).expect("whole");
        let mut told = Vec::new();
        bench.receive(&mut told, Duration::from_millis(50)).expect("whole");
        assert_eq!(told.pop(), Some(0));
        let frame = frame::decode(&mut told).expect("one frame");
        let Message::Reply(Reply::Rejected(reject)) = frame.message else { panic!("{frame:?}") };
        // Marked with version 2, and no cause of version 1, whose last is 17.
        assert_eq!((frame.sequence, told[0]), (sequence, 2));
        assert!(reject.cause as u8 > RejectCause::Unreadable as u8);
    }
    wait(&bench, 5_000);
    assert!(!bench.0.borrow().load_is_on());
}
