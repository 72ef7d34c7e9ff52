//! The shop as it is played: its book, its clock, what was told, and what came of each step.

use crate::away::Away;
use crate::bench::Tested;
use crate::cells::{Kind, name};
use crate::clock::WrongClock;
use crate::disk::Disk;
use crate::job::packs;

use crate::step::Step;
use crate::tally::Tally;
use crate::told::Told;
use celltriage_book::Book;
use celltriage_custody::PackRules;
use celltriage_link::Attendant;
use celltriage_workshop::clock_word::ClockWord;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::signer::Signer;
use celltriage_workshop::{Fault, Workshop};
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::path::PathBuf;

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
    /// By how much the fixture is off: thousandths of the current, millivolts.
    pub(crate) drift: (i8, i8),
    /// Whether the check standard has stopped the fixture, and how many others have taken its place before.
    pub(crate) is_stopped: bool,
    pub(crate) replaced: u64,
    /// The other bench of the shop: another program with the same book.
    pub(crate) second: Option<Workshop<'c>>,
    /// The bench away.
    pub(crate) away: Option<Away<'c>>,
    /// The disk of the book.
    pub(crate) disk: Disk,
}

/// Plays a story; returns what it was made of.
///
/// # Errors
/// The first promise that is broken.
pub fn play(story: &[Step]) -> Result<Tally, Box<Broken>> {
    let broken = |at: usize| move |(promise, what)| Box::new(Broken { at, promise, what });
    let disk = Disk::of(story).map_err(|error| broken(0)(("the computer gives a folder", error)))?;
    let clock = WrongClock::at(MORNING);
    let mut life = Life::begin(disk, &clock).map_err(broken(0))?;
    for (at, step) in story.iter().enumerate() {
        life.touched = None;
        life.tally.steps += 1;
        if !life.can_be_done(step) {
            continue;
        }
        life.step(step).and_then(|()| life.promises_hold()).map_err(broken(at))?;
    }
    Ok(life.tally)
}

impl<'c> Life<'c> {
    fn begin(disk: Disk, clock: &'c WrongClock) -> Result<Self, (&'static str, String)> {
        let fails = |error: String| ("a new shop can begin", error);
        let path = disk.book();
        let book = Book::open(&path).map_err(|error| fails(error.to_string()))?;
        let shop = Workshop::new(book, clock, TimeZone::UTC);
        let packs = packs(shop.today()).map_err(fails)?;
        Ok(Self {
            shop,
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
            drift: (0, 0),
            is_stopped: false,
            replaced: 0,
            second: None,
            away: None,
            disk,
        })
    }

    fn step(&mut self, step: &Step) -> Came {
        match *step {
            Step::Arrives(cell, kind) => {
                self.kinds.insert(cell, kind);
            }
            Step::Tested { cell, tag, eyes, full, mishap } => {
                return self.tested(&Tested { cell, tag, eyes, full, mishap });
            }
            Step::Graded(cell) => return self.graded(&name(cell)),
            Step::Drifts(thousandths, millivolts) => {
                self.drift = (thousandths, millivolts);
                if self.drift == (0, 0) && std::mem::take(&mut self.is_stopped) {
                    self.replaced += 1;
                }
            }
            Step::Standard => return self.standard_measured(),
            Step::OtherBench => return self.other_bench(),
            Step::Away(away) => return self.goes_away(away),
            Step::Merged => return self.merged(),
            Step::HotWatched(cell, hours, heat) => return self.hot_watched(cell, hours, heat),
            Step::DiskFull(left) => return self.disk_full(left),
            Step::DiskFreed => return self.disk_freed(),
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
        let book = match Book::open(&self.path) {
            // Its log may find no room; the program that is open goes on.
            Err(_) if self.disk.is_full() => return Ok(()),
            book => book.map_err(|error| fails(error.to_string()))?,
        };
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
            Fault::Book(_) if self.disk.is_full() => self.tally.untaken += 1,
            Fault::Book(error) => return Err(("the book does what it is asked", error.to_string())),
            _ => {}
        }
        Ok(())
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
