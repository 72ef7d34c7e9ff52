//! A test run whose book is locked, removed or on a disk that hangs: it goes to its end, is decided, and is kept beside the book.

use celltriage_assessment::case::{Case, Setting};
use celltriage_book::{Book, BookError, Done, Kept, RecordingTerms, Work, Worker, Writer, aside};
use celltriage_link::{Attendant, BenchCell, Client, LinkError, Recorder, RunEnd, RunEvent, SerialLink};
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::Extent;
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::units::Micros;
use celltriage_tests::{EVENING, FarEnd, LosingLink, NOON, SharedBench, Shop, long_hold};
use celltriage_verdict::RunOutcome;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::{RunRecorder, Workshop};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::path::Path;
use std::time::Duration;

/// Another program that holds the book's write lock until it is dropped.
fn lock(path: &Path) -> rusqlite::Connection {
    let other = rusqlite::Connection::open(path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");
    other
}

/// Sees whether something is told to be not in the book.
#[derive(Default)]
struct Told {
    not_kept: usize,
    not_in_book: usize,
}

impl Attendant<WorkEvent> for Told {
    fn sees(&mut self, event: &WorkEvent) {
        self.not_kept += usize::from(matches!(event, WorkEvent::NotKept(_)));
        self.not_in_book += usize::from(matches!(event, WorkEvent::NotInBook { .. }));
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

/// Screens a cell; this happens to the book under the first load, after 66 s.
fn screened(shop: &Shop, mut happens: impl FnMut()) -> (Assessed, Told) {
    let clock = HeldClock::at(NOON.parse().expect("a timestamp"));
    let mut workshop = Workshop::new(Book::open(shop.book()).expect("a new book"), &clock, TimeZone::UTC);
    let label = BenchCell::find("sound").expect("a cell").nameplate;
    let setting = Setting::built_in(None, workshop.today()).expect("the built-in data");
    let case = Case::new("PE-0417", label, Observations::default(), setting);
    let (bench, mut told, mut done) = (SharedBench::sound(11), Told::default(), false);
    let link = LosingLink::on(&bench, |passing| {
        if passing.at >= Micros::from_secs(66) && !done {
            done = true;
            happens();
        }
        false
    });
    let assessed = workshop
        .assess(&case, link, Extent::Screen, &Overrides::default(), &mut told)
        .expect("a book ends no run");
    assert_eq!(assessed.assessment.conditions.run, RunOutcome::Complete, "the run went to its end");
    (assessed, told)
}

/// Takes in what lies beside, and checks that the decision comes out of the frames as it did.
fn is_whole_once_taken_in(shop: &Shop, file: &Path) {
    let mut book = Book::open(shop.book()).expect("free");
    assert_eq!(aside::take_in(&mut book, file).expect("taken in").entries, 1);
    drop(book);
    let again = shop.unstated(NOON, "book recompute 1", None);
    assert_eq!(again.code, 0, "{}\n{}", again.out, again.err);
    assert_eq!(shop.unstated(NOON, "book verify", None).code, 0);
    let recordings = shop.open().unfinished_recordings().expect("readable");
    assert_eq!(recordings, [], "what the book had of the run is part of it");
}

#[test]
fn a_lock_from_the_middle_of_a_run_to_after_its_end_costs_neither_run_nor_decision() {
    let shop = Shop::new();
    let mut held = None;
    let (assessed, told) = screened(&shop, || {
        // The first frames are in the book by then.
        std::thread::sleep(Duration::from_millis(1_500));
        held = Some(lock(&shop.book_path()));
    });
    let Kept::Beside { why, file } = &assessed.kept else { panic!("{:?}", assessed.kept) };
    assert!(why.contains("holds it locked") && told.not_in_book == 1, "{why}");
    assert_eq!(shop.newest(), 0, "it is not in the book, and no number was given");
    drop(held);
    is_whole_once_taken_in(&shop, file);
}

#[test]
fn a_book_that_is_removed_during_a_run_is_not_begun_again_behind_it() {
    let shop = Shop::new();
    let (assessed, _) = screened(&shop, || {
        std::thread::sleep(Duration::from_millis(1_500));
        for file in std::fs::read_dir(shop.folder()).expect("a folder").flatten() {
            std::fs::remove_file(file.path()).expect("removed");
        }
    });
    let Kept::Beside { why, file } = &assessed.kept else { panic!("{:?}", assessed.kept) };
    assert!(why.contains("was removed") && !shop.book_path().exists(), "{why}");
    is_whole_once_taken_in(&shop, file);
}

#[test]
fn the_command_says_that_it_is_not_in_the_book_and_the_next_one_takes_it_in() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id K-0 --simulated sound --no-signs", &[]);
    let held = lock(&shop.book_path());
    let call = shop.at(EVENING, "assess --id K-1 --simulated sound --no-signs", &[]);
    assert_eq!(call.code, 5, "{}\n{}", call.out, call.err);
    assert!(call.out.contains("K-1"), "the page is shown: {}", call.out);
    assert!(call.err.contains("decided of K-1 is NOT in the book: book"), "{}", call.err);
    assert!(call.err.contains("it is kept in ") && !call.err.contains("written as entry"), "{}", call.err);
    let list = shop.at(EVENING, "book list", &[]);
    assert!(list.err.contains("note: a file lies beside the book"), "{}", list.err);
    // Until it is taken in, the cell is assessed no more: what was found of it is not known here.
    let call = shop.at(EVENING, "assess --id K-1 --simulated sound --no-signs", &[]);
    assert!(call.code == 2 && call.err.contains("a decision on K-1 is not in the book yet"), "{}", call.err);
    assert!(!call.err.contains("step 1 of"), "{}", call.err);
    drop(held);
    let call = shop.must(EVENING, "assess --id K-2 --simulated sound --no-signs", &[]);
    assert!(call.err.contains("note: 1 entry from beside the book taken in"), "{}", call.err);
    assert!(aside::beside(&shop.book_path()).is_empty());
    let cells: Vec<String> = shop.entries().into_iter().rev().map(|entry| entry.head.subject.name).collect();
    assert_eq!(cells, ["K-0", "K-1", "K-2"]);
    assert_eq!(shop.unstated(EVENING, "book recompute 2", None).code, 0);
}

#[test]
fn an_alarm_in_a_small_book_bars_a_load_until_it_is_taken_in_and_from_then_on_by_the_book() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id A-0 --simulated sound --no-signs", &[]);
    let held = lock(&shop.book_path());
    let watch = "hot-cell-watch --id A-1 --hours 2 --print-every 60 --simulated self-warming";
    let call = shop.at(NOON, watch, &[]);
    assert!(call.code == 6 && call.err.contains("the watch is NOT in the book"), "{}", call.err);
    let assess = "assess --id A-1 --simulated sound --no-signs";
    let call = shop.at(EVENING, assess, &[]);
    assert!(call.code == 2 && call.err.contains("raised an alarm about A-1"), "{} {}", call.code, call.err);
    drop(held);
    let call = shop.at(EVENING, assess, &[]);
    assert!(call.err.contains("from beside the book taken in"), "{}", call.err);
    assert!(call.err.contains("Known before: A-1: alarm") && !call.err.contains("step 1 of"), "{}", call.err);
}

#[test]
fn a_night_under_a_locked_book_goes_to_its_end() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id N-0 --simulated sound --no-signs", &[]);
    let file = shop.file(
        "night.toml",
        "[[cell]]\nid = \"N-1\"\nsimulated = \"sound\"\nno_signs = true\nthickness_mm = [4.05]\nextent = \"full\"\n",
    );
    let held = lock(&shop.book_path());
    let call = shop.run(NOON, &["batch", &file, "--json"]);
    assert_eq!(call.code, 5, "{}", call.err);
    let outcome = call.json();
    let cell = &outcome["cells"][0];
    assert!(cell["fate"] == "reuse" && cell["entry"].is_null(), "{outcome}");
    assert!(cell["not_kept"].as_str().is_some_and(|why| why.contains("locked")), "{outcome}");
    assert!(
        call.err.lines().skip(1).all(|line| line.starts_with("N-1") || line.starts_with("hint")),
        "{}",
        call.err
    );
    assert_eq!(shop.newest(), 1);
    drop(held);
    shop.must(EVENING, "assess --id N-2 --simulated sound --no-signs", &[]);
    let of_cell: Vec<String> = shop
        .entries()
        .into_iter()
        .rev()
        .filter(|entry| entry.subject.name == "N-1")
        .map(|entry| entry.head.kind)
        .collect();
    assert_eq!(of_cell, ["capacity_run", "assessment", "capacity_run"], "stage, decision, end of the run");
    let list: serde_json::Value = shop.must(EVENING, "guided --list --json", &[]).json();
    assert_eq!(list["runs"].as_array().map(Vec::len), Some(0), "{list}");
    assert_eq!(shop.unstated(EVENING, "book verify", None).code, 0);
}

