//! How a run ends at a person's wish when its link loses what it says: at once, with the load off.

use celltriage_link::{Client, Ending, Link, LinkError, Reopened, RunEnd};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::frame::Message;
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_tests::{Collector, LosingLink, MID_HOLD, Passing, SharedBench, StopAt, long_hold};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::time::Duration;

/// Runs the short plan with a person who wants to stop in its middle; returns when the load was last seen on, too.
fn stopped(mut is_lost: impl FnMut(&Passing) -> bool) -> (Result<RunEnd, LinkError>, Collector, Micros) {
    let bench = SharedBench::sound(11);
    let (spied, last_on) = (bench.clone(), Rc::new(Cell::new(Micros::ZERO)));
    let seen = Rc::clone(&last_on);
    let link = LosingLink::on(&bench, move |passing| {
        if spied.0.borrow().load_is_on() {
            seen.set(passing.at);
        }
        is_lost(passing)
    });
    let mut watch = StopAt::new(&bench, MID_HOLD);
    let end = Client::connect(link).and_then(|(mut client, ..)| client.run(&long_hold(), &mut watch));
    let now = bench.0.borrow().now();
    assert!(now >= MID_HOLD && now <= MID_HOLD.saturating_add(Micros::from_secs(11)), "ended at {now:?}");
    bench.0.borrow_mut().receive(Micros::from_millis(3_100), &mut Vec::new());
    assert!(!bench.0.borrow().load_is_on(), "the load is still on");
    (end, watch.inner, last_on.get())
}

fn after(passing: &Passing, at: Micros) -> bool {
    passing.at >= at
}

#[test]
fn a_stop_is_heard_whatever_is_lost_and_where_it_is_not_the_silence_drops_the_load() {
    let (end, _, last_on) = stopped(|_| false);
    assert_eq!(end.expect("heard").outcome, Outcome::Stopped);
    assert!(last_on <= MID_HOLD.saturating_add(Micros::from_millis(400)), "{last_on:?}");

    // The first two stops are lost.
    let mut left = 2;
    let (end, ..) = stopped(|passing| {
        let lost = matches!(passing.message, Message::Request(Request::Stop)) && left > 0;
        left -= u32::from(lost);
        lost
    });
    assert_eq!(end.expect("heard at last").outcome, Outcome::Stopped);

    // No stop ever gets through, all else does: there must be no keep-alive to hold the load on.
    let (end, watch, _) = stopped(|passing| matches!(passing.message, Message::Request(Request::Stop)));
    assert_eq!(end.expect("tripped").trip.map(|trip| trip.cause), Some(TripCause::HostSilent));
    assert!(watch.remarks.iter().any(|text| text.contains("stopped by a person")), "{:?}", watch.remarks);

    // No answer comes, but the events do.
    let (end, ..) =
        stopped(|passing| matches!(passing.message, Message::Reply(_)) && after(passing, MID_HOLD));
    assert_eq!(end.expect("told by its event").outcome, Outcome::Stopped);

    // The events of the end never come, but the answer does.
    let (end, ..) =
        stopped(|passing| matches!(passing.message, Message::Event(_)) && after(passing, MID_HOLD));
    let error = end.expect_err("its events are lost");
    assert!(matches!(error, LinkError::Stopped { why: Ending::ByPerson, heard: true, .. }), "{error:?}");

    // Nothing gets through any more, from before the wish on.
    let (end, ..) = stopped(|passing| after(passing, Micros::from_secs(4)));
    let error = end.expect_err("nothing comes");
    assert!(matches!(error, LinkError::Stopped { why: Ending::ByPerson, heard: false, .. }), "{error:?}");
    let text = error.to_string();
    assert!(text.contains("stopped by a person") && text.contains("drops the load by itself"), "{text}");
}

