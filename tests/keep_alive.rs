//! Keep-alives are said often enough by the host whose plan runs, and by nobody else, whatever is lost.

use celltriage_instrument::connected::Connected;
use celltriage_instrument::hot_cell::watch::HotCellWatch;
use celltriage_link::Client;
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::Message;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_tests::{Ears, LosingLink, LossyRun, Passing, SharedBench, Shop, keeper, watch_terms};
use std::time::Duration;

/// Returns the longest time between two keep-alives that reached the fixture, or the start and the first, in a run.
fn longest_silence(mut is_lost: impl FnMut(&Passing) -> bool) -> Micros {
    let (mut last, mut longest) = (None, Micros::ZERO);
    let ran = LossyRun::of(|passing| {
        let lost = is_lost(passing);
        if matches!(passing.message, Message::Event(Event::PlanEnded { .. })) {
            last = None;
        }
        let speaks = match passing.message {
            Message::Request(Request::StartRun { .. }) => true,
            Message::Request(Request::KeepRunning { .. }) => last.is_some(),
            _ => false,
        };
        if speaks && !lost {
            longest = longest.max(last.map_or(Micros::ZERO, |last| passing.at.saturating_sub(last)));
            last = Some(passing.at);
        }
        lost
    });
    ran.assert_over("a run with questions");
    longest
}

#[test]
fn a_host_that_asks_for_what_was_lost_goes_on_saying_that_it_is_there() {
    // A quarter of a second of waiting on top of the half: the loop's longest turn.
    let most = Micros::from_millis(760);
    assert!(longest_silence(|_| false) <= most);
    let no_answers = |passing: &Passing| match &passing.message {
        Message::Reply(Reply::State(_) | Reply::Resending { .. }) => passing.at > Micros::from_secs(1),
        Message::Event(_) => {
            passing.at > Micros::from_millis(2_500) && passing.at < Micros::from_millis(8_000)
        }
        _ => false,
    };
    let longest = longest_silence(no_answers);
    assert!(longest > Micros::ZERO && longest <= most, "{longest:?}");
    // The answers to the start and to the keep-alives are lost, too.
    let no_replies = |passing: &Passing| {
        matches!(passing.message, Message::Reply(Reply::Done)) && passing.at > Micros::from_millis(150)
    };
    let longest = longest_silence(no_replies);
    assert!(longest > Micros::ZERO && longest <= most, "{longest:?}");
}

#[test]
fn who_only_looks_never_says_a_keep_alive() {
    let shop = Shop::new();
    let said = std::rc::Rc::new(std::cell::RefCell::new(Vec::new()));
    let log = std::rc::Rc::clone(&said);
    let link = LosingLink::on(&SharedBench::sound(11), move |passing: &Passing| {
        if let Message::Request(request) = &passing.message {
            log.borrow_mut().push(request.clone());
        }
        // Losses make the host ask again; that does not make it the owner.
        passing.number % 7 == 6
    });
    let (mut client, ..) = Client::connect(link).expect("connects");
    // What `fixture watch` does.
    for _ in 0..20 {
        let _lost_now_and_then = client.state();
        client.pass(Duration::from_millis(500), || false).expect("the link is there");
    }
    let (identity, state) = match client.ask(&Request::Identify) {
        Ok(Reply::Identity(identity)) => (identity, client.state().expect("a state")),
        other => panic!("{other:?}"),
    };
    let connected = Connected { client, identity, state, bench: None };
    let watch = HotCellWatch::begin(connected, watch_terms(1), keeper(&shop.book_path())).expect("begins");
    let _alarms_are_not_the_point = watch.run(&mut Ears::default());
    let said = said.borrow();
    assert!(said.len() > 40, "{} requests", said.len());
    assert!(
        !said.iter().any(|request| matches!(request, Request::KeepRunning { .. } | Request::StartRun { .. }))
    );
}
