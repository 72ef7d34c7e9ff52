//! What happened against the rules, for tests.

use super::World;
use crate::about::About;
use crate::check::broken_rules;
use crate::event::{Event, Irregularity, Named, Remedy, SCHEMA, Signed};
use crate::refusal::Refusal;

impl World {
    /// An event that the rules refuse, as it happened today.
    ///
    /// # Errors
    /// It is none that can be written down so.
    pub fn irregular(&self, event: Event, action: &str) -> Result<Event, Refusal> {
        let about = match About::of(&event) {
            About::Cell => Named::Cell,
            About::Container => Named::Container,
            About::Shipment => Named::Shipment,
        };
        let signed = Signed { schema: SCHEMA, by: "Ines Harrow".to_owned(), on: self.today, event };
        let breaks = broken_rules(&self.state, &signed, &self.circumstances())?;
        Ok(Event::Irregularity(Box::new(Irregularity {
            about,
            name: signed.event.subject().to_owned(),
            event: Some(Box::new(signed.event)),
            happened: None,
            breaks,
            action: action.to_owned(),
        })))
    }
}

/// What put an irregularity right; that of no entry is about a cell.
pub fn remedy(world: &World, entry: u32, done: &str) -> Event {
    let told = world.state.irregularities.get(&entry).map(|one| &one.told);
    let (about, name) = told.map_or((Named::Cell, "PE-1".to_owned()), |told| (told.about, told.name.clone()));
    Event::Remedy(Remedy { about, name, entry, done: done.to_owned() })
}
