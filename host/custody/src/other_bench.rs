//! What the entry of another bench may lift: nothing that it cannot have known of.
//!
//! An entry of another bench is taken in behind all that was written here, and may have been written long before. Whoever released
//! a watch, judged a cell or tested it there knew the findings of that book. What was found here, or at a third bench, stands
//! until somebody who has it before him ends it; nor is a look or a watch of there one that came after it. Where both books were
//! once merged into each other this may keep a finding that was known there: then it is ended here once more. What names its entry
//! (a finding that is ended, an entry that is struck) is exact and is left alone.

use crate::cell::Cell;
use crate::error::CustodyError;
use crate::event::{Event, Signed};
use crate::state::State;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::{Book, Entry};
use celltriage_instrument::hot_cell::record::WATCH;
use celltriage_verdict::{KnownFinding, Told};

/// Notes that a look at a cell's temperature was made at another bench.
pub(crate) fn looked_elsewhere(state: &mut State, entry: &Entry, signed: Option<&Signed>) {
    let is_look = matches!(signed.map(|signed| &signed.event), Some(Event::TemperatureLook(_)));
    if let Some(cell) = state.cells.get_mut(&entry.subject.name).filter(|_| is_look && entry.from.is_some()) {
        cell.grounds.was_elsewhere(entry.number);
    }
}

/// A cell before an entry of another bench was taken in, and what that bench did not know of it.
pub(crate) struct Before {
    cell: Cell,
    unknown: Vec<u32>,
}

impl Before {
    /// Looks at the cell that an entry is about; `None` where the entry is of this bench, or lifts nothing but what it names.
    pub(crate) fn of(
        book: &Book,
        state: &State,
        entry: &Entry,
        signed: Option<&Signed>,
    ) -> Result<Option<Self>, CustodyError> {
        let Some((bench, _)) = entry.from else { return Ok(None) };
        let event = signed.map(|signed| &signed.event);
        let lifts = entry.kind == ASSESSMENT
            || entry.kind == WATCH
            || matches!(
                event,
                Some(Event::Judgement(_) | Event::Release(_) | Event::Hold(_) | Event::TemperatureLook(_))
            );
        let Some(cell) = state.cells.get(&entry.subject.name).filter(|_| lifts) else { return Ok(None) };
        let mut unknown = Vec::new();
        for found in &cell.found {
            let from = book.head(found.entry)?.and_then(|head| head.from);
            if from.map(|(book, _)| book) != Some(bench) {
                unknown.push(found.entry);
            }
        }
        Ok((!unknown.is_empty()).then(|| Self { cell: cell.clone(), unknown }))
    }

    /// Puts back what the entry has lifted without knowing it.
    pub(crate) fn keep(self, state: &mut State, entry: &Entry) {
        let Self { cell: before, unknown } = self;
        let Some(cell) = state.cells.get_mut(&entry.subject.name) else { return };
        if entry.kind != ASSESSMENT {
            cell.grounds.knew_nothing_of(entry.number, &unknown);
        }
        // A test on a later day has seen the cell as it was after that, whoever knew of it.
        let tested_on =
            cell.facts.as_ref().filter(|facts| facts.assessment == entry.number).map(|facts| facts.on);
        for old in before.found.iter().filter(|found| unknown.contains(&found.entry)) {
            let same = |now: &&mut KnownFinding| {
                (now.entry, now.kind, now.told) == (old.entry, old.kind, old.told) && now.what == old.what
            };
            match cell.found.iter_mut().find(same) {
                Some(now) => {
                    if now.released_by == Some(entry.number) && tested_on.is_none_or(|on| on <= old.on) {
                        now.released_by = old.released_by;
                    }
                    if now.settled_by == Some(entry.number) {
                        now.settled_by = old.settled_by;
                    }
                }
                None => cell.found.push(old.clone()),
            }
            cell.escalated |= before.escalated && old.is_acute();
        }
        let is_watched = |found: &KnownFinding| found.told == Told::Hold && unknown.contains(&found.entry);
        if !before.found.iter().any(is_watched) {
            return;
        }
        // Of two watches the one that ends later goes on.
        if let Some(watch) = before.watch
            && cell.watch.as_ref().is_none_or(|now| now.hold.until < watch.hold.until)
        {
            cell.watch = Some(watch);
            state.watch_what_is_here(&entry.subject.name);
        }
    }
}
