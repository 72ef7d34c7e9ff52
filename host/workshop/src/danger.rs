//! What to do about a cell that is reacting, by the rules of the place where it is.

use crate::event::{Attendant, WorkEvent};
use crate::shop::Workshop;
use celltriage_assessment::record::assessment_of;
use celltriage_rules::{Packs, PlaceCode, emergency_texts};

impl Workshop<'_> {
    /// Returns where a cell is: the place of its container, else that of its latest assessment. What cannot be read counts
    /// as not known; nothing may keep an emergency text back.
    pub fn place_of(&self, cell: &str) -> Option<PlaceCode> {
        let state = self.state_about(&[cell]).ok()?;
        let found = state.cells.get(cell)?;
        let container = found.container().and_then(|name| state.containers.get(name));
        if let Some(container) = container {
            return Some(container.opened.place.clone());
        }
        let entry = self.book.entry(found.facts.as_ref()?.assessment).ok()??;
        assessment_of(&entry).ok()?.conditions.place
    }

    /// Tells the attendant what to do about a cell that is reacting.
    pub(crate) fn alarm_about(&self, cell: &str, packs: &Packs, attendant: &mut Attendant<'_>) {
        let texts = emergency_at(self.place_of(cell).as_ref(), packs);
        attendant.sees(&WorkEvent::Emergency(texts));
    }
}

/// Returns what to do about a cell that is reacting in a place.
pub fn emergency_at(place: Option<&PlaceCode>, packs: &Packs) -> Vec<String> {
    emergency_texts(packs, place).into_iter().map(str::to_owned).collect()
}
