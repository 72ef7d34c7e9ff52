//! Other benches: a second program at the shop's book, and a bench away with a book of its own that is merged into the shop's.
//!
//! Who works away knows only what was told there, and has neither the shop's boxes nor cells that lie in them. What is told there
//! is noted apart, and counts in the shop from the merge on, by the numbers that the merge has told.

use crate::life::{Came, Life};
use crate::step::Step;
use crate::told::{Ended, Lies, OfCell, Told};
use celltriage_book::Book;
use celltriage_workshop::Workshop;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The bench at which nobody works just now: the one away, or the shop's while somebody works away.
pub(crate) struct Away<'c> {
    shop: Workshop<'c>,
    path: PathBuf,
    told: Told,
    /// Whether somebody works away, and this is the shop's.
    is_left: bool,
    /// Numbers in the book away, and in the shop's, as merges have told them.
    numbers: BTreeMap<u32, u32>,
    /// When it was merged last.
    merged_at: Timestamp,
}

impl<'c> Life<'c> {
    /// Whether somebody works at the bench away.
    pub(crate) fn is_away(&self) -> bool {
        self.away.as_ref().is_some_and(|away| away.is_left)
    }

    /// Whether a step can be done where somebody works: boxes, devices and the cells in them are in the shop.
    pub(crate) fn can_be_done(&self, step: &Step) -> bool {
        if matches!(step, Step::Settled(_) | Step::OtherBench | Step::AtOnce(..)) && self.disk.is_full() {
            return false;
        }
        let Some(shop) = self.away.as_ref().filter(|away| away.is_left) else { return true };
        let here = |cell: u8| {
            let lies = shop.told.cells.get(&crate::cells::name(cell)).map(|cell| &cell.lies);
            lies.is_none_or(|lies| *lies == Lies::Loose)
        };
        match *step {
            Step::Opened(..)
            | Step::Boxed(..)
            | Step::AtOnce(..)
            | Step::TakenOut(_)
            | Step::Drafted(_)
            | Step::Agreed(_)
            | Step::Leaves(_)
            | Step::Withdrawn(_)
            | Step::Fitted(_)
            | Step::Unfitted(_)
            | Step::OtherBench
            | Step::Standard
            | Step::DiskFull(_)
            | Step::DiskFreed => false,
            Step::Tested { cell, .. }
            | Step::Graded(cell)
            | Step::Judged(cell, _)
            | Step::Watched(cell, _)
            | Step::Seen(cell, _)
            | Step::Released(cell)
            | Step::Reacts(cell)
            | Step::Recorded(cell)
            | Step::Struck(cell, _)
            | Step::Thermometer(cell, _)
            | Step::Ended(cell, _)
            | Step::Shaken(cell, _)
            | Step::Settled(cell)
            | Step::HotWatched(cell, ..) => here(cell),
            _ => true,
        }
    }

    /// Work goes on at the other bench of the shop, whose program has the same book open all the time.
    pub(crate) fn other_bench(&mut self) -> Came {
        let other = match self.second.take() {
            Some(other) => other,
            None => self.at_another(&self.path.clone())?,
        };
        self.second = Some(std::mem::replace(&mut self.shop, other));
        self.tally.other_bench += 1;
        Ok(())
    }

    /// Work goes on at the bench away, or in the shop again.
    pub(crate) fn goes_away(&mut self, away: bool) -> Came {
        if away == self.is_away() || (away && self.disk.is_full()) {
            return Ok(());
        }
        let mut other = match self.away.take() {
            Some(other) => other,
            None => {
                let path = self.path.with_file_name("away.sqlite");
                let (shop, told) = (self.at_another(&path)?, Told::default());
                let (numbers, merged_at) = (BTreeMap::new(), Timestamp::MIN);
                Away { shop, path, told, is_left: false, numbers, merged_at }
            }
        };
        std::mem::swap(&mut self.shop, &mut other.shop);
        std::mem::swap(&mut self.path, &mut other.path);
        std::mem::swap(&mut self.told, &mut other.told);
        other.is_left = away;
        self.away = Some(other);
        Ok(())
    }

