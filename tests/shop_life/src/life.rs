//! The shop as it is played: its book, its clock, what was told, and what came of each step.

use crate::cells::Kind;
use crate::clock::WrongClock;
use crate::step::Step;
use crate::told::Told;
use celltriage_book::Book;
use celltriage_custody::PackRules;
use celltriage_link::Attendant;
use celltriage_rules::Packs;
use celltriage_workshop::clock_word::ClockWord;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::signer::Signer;
use celltriage_workshop::{Fault, Workshop};
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::ops::AddAssign;
use std::path::{Path, PathBuf};

/// When a story begins: a Monday morning.
const MORNING: &str = "2026-11-30T08:00:00Z";

/// A promise that was broken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broken {
    /// The step, from 0 on.
    pub at: usize,
    /// The promise.
    pub promise: &'static str,
    /// What happened.
    pub what: String,
}

/// What stories were made of, so that one sees that they get far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Steps.
    pub steps: u64,
    /// Steps that were refused.
    pub refused: u64,
    /// Tests for which the fixture was reached.
    pub on_fixture: u64,
    /// Tests that were kept off the fixture.
    pub kept_off: u64,
    /// Tests whose host was killed.
    pub killed: u64,
    /// Cells graded for reuse.
    pub reuse: u64,
    /// Cells that lay in a box.
    pub boxed: u64,
    /// Watches that ended.
    pub released: u64,
    /// Boxes that left.
    pub left: u64,
    /// Records of used cells.
    pub records: u64,
    /// Entries that were struck.
    pub struck: u64,
    /// Findings that were ended by their rule.
    pub ended: u64,
    /// Cells that went into a device.
    pub fitted: u64,
}

impl AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.steps += other.steps;
        self.refused += other.refused;
        self.on_fixture += other.on_fixture;
        self.kept_off += other.kept_off;
        self.killed += other.killed;
        self.reuse += other.reuse;
        self.boxed += other.boxed;
        self.released += other.released;
        self.left += other.left;
        self.records += other.records;
        self.struck += other.struck;
        self.ended += other.ended;
        self.fitted += other.fitted;
    }
}

/// What a step comes to: done, or a promise with what broke it.
pub(crate) type Came = Result<(), (&'static str, String)>;

/// The shop.
pub(crate) struct Life<'c> {
    pub(crate) shop: Workshop<'c>,
    pub(crate) clock: &'c WrongClock,
    pub(crate) path: PathBuf,
    pub(crate) rules: PackRules,
    pub(crate) kinds: BTreeMap<u8, Kind>,
    pub(crate) told: Told,
    /// How many shipments each box has had.
    pub(crate) shipments: BTreeMap<u8, u32>,
    pub(crate) tally: Tally,
    /// What was refused last, in words.
    pub(crate) last_refusal: Option<String>,
    /// Whether the clock ever stood wrong.
    pub(crate) clock_was_wrong: bool,
    /// The cell that the last step was about, by the name that was typed.
    pub(crate) touched: Option<String>,
}

/// Plays a story; returns what it was made of.
///
/// # Errors
/// The first promise that is broken.
pub fn play(story: &[Step]) -> Result<Tally, Box<Broken>> {
    let broken = |at: usize| move |(promise, what)| Box::new(Broken { at, promise, what });
    let folder = folder().map_err(|error| broken(0)(("the computer gives a folder", error)))?;
    let clock = WrongClock::at(MORNING);
    let mut life = Life::begin(folder.path(), &clock).map_err(broken(0))?;
    for (at, step) in story.iter().enumerate() {
        life.touched = None;
        life.tally.steps += 1;
        life.step(step).and_then(|()| life.promises_hold()).map_err(broken(at))?;
    }
    Ok(life.tally)
}

/// A folder in memory where the system has such: what syncs cost is measured elsewhere.
fn folder() -> Result<tempfile::TempDir, String> {
    let memory = Path::new("/dev/shm");
    let made = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
    made.map_err(|error| error.to_string())
}

impl<'c> Life<'c> {
    fn begin(folder: &Path, clock: &'c WrongClock) -> Result<Self, (&'static str, String)> {
        let fails = |error: String| ("a new shop can begin", error);
        let path = folder.join("book.sqlite");
        let book = Book::open(&path).map_err(|error| fails(error.to_string()))?;
        let packs = Packs::built_in().map_err(|error| fails(error.to_string()))?;
        Ok(Self {
            shop: Workshop::new(book, clock, TimeZone::UTC),
            clock,
            path,
            rules: PackRules::new(packs),
            kinds: BTreeMap::new(),
            told: Told::default(),
            shipments: BTreeMap::new(),
            tally: Tally::default(),
            last_refusal: None,
            clock_was_wrong: false,
            touched: None,
        })
    }

    fn step(&mut self, step: &Step) -> Came {
        match *step {
            Step::Arrives(cell, kind) => {
                self.kinds.insert(cell, kind);
            }
            Step::Tested { cell, tag, eyes, full, dies_after } => {
                return self.tested(cell, tag, eyes, full, dies_after);
            }
            Step::Passes(hours) => self.clock.pass(SignedDuration::from_hours(i64::from(hours))),
            Step::ClockWrong(days) => {
                self.clock_was_wrong |= days != 0;
                self.clock.wrong_by.set(SignedDuration::from_hours(24 * i64::from(days)));
            }
            Step::Restarted => return self.restarted(),
            Step::Checked => return self.checked(),
            _ => return self.at_the_desk(step),
        }
        Ok(())
    }

    /// The program is ended and started again.
    fn restarted(&mut self) -> Came {
        let fails = |error: String| ("a book that was closed opens again", error);
        let book = Book::open(&self.path).map_err(|error| fails(error.to_string()))?;
        self.shop = Workshop::new(book, self.clock, TimeZone::UTC);
        Ok(())
    }

    /// Who signs: somebody who says, where the clock is in doubt, that it is right.
    pub(crate) fn signer(&self) -> Signer {
        Signer { by: "Ines Harrow".to_owned(), on: None, clock: ClockWord::Confirmed }
    }

    /// A refusal is part of life; what the book itself cannot do is not.
    pub(crate) fn refused(&mut self, fault: &Fault) -> Came {
        self.tally.refused += 1;
        self.last_refusal = Some(fault.to_string());
        match fault {
            Fault::Book(error) => Err(("the book does what it is asked", error.to_string())),
            _ => Ok(()),
        }
    }
}

/// Hears what a face would show.
#[derive(Default)]
pub(crate) struct Ears {
    heard: bool,
    pub(crate) emergency_first: bool,
}

impl Attendant<WorkEvent> for Ears {
    fn sees(&mut self, event: &WorkEvent) {
        if !self.heard {
            self.emergency_first = matches!(event, WorkEvent::Emergency(texts) if !texts.is_empty());
        }
        self.heard = true;
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}
