//! The workshop without a terminal: a cell is assessed by calls alone, in a test, in a thread, by any program.

use celltriage_assessment::case::{Case, Setting};
use celltriage_book::Book;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_link::{Attendant, Nobody, RunEvent};
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::Extent;
use celltriage_protocol::event::Event;
use celltriage_verdict::Fate;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::{Fault, Workshop};
use jiff::tz::TimeZone;
use std::path::Path;

/// The whole program: a simulated cell of this kind, looked at and found without a sign, is screened and recorded.
fn screened(kind: &str, observations: Observations, book: &Path) -> Result<Assessed, Fault> {
    let clock = HeldClock::at("2026-11-25T12:00:00Z".parse().expect("a timestamp"));
    let mut shop = Workshop::new(Book::open(book)?, &clock, TimeZone::UTC);
    let choice = FixtureChoice::cell(None, Some(kind), 1)?;
    let label = choice.bench_cell().expect("it is simulated").nameplate.clone();
    let setting = Setting::built_in(None, shop.today()).expect("the built-in policy and rules");
    let case = Case::new("PE-0421", label, observations, setting);
    let job = Job { case, choice, simulated: true, extent: Extent::Screen, overrides: Overrides::default() };
    shop.attend(&job, &mut Nobody)
}

#[test]
fn a_cell_is_assessed_and_recorded_by_ten_lines_without_a_terminal() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("book.sqlite");
    let assessed = screened("sound", Observations::no_signs(), &path).expect("assessed");
    assert_eq!(assessed.assessment.verdict.fate, Fate::Undecided, "a screen never proves capacity");
    assert!(assessed.is_finished() && assessed.assessment.conditions.is_simulated());
    let book = Book::open_read_only(&path).expect("a book");
    assert_eq!(
        book.entry(assessed.entry().expect("in the book")).expect("readable").expect("there").subject.name,
        "PE-0421"
    );
    assert!(book.verify().expect("readable").passed());
}

#[test]
fn the_same_runs_in_threads_at_once_and_gives_the_same_figures() {
    let folder = tempfile::tempdir().expect("a folder");
    let estimates = |name: &str| {
        let path = folder.path().join(name);
        screened("faded", Observations::no_signs(), &path).expect("assessed").assessment.estimates
    };
    let (one, other) = std::thread::scope(|scope| {
        let (one, other) = (scope.spawn(|| estimates("a.sqlite")), scope.spawn(|| estimates("b.sqlite")));
        (one.join().expect("ended"), other.join().expect("ended"))
    });
    assert!(!one.is_empty());
    assert_eq!(one, other);
}

#[test]
fn a_cell_that_nobody_has_looked_at_is_a_fault_as_data_and_leaves_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("book.sqlite");
    let fault = screened("sound", Observations::default(), &path).expect_err("refused");
    let Fault::NotLookedFor { open, .. } = &fault else { panic!("{fault:?}") };
    assert_eq!(open.len(), 5);
    assert!(!fault.to_string().contains("--"), "options are no business of the workshop: {fault}");
    let book = Book::open_read_only(&path).expect("a book");
    assert!(book.entries_of(&celltriage_book::Subject::cell("PE-0421")).expect("readable").is_empty());
}

/// Sees what happens, and wants to stop at the first sample under load.
#[derive(Default)]
struct Watchful {
    begun: bool,
    ended: bool,
    stop: bool,
}

impl Attendant<WorkEvent> for Watchful {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::RunBegins(_) => self.begun = true,
            WorkEvent::Run(RunEvent::Fixture(Event::Samples(block))) => self.stop |= block.step > 0,
            WorkEvent::RunEnds => self.ended = true,
            _ => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        self.stop
    }
}

#[test]
fn who_attends_sees_the_run_and_can_stop_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let clock = HeldClock::at("2026-11-25T12:00:00Z".parse().expect("a timestamp"));
    let book = Book::open(folder.path().join("book.sqlite")).expect("a new book");
    let mut shop = Workshop::new(book, &clock, TimeZone::UTC);
    let choice = FixtureChoice::cell(None, Some("sound"), 1).expect("there is one");
    let label = choice.bench_cell().expect("it is simulated").nameplate.clone();
    let setting = Setting::built_in(None, shop.today()).expect("the built-in policy and rules");
    let case = Case::new("PE-0422", label, Observations::no_signs(), setting);
    let job = Job { case, choice, simulated: true, extent: Extent::Screen, overrides: Overrides::default() };
    let mut attendant = Watchful::default();
    let assessed = shop.attend(&job, &mut attendant).expect("recorded");
    assert!(attendant.begun && attendant.ended && attendant.stop);
    assert!(!assessed.is_finished());
    assert_ne!(assessed.assessment.verdict.fate, Fate::Reuse);
}
