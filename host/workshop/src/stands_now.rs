//! What the book has of a cell now, beside an entry that is shown: an old page must not read as if nothing had been found.

use celltriage_book::Entry;
use celltriage_custody::about::{About, is_about_simulated};
use celltriage_custody::cell::Cell;
use celltriage_custody::event::Event;
use celltriage_custody::{State, simulated};
use celltriage_verdict::KnownFinding;

/// How the cell of an entry stands now.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StandsNow {
    /// Whether the entry is about a simulated cell, or a container or shipment of such.
    pub simulated: bool,
    /// What is known against the cell and not told by the entry itself.
    pub known: Vec<KnownFinding>,
}

impl StandsNow {
    /// Reads it for an entry and the event in it, if it is one.
    pub(crate) fn of(state: &State, entry: &Entry, event: Option<&Event>) -> Self {
        // A container or a shipment may bear the name of a cell.
        let cell = state
            .cells
            .get(&entry.subject.name)
            .filter(|_| event.is_none_or(|event| About::of(event) == About::Cell));
        let told = simulated::of_entry(entry);
        let simulated = match event {
            Some(event) => is_about_simulated(state, event),
            None => told.unwrap_or_else(|| cell.is_some_and(Cell::is_simulated)),
        };
        let mut known = cell.map_or_else(Vec::new, Cell::known);
        known.retain(|found| found.entry != entry.number);
        Self { simulated, known }
    }

    /// The same without what a decision tells already.
    pub(crate) fn since(mut self, told: &[KnownFinding]) -> Self {
        let is_told =
            |one: &KnownFinding| told.iter().any(|told| (told.entry, &told.what) == (one.entry, &one.what));
        self.known.retain(|one| !is_told(one));
        self
    }
}