/// A store on a disk that never answers.
struct Hanging;

impl Worker for Hanging {
    fn perform(&mut self, _: &Work) -> Result<Done, BookError> {
        loop {
            std::thread::park();
        }
    }
}

/// The fixture here takes the host for gone after this much real time.
const BEARS: Duration = Duration::from_millis(300);

fn run(recorder: &mut dyn Recorder) -> Result<RunEnd, LinkError> {
    let far = FarEnd::with_patience(None, BEARS);
    let (mut client, _, _) = Client::connect(SerialLink::open(&far.port)?)?;
    client.run(&long_hold(), recorder)
}

#[test]
fn a_disk_that_hangs_trips_no_fixture() {
    let shop = Shop::new();
    let (book, cell) = (shop.book_path(), "PE-1".to_owned());
    let terms = RecordingTerms { book, cell, began: Timestamp::UNIX_EPOCH, most_bytes: 1 << 20 };
    let mut told = Told::default();
    let mut recorder = RunRecorder::new(Writer::on(Hanging, terms), &mut told);
    let end = run(&mut recorder).expect("the run ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Complete, trip: None });
    let (writer, _) = recorder.finish();
    assert!(writer.read(|_, frames| frames.len()) > 1_000);
}

/// What the fixture does where somebody waits for the disk in the thread that talks to it.
struct Waits;

impl Attendant<RunEvent> for Waits {
    fn sees(&mut self, event: &RunEvent) {
        if matches!(event, RunEvent::Fixture(Event::StepStarted { step: 1, .. })) {
            std::thread::sleep(BEARS * 10);
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

impl Recorder for Waits {
    fn keep(&mut self, _: &[u8]) -> Result<(), String> {
        Ok(())
    }
}

#[test]
fn the_same_fixture_trips_where_the_talking_thread_waits() {
    let end = run(&mut Waits).expect("it is told");
    assert_eq!(end.trip.map(|trip| trip.cause), Some(TripCause::HostSilent), "{end:?}");
}