    pub(crate) fn at_another(&self, path: &Path) -> Result<Workshop<'c>, (&'static str, String)> {
        let fails = |error: String| ("a book can be opened beside another program", error);
        let book = Book::open(path).map_err(|error| fails(error.to_string()))?;
        Ok(Workshop::new(book, self.clock, TimeZone::UTC))
    }

    /// The bench away is back: the shop's book takes in what its book has.
    pub(crate) fn merged(&mut self) -> Came {
        self.goes_away(false)?;
        let Some(mut away) = self.away.take() else { return Ok(()) };
        let came = self.taken_in(&mut away);
        self.away = Some(away);
        came
    }

    fn taken_in(&mut self, away: &mut Away<'_>) -> Came {
        let done = match self.shop.merge(&away.path, &mut |_| {}) {
            Ok(done) => done.merged,
            Err(fault) => return self.refused(&fault),
        };
        let asked = |error: celltriage_book::BookError| ("the book can be asked", error.to_string());
        let wrong = |what: String| Err(("a merge takes in each entry once, and says where it is", what));
        let (known, last) = (done.known, away.shop.book().last_number().map_err(asked)?);
        let new: Vec<u32> = (known + 1..=last).collect();
        if usize::try_from(known) != Ok(away.numbers.len()) || new.len() != done.entries.len() {
            return wrong(format!("{known} known, {:?} new, of {last}", done.entries));
        }
        for (there, here) in new.iter().zip(&done.entries) {
            let head = self.shop.book().head(*here).map_err(asked)?;
            if head.and_then(|head| head.from).map(|(_, number)| number) != Some(*there) {
                return wrong(format!("entry {there} of the other book is not entry {here}"));
            }
            away.numbers.insert(*there, *here);
        }
        self.tally.merged += done.entries.len() as u64;
        match self.shop.merge(&away.path, &mut |_| {}) {
            Ok(again) if again.merged.entries.is_empty() => {}
            Ok(again) => return wrong(format!("a second time it takes in {:?}", again.merged.entries)),
            Err(fault) => return self.refused(&fault),
        }
        let names: Vec<String> = away.told.cells.keys().cloned().collect();
        for name in &names {
            let Some(theirs) = away.told.cells.get(name) else { continue };
            let mine = self.told.cells.entry(name.clone()).or_default();
            take_in(mine, theirs, (&away.numbers, known), away.merged_at);
        }
        for (there, here) in away.numbers.range(known + 1..) {
            if away.told.entries.contains(there) {
                self.told.entries.push(*here);
            }
            self.told.times.extend(away.told.times.get(there).map(|at| (*here, *at)));
        }
        away.merged_at = self.clock.true_time.get();
        // The promises hold for every cell of both.
        for name in &names {
            self.touched = Some(name.clone());
            self.promises_hold()?;
        }
        self.touched = None;
        Ok(())
    }
}

/// Takes in what was told of a cell away since the last merge; `known` entries were taken in before.
fn take_in(
    mine: &mut OfCell,
    theirs: &OfCell,
    (numbers, known): (&BTreeMap<u32, u32>, u32),
    merged_at: Timestamp,
) {
    let here = |there: &u32| numbers.get(there).copied();
    // What was struck or ended there no longer stands here.
    let stands: Vec<u32> = theirs.held.iter().filter_map(|(there, _)| here(there)).collect();
    let ended: Vec<u32> = numbers.range(..=known).map(|(_, here)| *here).collect();
    mine.held.retain(|(entry, _)| !ended.contains(entry) || stands.contains(entry));
    for (there, why) in theirs.held.iter().filter(|(there, _)| *there > known) {
        mine.held.extend(here(there).map(|here| (here, *why)));
    }
    let new_here = |there: u32| numbers.get(&there).copied().filter(|_| there > known);
    // Here it may stand for what was felt or measured here meanwhile.
    let again = theirs.ended.iter().filter_map(|ended| {
        Some(Ended { entry: here(&ended.entry)?, by: new_here(ended.by)?, may_stand: true, ..*ended })
    });
    mine.ended.extend(again);
    for (by, struck) in &theirs.struck {
        if let (Some(by), Some(struck)) = (new_here(*by), here(struck)) {
            mine.struck.push((by, struck));
            mine.strike(struck);
        }
    }
    mine.entries.extend(theirs.entries.iter().filter(|there| **there > known).filter_map(here));
    let felt = theirs.felt.iter().filter(|(there, ..)| *there > known);
    mine.felt.extend(felt.filter_map(|(there, at, warm)| Some((here(there)?, *at, *warm))));
    let quiet = theirs.quiet.iter().filter(|(there, ..)| *there > known);
    mine.quiet.extend(quiet.filter_map(|(there, at, hours)| Some((here(there)?, *at, *hours))));
    let later = |mine: &mut Option<Timestamp>, theirs: Option<Timestamp>| {
        *mine = (*mine).max(theirs.filter(|at| *at > merged_at));
    };
    later(&mut mine.reacted, theirs.reacted);
    later(&mut mine.judged, theirs.judged);
    later(&mut mine.used, theirs.used);
    later(&mut mine.shorted, theirs.shorted);
    later(&mut mine.screened, theirs.screened);
    later(&mut mine.looked_at, theirs.looked_at);
    later(&mut mine.seen, theirs.seen);
    // Of two watches neither ends early.
    let ends =
        |(began, days): (Timestamp, u8)| began.as_second().saturating_add(i64::from(days) * 24 * 3_600);
    if let Some(watch) = theirs.watch.filter(|(began, _)| *began > merged_at) {
        mine.watch = mine.watch.into_iter().chain([watch]).max_by_key(|watch| ends(*watch));
    }
}
