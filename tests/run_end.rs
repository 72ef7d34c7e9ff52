//! How a run ends when its link loses what it says: at a person's wish at once, at the latest by its own time and 30 s,
//! with the load off and an entry that says what happened.

use celltriage_assessment::case::{Case, Setting};
use celltriage_assessment::history::History;
use celltriage_assessment::recorded::Recorded;
use celltriage_book::{Book, Filter};
use celltriage_link::{
    Attendant, BenchCell, Client, Ending, GRACE, Link, LinkError, Recorder, Reopened, RunEnd, RunEvent,
    START_WAIT,
};
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::Extent;
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::frame::Message;
use celltriage_protocol::plan::Plan;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::{fixture::SimulatedFixture, library};
use celltriage_tests::{Collector, LosingLink, Passing, SharedBench, short_plan};
use celltriage_verdict::RunOutcome;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::measuring::Overrides;
use jiff::tz::TimeZone;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// In the middle of the hold, which begins after at most 2 s of waiting and 2 s of rest.
const WISH: Micros = Micros::from_millis(4_500);

fn bench() -> SharedBench {
    let cell = library::sound();
    SharedBench::new(SimulatedFixture::new(cell.parameters.clone(), cell.options(11)))
}

/// A plan of 12 s, 8 s of which under load: longer than the fixture bears a silence that begins at the wish.
fn plan() -> Plan {
    let mut plan = short_plan(10_000);
    plan.steps[1].duration = Micros::from_secs(8);
    plan
}

/// Collects, and wants to stop from a time of the bench on.
struct StopAt {
    inner: Collector,
    bench: SharedBench,
    at: Micros,
}

impl StopAt {
    fn new(bench: &SharedBench, at: Micros) -> Self {
        Self { inner: Collector::default(), bench: bench.clone(), at }
    }
}

impl Attendant<RunEvent> for StopAt {
    fn sees(&mut self, event: &RunEvent) {
        self.inner.sees(event);
    }

    fn stop_wanted(&self) -> bool {
        self.bench.0.borrow().now() >= self.at
    }
}

impl Recorder for StopAt {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.inner.keep(frame)
    }
}

/// Runs the short plan with a person who wants to stop in its middle; returns when the load was last seen on, too.
fn stopped(mut is_lost: impl FnMut(&Passing) -> bool) -> (Result<RunEnd, LinkError>, Collector, Micros) {
    let bench = bench();
    let (spied, last_on) = (bench.clone(), Rc::new(Cell::new(Micros::ZERO)));
    let seen = Rc::clone(&last_on);
    let link = LosingLink::on(&bench, move |passing| {
        if spied.0.borrow().load_is_on() {
            seen.set(passing.at);
        }
        is_lost(passing)
    });
    let mut watch = StopAt::new(&bench, WISH);
    let end = Client::connect(link).and_then(|(mut client, ..)| client.run(&plan(), &mut watch));
    let now = bench.0.borrow().now();
    assert!(now >= WISH && now <= WISH.saturating_add(Micros::from_secs(11)), "ended at {now:?}");
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
    assert!(last_on <= WISH.saturating_add(Micros::from_millis(400)), "{last_on:?}");

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
    let (end, ..) = stopped(|passing| matches!(passing.message, Message::Reply(_)) && after(passing, WISH));
    assert_eq!(end.expect("told by its event").outcome, Outcome::Stopped);

    // The events of the end never come, but the answer does.
    let (end, ..) = stopped(|passing| matches!(passing.message, Message::Event(_)) && after(passing, WISH));
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
    let (bench, at) = (bench(), Micros::from_millis(1_400));
    let link = LosingLink::on(&bench, |passing: &Passing| {
        matches!(passing.message, Message::Request(Request::LoadPlan(_)))
    });
    let mut watch = StopAt::new(&bench, at);
    let (mut client, ..) = Client::connect(link).expect("connects");
    let error = client.run(&plan(), &mut watch).expect_err("stopped");
    assert!(is_stop(&error), "{error:?}");
    soon(&bench, at);

    // Who are you?
    let bench = self::bench();
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

    fn describe(&self) -> String {
        "reopening link".to_owned()
    }

    fn reopen(&mut self, _: u64) -> Result<Reopened, LinkError> {
        Ok(Reopened::Yes)
    }
}

#[test]
fn a_link_that_is_back_is_told_at_once_that_the_host_is_there_once_it_is_known_who_is_behind_it() {
    let bench = bench();
    let said = Rc::new(RefCell::new(Vec::new()));
    let log = Rc::clone(&said);
    let inner = LosingLink::on(&bench, move |passing: &Passing| {
        if let Message::Request(request) = &passing.message {
            log.borrow_mut().push((passing.at, request.clone()));
        }
        false
    });
    let link = Reopening { inner, bench: bench.clone(), breaks_at: Some(WISH) };
    let (mut client, ..) = Client::connect(link).expect("connects");
    let end = client.run(&plan(), &mut Collector::default()).expect("goes on");
    assert_eq!(end.outcome, Outcome::Complete);
    let said = said.borrow();
    let back: Vec<_> = said.iter().skip_while(|(_, request)| *request != Request::Identify).collect();
    let back: Vec<_> = back.iter().skip(1).skip_while(|(_, request)| *request != Request::Identify).collect();
    let requests: Vec<_> = back.iter().take(3).map(|(_, request)| request.clone()).collect();
    assert_eq!(requests, [Request::Identify, Request::ReadState, Request::KeepAlive]);
    let took = back[2].0.saturating_sub(back[0].0);
    assert!(took <= Micros::from_millis(20), "{took:?}");
}

