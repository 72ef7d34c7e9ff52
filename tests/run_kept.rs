//! A run cut short over a link that loses what it says: what the book has of the cell.

use celltriage_assessment::case::{Case, Setting};
use celltriage_book::{Book, Filter};
use celltriage_link::{Attendant, BenchCell};
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::Extent;
use celltriage_protocol::frame::Message;
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_tests::{LosingLink, NOON, Passing, SharedBench, Shop};
use celltriage_verdict::RunOutcome;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::measuring::Overrides;
use jiff::tz::TimeZone;
use std::sync::atomic::{AtomicBool, Ordering};

/// Assesses a cell over a link; the rule may set the wish to stop. Returns how the run went, and the fate in the book.
fn assessed(
    bench: &SharedBench,
    is_lost: impl FnMut(&Passing) -> bool,
    stop: &AtomicBool,
) -> (RunOutcome, String) {
    let shop = Shop::new();
    let clock = HeldClock::at(NOON.parse().expect("a timestamp"));
    let mut workshop = Workshop::new(Book::open(shop.book()).expect("a new book"), &clock, TimeZone::UTC);
    let label = BenchCell::find("sound").expect("a cell").nameplate;
    let setting = Setting::built_in(None, workshop.today()).expect("the built-in data");
    let case = Case::new("PE-0417", label, Observations::default(), setting);
    let link = LosingLink::on(bench, is_lost);
    let done = workshop
        .assess(&case, link, Extent::Screen, &Overrides::default(), &mut Person(stop))
        .expect("is written");
    assert_ne!(done.assessment.verdict.fate.to_string(), "reuse");
    let entries = workshop.book().entries(&Filter::default()).expect("readable");
    assert_eq!(entries.len(), 1, "the cell is in the book");
    drop(workshop);
    let again = shop.unstated(NOON, "book recompute 1", None);
    assert_eq!(again.code, 0, "{}\n{}", again.out, again.err);
    assert_eq!(shop.unstated(NOON, "book verify", None).code, 0);
    (done.assessment.conditions.run, entries[0].fate.clone().unwrap_or_default())
}

/// Looks at nothing, and wants to stop when the flag is up.
struct Person<'a>(&'a AtomicBool);

impl Attendant<WorkEvent> for Person<'_> {
    fn sees(&mut self, _: &WorkEvent) {}

    fn stop_wanted(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

#[test]
fn whatever_is_lost_a_stopped_cell_stands_in_the_book_as_unfinished() {
    // Under the first load, after 60 s of rest.
    let wish = Micros::from_secs(66);
    let why = |run: RunOutcome| match run {
        RunOutcome::Unfinished { why } | RunOutcome::NotMeasured { why } => why,
        other => panic!("{other:?}"),
    };
    type Rule = fn(&Passing) -> bool;
    let cases: [(&str, Micros, Rule, &str, &str); 4] = [
        ("nothing lost", wish, |_| false, "stopped by a person", "quarantine"),
        (
            "all lost",
            wish,
            |passing| passing.at >= Micros::from_secs(65),
            "its answer to the stop never came",
            "quarantine",
        ),
        (
            "no answer to the plan",
            Micros::from_millis(900),
            |passing| matches!(passing.message, Message::Request(Request::Load(_))),
            "stopped by a person before the plan was started",
            "undecided",
        ),
        (
            "no answer at all",
            Micros::from_millis(900),
            |_| true,
            "stopped by a person before the plan was started",
            "undecided",
        ),
    ];
    for (name, at, is_lost, told, wanted) in cases {
        let (bench, stop) = (SharedBench::sound(11), AtomicBool::new(false));
        let (run, fate) = assessed(
            &bench,
            |passing| {
                if passing.at >= at {
                    stop.store(true, Ordering::Relaxed);
                }
                is_lost(passing)
            },
            &stop,
        );
        let why = why(run);
        assert!(why.contains(told), "{name}: {why}");
        assert_eq!(fate, wanted, "{name}");
        bench.0.borrow_mut().receive(Micros::from_millis(3_100), &mut Vec::new());
        assert!(!bench.0.borrow().load_is_on(), "{name}");
    }
}

/// One sample event and the request for it: the run once went on for ever.
#[test]
fn a_screen_that_loses_one_event_and_the_request_for_it_is_complete() {
    let (bench, stop) = (SharedBench::sound(11), AtomicBool::new(false));
    let (mut event, mut request) = (false, false);
    let (run, _) = assessed(
        &bench,
        |passing| match passing.message {
            Message::Event(_) if passing.sequence == 40 && !event => {
                event = true;
                true
            }
            Message::Request(Request::ResendFrom { .. }) if !request => {
                request = true;
                true
            }
            _ => false,
        },
        &stop,
    );
    assert!(event && request);
    assert_eq!(run, RunOutcome::Complete);
    assert!(bench.0.borrow().now() < Micros::from_secs(170));
}
