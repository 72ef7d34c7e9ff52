//! The plan `proof` on the simulated bench: where it ends for which cell, what is told meanwhile, and that it is judged again alike.

use celltriage_assessment::case::{Case, Setting};
use celltriage_assessment::recorded::Recorded;
use celltriage_book::Book;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_link::{Attendant, RunEvent};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::Extent;
use celltriage_protocol::event::{Event, Outcome};
use celltriage_verdict::{Fate, RunOutcome};
use celltriage_workshop::Workshop;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::decisions::Comparison;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use jiff::tz::TimeZone;
use std::path::Path;

/// Sees what is told of a run, and stops it where a person would.
#[derive(Default)]
struct Watch {
    shares: Vec<f64>,
    settled: usize,
    steps: usize,
    last_s: f64,
    first_s: Option<f64>,
    stop_at_share: Option<f64>,
}

impl Attendant<WorkEvent> for Watch {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::AtLeast { share, asked } => {
                assert!((asked - 0.8).abs() < 1e-9, "{asked}");
                self.shares.push(*share);
            }
            WorkEvent::Settled => self.settled += 1,
            WorkEvent::Run(RunEvent::Fixture(Event::StepStarted { .. })) => self.steps += 1,
            WorkEvent::Run(RunEvent::Fixture(Event::Samples(block))) => {
                self.last_s = block.next_at().get() as f64 / 1e6;
                self.first_s.get_or_insert(block.start.get() as f64 / 1e6);
            }
            WorkEvent::Run(RunEvent::Fixture(Event::PlanEnded { outcome, .. })) if self.settled > 0 => {
                assert_eq!(*outcome, Outcome::Stopped);
            }
            _ => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        self.stop_at_share.zip(self.shares.last()).is_some_and(|(at, share)| *share >= at)
    }
}

impl Watch {
    fn minutes(&self) -> f64 {
        (self.last_s - self.first_s.unwrap_or(0.0)) / 60.0
    }
}

/// Proves a simulated cell of this kind; `read_twice` says whether its label was read again.
fn proven(kind: &str, read_twice: bool, watch: &mut Watch, book: &Path) -> Assessed {
    let clock = HeldClock::at("2026-11-25T12:00:00Z".parse().expect("a timestamp"));
    let mut shop = Workshop::new(Book::open(book).expect("a book"), &clock, TimeZone::UTC);
    let choice = FixtureChoice::cell(None, Some(kind), 1).expect("a kind");
    let on_the_bench = choice.bench_cell().expect("it is simulated");
    let (label, thickness_mm) = (on_the_bench.nameplate.clone(), on_the_bench.thickness_mm.clone());
    let setting = Setting::built_in(None, shop.today()).expect("the built-in policy and rules");
    let label_again_ah = read_twice.then_some(label.rated_capacity_ah);
    let looks = Observations { label_again_ah, thickness_mm, ..Observations::no_signs() };
    let case = Case::new(&format!("PE-{kind}"), label, looks, setting);
    let job = Job { case, choice, simulated: true, extent: Extent::Proof, overrides: Overrides::default() };
    let assessed = shop.attend(&job, watch).expect("assessed");
    let again = shop.recompute(assessed.entry().expect("in the book").into()).expect("computed again");
    assert_eq!(again.comparison(), Comparison::Same, "{kind}: {:?}", again.different);
    assert!(shop.book().verify().expect("readable").passed());
    assessed
}

#[test]
fn each_cell_is_told_as_soon_as_its_answer_is_settled() {
    let folder = tempfile::tempdir().expect("a folder");
    // Kind, whether the label was read twice, fate, steps begun of twelve, minutes at most.
    for (kind, read_twice, fate, steps, minutes) in [
        ("sound", true, Fate::Reuse, 9, 105.0),
        ("sound", false, Fate::Reuse, 10, 125.0),
        ("faded", true, Fate::Recycle, 10, 95.0),
        ("high-resistance", true, Fate::Recycle, 9, 3.0),
        ("cylindrical", true, Fate::Reuse, 9, 105.0),
        ("iron-phosphate", true, Fate::Reuse, 9, 105.0),
    ] {
        let mut watch = Watch::default();
        let path = folder.path().join(format!("{kind}-{read_twice}.sqlite"));
        let assessed = proven(kind, read_twice, &mut watch, &path);
        let verdict = &assessed.assessment.verdict;
        let told = format!("{kind}, {read_twice}: {} after {:.1} min", verdict.statement, watch.minutes());
        assert_eq!(verdict.fate, fate, "{told}");
        assert_eq!(assessed.assessment.conditions.run, RunOutcome::Settled, "{told}");
        assert!(assessed.is_finished() && watch.settled == 1, "{told}");
        assert_eq!(watch.steps, steps, "{told}");
        assert!(watch.minutes() <= minutes, "{told}");
        let bound = assessed.assessment.estimates.contains_key(&Quantity::CapacityFractionAtLeast);
        assert_eq!(bound, read_twice && fate == Fate::Reuse, "{told}");
        assert!(watch.shares.windows(2).all(|two| two[0] < two[1]), "{:?}", watch.shares);
    }
}

#[test]
fn a_recording_tells_by_itself_that_it_was_ended_when_settled() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("book.sqlite");
    let assessed = proven("sound", true, &mut Watch::default(), &path);
    let book = Book::open_read_only(&path).expect("a book");
    let kept = book.recordings_of(assessed.entry().expect("in the book")).expect("readable");
    let frames = book.recording(kept[0].number).expect("readable").expect("there");
    assert_eq!(Recorded::read(&frames, None).run, RunOutcome::Settled);
    // Without the host's last word it is a run that somebody stopped: frames end with a zero byte, and the stop is a short one.
    let pieces: Vec<&[u8]> = frames.split_inclusive(|byte| *byte == 0).collect();
    let without = (0..pieces.len()).rev().find_map(|left_out| {
        let rest: Vec<u8> = pieces
            .iter()
            .enumerate()
            .filter(|(at, _)| *at != left_out)
            .flat_map(|(_, p)| p.to_vec())
            .collect();
        let run = Recorded::read(&rest, None).run;
        (run != RunOutcome::Settled && left_out + 1 < pieces.len()).then_some(run)
    });
    assert!(matches!(without, Some(RunOutcome::Unfinished { why }) if why.contains("a person")));
}

#[test]
fn what_a_person_stops_is_not_finished_however_much_was_counted() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut watch = Watch { stop_at_share: Some(0.4), ..Watch::default() };
    let assessed = proven("sound", true, &mut watch, &folder.path().join("book.sqlite"));
    let run = &assessed.assessment.conditions.run;
    assert!(matches!(run, RunOutcome::Unfinished { why } if why.contains("a person")), "{run:?}");
    assert_eq!(assessed.assessment.verdict.fate, Fate::Quarantine);
    assert_eq!(watch.settled, 0);
}
