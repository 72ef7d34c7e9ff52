//! A run whose end is never heard: it ends by its own time and 30 s, and a restart of the fixture is found out.

use celltriage_assessment::recorded::Recorded;
use celltriage_link::{Client, Ending, GRACE, LinkError, START_WAIT};
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::Message;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::units::Micros;
use celltriage_tests::{Collector, LosingLink, MID_HOLD, Passing, SharedBench, long_hold};
use celltriage_verdict::RunOutcome;
use std::cell::Cell;

fn after(passing: &Passing, at: Micros) -> bool {
    passing.at >= at
}

/// Runs the short plan over a link that loses what the rule says; returns the error it ends with, its story, and when.
fn unheard(is_lost: impl FnMut(&Passing) -> bool) -> (LinkError, RunOutcome, Micros) {
    let (bench, mut watch) = (SharedBench::sound(11), Collector::default());
    let (mut client, _, state) = Client::connect(LosingLink::on(&bench, is_lost)).expect("connects");
    let error = client.run(&long_hold(), &mut watch).expect_err("its end is not heard of");
    let lasted = bench.0.borrow().now().saturating_sub(state.now);
    assert!(!bench.0.borrow().load_is_on());
    let story = Recorded::read(&watch.frames, Some(&error.to_string())).run;
    (error, story, lasted)
}

#[test]
fn a_run_whose_end_is_not_heard_of_ends_by_its_time_and_half_a_minute() {
    assert_eq!(START_WAIT, celltriage_firmware::sequencer::LONGEST_WAIT);
    let most = Micros::from_secs(12).saturating_add(START_WAIT).saturating_add(GRACE);
    let late = |passing: &Passing| after(passing, MID_HOLD);
    let overdue = |error: &LinkError| match error {
        LinkError::Stopped { why: Ending::Overdue { longest }, heard, .. } => {
            Some((longest.as_secs(), *heard))
        }
        _ => None,
    };

    // Keep-alives and stops are answered, but nothing else comes.
    let (error, story, lasted) = unheard(|passing| {
        late(passing)
            && !matches!(
                passing.message,
                Message::Request(_) | Message::Reply(Reply::Done | Reply::Rejected(_))
            )
    });
    assert_eq!(overdue(&error), Some((14, true)), "{error:?}");
    assert!(lasted > Micros::from_secs(14) && lasted <= most, "{lasted:?}");
    match &story {
        RunOutcome::Unfinished { why } => assert!(why.contains("14 s at the longest"), "{why}"),
        other => panic!("{other:?}"),
    }

    // The fixture tells that it is done, but its last word is lost each time.
    let (error, story, lasted) =
        unheard(|passing| matches!(passing.message, Message::Event(Event::PlanEnded { .. })));
    assert!(matches!(error, LinkError::EndLost { .. }), "{error:?}");
    assert!(lasted <= most && matches!(story, RunOutcome::Unfinished { .. }), "{lasted:?} {story:?}");
}

#[test]
fn a_fixture_that_restarts_while_its_link_stays_is_found_out() {
    let bench = SharedBench::sound(11);
    let (inner, restarted) = (bench.clone(), Cell::new(false));
    let link = LosingLink::on(&bench, |passing: &Passing| {
        if after(passing, MID_HOLD) && !restarted.replace(true) {
            inner.0.borrow_mut().power_cycle();
        }
        false
    });
    let (mut client, ..) = Client::connect(link).expect("connects");
    let error = client.run(&long_hold(), &mut Collector::default()).expect_err("restarted");
    assert!(matches!(error, LinkError::Restarted { .. }), "{error:?}");
    assert!(bench.0.borrow().now() < Micros::from_secs(10));
}