#[test]
fn a_wish_to_stop_while_an_answer_is_waited_for_ends_the_waiting_at_once() {
    let soon = |bench: &SharedBench, at: Micros| {
        let now = bench.0.borrow().now();
        assert!(
            now >= at && now <= at.saturating_add(Micros::from_millis(300)),
            "wanted at {at:?}, ended at {now:?}"
        );
        assert!(!bench.0.borrow().load_is_on());
    };
    let is_stop = |error: &LinkError| matches!(error, LinkError::Stopped { why: Ending::BeforeStart, .. });

    // The plan is loaded, but no answer comes.
    let (bench, at) = (SharedBench::sound(11), Micros::from_millis(1_400));
    let link = LosingLink::on(&bench, |passing: &Passing| {
        matches!(passing.message, Message::Request(Request::Load(_)))
    });
    let mut watch = StopAt::new(&bench, at);
    let (mut client, ..) = Client::connect(link).expect("connects");
    let error = client.run(&long_hold(), &mut watch).expect_err("stopped");
    assert!(is_stop(&error), "{error:?}");
    soon(&bench, at);

    // Who are you?
    let bench = SharedBench::sound(11);
    let now = bench.clone();
    let link = LosingLink::on(&bench, |_: &Passing| true);
    let error =
        Client::connect_unless(link, &mut || now.0.borrow().now() >= at).map(|_| ()).expect_err("stopped");
    assert!(is_stop(&error), "{error:?}");
    soon(&bench, at);
}

/// A link that breaks once and can be opened again at once.
struct Reopening<L> {
    inner: L,
    bench: SharedBench,
    breaks_at: Option<Micros>,
}

impl<L: Link> Reopening<L> {
    fn whole(&mut self) -> Result<(), LinkError> {
        match self.breaks_at.take_if(|at| self.bench.0.borrow().now() >= *at) {
            Some(_) => Err(LinkError::Gone { link: self.describe(), reason: "unplugged".to_owned() }),
            None => Ok(()),
        }
    }
}

impl<L: Link> Link for Reopening<L> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.whole()?;
        self.inner.send(bytes)
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        self.whole()?;
        self.inner.receive(into, wait)
    }

    fn draw(&mut self) -> u64 {
        self.inner.draw()
    }

    fn describe(&self) -> String {
        "reopening link".to_owned()
    }

    fn reopen(&mut self, _: u64) -> Result<Reopened, LinkError> {
        Ok(Reopened::Yes)
    }
}

#[test]
fn a_link_that_is_back_is_told_at_once_that_the_host_is_there_once_it_is_known_who_is_behind_it() {
    let bench = SharedBench::sound(11);
    let said = Rc::new(RefCell::new(Vec::new()));
    let log = Rc::clone(&said);
    let inner = LosingLink::on(&bench, move |passing: &Passing| {
        if let Message::Request(request) = &passing.message {
            log.borrow_mut().push((passing.at, request.clone()));
        }
        false
    });
    let link = Reopening { inner, bench: bench.clone(), breaks_at: Some(MID_HOLD) };
    let (mut client, ..) = Client::connect(link).expect("connects");
    let end = client.run(&long_hold(), &mut Collector::default()).expect("goes on");
    assert_eq!(end.outcome, Outcome::Complete);
    let said = said.borrow();
    let back: Vec<_> = said.iter().skip_while(|(_, request)| *request != Request::Identify).collect();
    let back: Vec<_> = back.iter().skip(1).skip_while(|(_, request)| *request != Request::Identify).collect();
    let requests: Vec<_> = back.iter().take(4).map(|(_, request)| request.clone()).collect();
    assert!(
        matches!(
            requests[..],
            [Request::Identify, Request::Describe, Request::Resume { .. }, Request::ReadState]
        ),
        "{requests:?}"
    );
    let took = back[2].0.saturating_sub(back[0].0);
    assert!(took <= Micros::from_millis(20), "{took:?}");
}

#[test]
fn a_wish_to_stop_while_a_link_that_is_back_does_not_answer_ends_the_waiting_at_once() {
    let bench = SharedBench::sound(11);
    let inner = LosingLink::on(&bench, |passing: &Passing| after(passing, MID_HOLD));
    let link = Reopening { inner, bench: bench.clone(), breaks_at: Some(MID_HOLD) };
    let at = MID_HOLD.saturating_add(Micros::from_millis(700));
    let mut watch = StopAt::new(&bench, at);
    let (mut client, ..) = Client::connect(link).expect("connects");
    let error = client.run(&long_hold(), &mut watch).expect_err("given up");
    assert!(matches!(error, LinkError::Gone { .. }), "{error:?}");
    let now = bench.0.borrow().now();
    assert!(now >= at && now <= at.saturating_add(Micros::from_millis(300)), "{now:?}");
}
