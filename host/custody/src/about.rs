//! What an event is about: its subject is the name of a cell, of a container or of a shipment, and one name can be all three.

use crate::cell::Cell;
use crate::event::Event;
use crate::state::State;

/// What sort of thing bears the name of the subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// A cell.
    Cell,
    /// A container.
    Container,
    /// A shipment.
    Shipment,
}

impl About {
    /// Returns it for an event; a correction is about what the corrected entry is about.
    pub fn of(event: &Event) -> Self {
        let kind = match event {
            Event::Correction(correction) => correction.of.as_str(),
            event => event.kind(),
        };
        match kind {
            "container-opened" => Self::Container,
            "shipment-drafted" | "shipment-withdrawn" | "receiver-agreed" | "handed-over" => Self::Shipment,
            _ => Self::Cell,
        }
    }
}

/// Returns whether an event is about a simulated cell, or about a container or a shipment of simulated cells.
pub fn is_about_simulated(state: &State, event: &Event) -> bool {
    if let Event::ShipmentDrafted(draft) = event {
        return state.simulated_in(draft).is_some();
    }
    let subject = event.subject();
    match About::of(event) {
        About::Cell => state.cells.get(subject).is_some_and(Cell::is_simulated),
        About::Container => state.holds_simulated(subject),
        About::Shipment => {
            state.shipments.get(subject).is_some_and(|shipment| state.simulated_in(&shipment.draft).is_some())
        }
    }
}
