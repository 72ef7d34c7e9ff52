//! Whole frames lost both ways: no run hangs, no event comes twice, and what the fixture still keeps is fetched.

use celltriage_assessment::recorded::Recorded;
use celltriage_link::{Client, LinkError};
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::frame::Message;
use celltriage_protocol::reply::{RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::Fault;
use celltriage_tests::{
    Collector, LosingLink, LossyRun, Passing, SharedBench, at_random, samples, short_plan,
};
use celltriage_verdict::RunOutcome;

/// Runs without a loss; returns how many frames passed, the numbers of the events, and how many samples came.
fn clean() -> (u32, Vec<u32>, usize) {
    let mut frames = 0;
    let ran = LossyRun::of(|passing| {
        frames = passing.number + 1;
        false
    });
    let wanted = samples(&ran.watch.events);
    ran.assert_whole(wanted, "no loss");
    (frames, ran.numbers(), wanted)
}

const fn is_event(passing: &Passing, number: u32) -> bool {
    matches!(passing.message, Message::Event(_)) && passing.sequence == number
}

const fn is_resend_request(passing: &Passing) -> bool {
    matches!(passing.message, Message::Request(Request::ResendFrom { .. }))
}

/// Returns whether it is so for the first time, and so often.
fn first(is_so: bool, left: &mut u32) -> bool {
    let now = is_so && *left > 0;
    *left -= u32::from(now);
    now
}

#[test]
fn each_frame_of_a_run_lost_once_costs_nothing() {
    let (frames, _, wanted) = clean();
    assert!(frames > 40, "{frames} frames");
    for number in 0..frames {
        LossyRun::of(|passing| passing.number == number).assert_whole(wanted, &format!("frame {number}"));
    }
}

#[test]
fn an_event_lost_with_the_request_for_it_or_its_answer_is_had_in_the_end() {
    let (_, numbers, wanted) = clean();
    for &number in &numbers {
        let (mut event, mut request) = (1, 1);
        LossyRun::of(|passing| {
            first(is_event(passing, number), &mut event) || first(is_resend_request(passing), &mut request)
        })
        .assert_whole(wanted, &format!("event {number} and the request for it"));
    }
    for &number in numbers.iter().step_by(5).chain(numbers.last()) {
        let (mut event, mut answer) = (3, 2);
        LossyRun::of(|passing| {
            let is_answer =
                matches!(passing.message, Message::Reply(Reply::Resending { .. } | Reply::State(_)));
            first(is_event(passing, number), &mut event) || first(is_answer && event < 3, &mut answer)
        })
        .assert_whole(wanted, &format!("event {number} three times and two answers"));
    }
}

#[test]
fn an_event_that_never_comes_leaves_a_gap_that_is_told_and_the_run_goes_on() {
    let (_, numbers, _) = clean();
    let number = numbers[numbers.len() / 2];
    let ran = LossyRun::of(|passing| is_event(passing, number));
    assert_eq!(ran.end.as_ref().map(|end| end.outcome).ok(), Some(Outcome::Complete), "{:?}", ran.end);
    let mut kept: Vec<u32> = numbers.clone();
    kept.retain(|kept| *kept != number);
    assert_eq!(ran.numbers(), kept);
    assert!(
        ran.watch.remarks.iter().any(|text| text.contains(&number.to_string())),
        "{:?}",
        ran.watch.remarks
    );
    ran.assert_over("an event that never comes");
}

#[test]
fn random_losses_end_every_run_complete_or_honestly_unfinished() {
    let (_, _, wanted) = clean();
    for (per_thousand, runs) in [(10, 400), (100, 200)] {
        let mut complete = 0;
        for seed in 0..runs {
            let ran = LossyRun::of(at_random(per_thousand, seed));
            let what = format!("{per_thousand} of 1,000, seed {seed}");
            let lost = ran.end.as_ref().err().map(ToString::to_string);
            let recorded = Recorded::read(&ran.watch.frames, lost.as_deref());
            match &ran.end {
                Ok(end) if end.outcome == Outcome::Complete => {
                    ran.assert_whole(wanted, &what);
                    assert_eq!(recorded.run, RunOutcome::Complete, "{what}");
                    complete += 1;
                }
                _ => {
                    println!("{what}: {:?}", ran.end);
                    assert!(!recorded.run.is_finished(), "{what}: {:?}", recorded.run);
                    ran.assert_over(&what);
                }
            }
        }
        println!("{per_thousand} of 1,000 frames lost: {complete} of {runs} runs complete");
        // Three tries each for identity, state and plan: at one in ten, 0.7 % of them fail three times.
        let least = if per_thousand == 10 { runs } else { runs * 9 / 10 };
        assert!(complete >= least, "{complete} of {runs} at {per_thousand} of 1,000");
    }
}

/// The sink conducts without a load: the plan is over before the start is said a second time.
#[test]
fn a_plan_that_is_over_before_its_lost_start_is_said_again_is_told_as_it_went() {
    for lost_starts in [1, 2] {
        let (bench, mut watch) = (SharedBench::sound(11), Collector::default());
        let (inner, mut answers, mut starts) = (bench.clone(), lost_starts, lost_starts - 1);
        let link = LosingLink::on(&bench, move |passing: &Passing| match &passing.message {
            Message::Request(Request::StartRun { .. }) => {
                inner.0.borrow_mut().inject(Fault::SinkStuckOn { current_a: 0.3 }.at(Micros::ZERO));
                first(true, &mut starts)
            }
            // The start's answer, and the first word of its events.
            Message::Reply(Reply::Done) => passing.at > Micros::from_millis(100) && first(true, &mut answers),
            Message::Event(Event::PlanStarted { .. } | Event::Tripped(_) | Event::PlanEnded { .. }) => {
                passing.at < Micros::from_millis(2_000)
            }
            _ => false,
        });
        let (mut client, ..) = Client::connect(link).expect("connects");
        let end = client.run(&short_plan(10_000), &mut watch);
        println!("{end:?}");
        match end {
            Ok(end) => assert_eq!(end.trip.map(|trip| trip.cause), Some(TripCause::ConductsWhenOff)),
            // Not even the first try got through, and the fixture had tripped by then.
            Err(LinkError::Refused { reject, .. }) => assert_eq!(reject.cause, RejectCause::Tripped),
            Err(error) => panic!("{error:?}"),
        }
    }
}