#[test]
fn a_wish_to_stop_while_a_link_that_is_back_does_not_answer_ends_the_waiting_at_once() {
    let bench = bench();
    let inner = LosingLink::on(&bench, |passing: &Passing| after(passing, WISH));
    let link = Reopening { inner, bench: bench.clone(), breaks_at: Some(WISH) };
    let at = WISH.saturating_add(Micros::from_millis(700));
    let mut watch = StopAt::new(&bench, at);
    let (mut client, ..) = Client::connect(link).expect("connects");
    let error = client.run(&plan(), &mut watch).expect_err("given up");
    assert!(matches!(error, LinkError::Gone { .. }), "{error:?}");
    let now = bench.0.borrow().now();
    assert!(now >= at && now <= at.saturating_add(Micros::from_millis(300)), "{now:?}");
}

/// Runs the short plan over a link that loses what the rule says; returns the error it ends with, its story, and when.
fn unheard(is_lost: impl FnMut(&Passing) -> bool) -> (LinkError, RunOutcome, Micros) {
    let (bench, mut watch) = (bench(), Collector::default());
    let (mut client, _, state) = Client::connect(LosingLink::on(&bench, is_lost)).expect("connects");
    let error = client.run(&plan(), &mut watch).expect_err("its end is not heard of");
    let lasted = bench.0.borrow().now().saturating_sub(state.now);
    assert!(!bench.0.borrow().load_is_on());
    let story = Recorded::read(&watch.frames, Some(&error.to_string())).run;
    (error, story, lasted)
}

#[test]
fn a_run_whose_end_is_not_heard_of_ends_by_its_time_and_half_a_minute() {
    assert_eq!(START_WAIT, celltriage_firmware::sequencer::LONGEST_WAIT);
    let most = Micros::from_secs(12).saturating_add(START_WAIT).saturating_add(GRACE);
    let late = |passing: &Passing| after(passing, WISH);
    let overdue = |error: &LinkError| match error {
        LinkError::Stopped { why: Ending::Overdue { longest }, heard, .. } => {
            Some((longest.as_secs(), *heard))
        }
        _ => None,
    };

    // Keep-alives and stops are answered, but nothing else comes.
    let (error, story, lasted) = unheard(|passing| {
        late(passing) && !matches!(passing.message, Message::Request(_) | Message::Reply(Reply::Done))
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
    let bench = bench();
    let (inner, restarted) = (bench.clone(), Cell::new(false));
    let link = LosingLink::on(&bench, |passing: &Passing| {
        if after(passing, WISH) && !restarted.replace(true) {
            inner.0.borrow_mut().power_cycle();
        }
        false
    });
    let (mut client, ..) = Client::connect(link).expect("connects");
    let error = client.run(&plan(), &mut Collector::default()).expect_err("restarted");
    assert!(matches!(error, LinkError::Restarted { .. }), "{error:?}");
    assert!(bench.0.borrow().now() < Micros::from_secs(10));
}

/// Assesses a cell over a link; the rule may set the wish to stop. Returns the exit's outcome as it stands in the book.
fn assessed(
    bench: &SharedBench,
    is_lost: impl FnMut(&Passing) -> bool,
    stop: &AtomicBool,
) -> (RunOutcome, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("book.sqlite");
    let book = Book::open(&path).expect("a new book");
    let clock = HeldClock::at("2026-11-25T12:00:00Z".parse().expect("a timestamp"));
    let mut shop = Workshop::new(book, &clock, TimeZone::UTC);
    let setting = Setting::built_in(None, shop.today()).expect("the built-in data");
    let case = Case {
        id: "PE-0417".to_owned(),
        nameplate: BenchCell::find("sound").expect("a cell").nameplate,
        observations: Observations::default(),
        setting,
        history: History::default(),
        files: Vec::new(),
    };
    let link = LosingLink::on(bench, is_lost);
    let done = shop
        .assess(&case, link, Extent::Screen, &Overrides::default(), &mut Person(stop))
        .expect("is written");
    assert_ne!(done.assessment.verdict.fate.to_string(), "reuse");
    let entries = shop.book().entries(&Filter::default()).expect("readable");
    assert_eq!(entries.len(), 1, "the cell is in the book");
    drop(shop);
    let path = path.to_string_lossy().into_owned();
    let again = celltriage_tests::call(&["book", "--book", &path, "recompute", "1"], None);
    assert_eq!(again.code, 0, "{}\n{}", again.out, again.err);
    assert_eq!(celltriage_tests::call(&["book", "--book", &path, "verify"], None).code, 0);
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
            |passing| matches!(passing.message, Message::Request(Request::LoadPlan(_))),
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
        let (bench, stop) = (bench(), AtomicBool::new(false));
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
    let (bench, stop) = (bench(), AtomicBool::new(false));
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
