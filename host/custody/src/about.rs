//! What an event is about: its subject is the name of a cell, of a container or of a shipment, and one name can be all three.

use crate::cell::Cell;
use crate::event::{ContainerLeft, ContainerReturned, Event, Named, ShipmentDrafted};
use crate::state::State;
use celltriage_book::{Subject, SubjectKind};

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
        let named = |named: Named| match named {
            Named::Cell => Self::Cell,
            Named::Container => Self::Container,
            Named::Shipment => Self::Shipment,
        };
        let kind = match event {
            Event::Irregularity(event) => return named(event.about),
            Event::Remedy(event) => return named(event.about),
            Event::Correction(correction) => correction.of.as_str(),
            event => event.kind(),
        };
        match kind {
            "container-opened"
            | "container-left"
            | "container-returned"
            | "container-moved"
            | "container-repacked"
            | "container-irregularity"
            | "container-remedy" => Self::Container,
            "shipment-drafted"
            | "shipment-withdrawn"
            | "receiver-agreed"
            | "handed-over"
            | "shipment-followed-up"
            | "shipment-irregularity"
            | "shipment-remedy" => Self::Shipment,
            _ => Self::Cell,
        }
    }
}

/// Returns what an event is about: what it stands under first.
pub(crate) fn subjects(event: &Event) -> Vec<Subject> {
    let kind = match About::of(event) {
        About::Cell => SubjectKind::Cell,
        About::Container => SubjectKind::Container,
        About::Shipment => SubjectKind::Shipment,
    };
    let mut subjects = vec![Subject::new(kind, event.subject())];
    match event {
        Event::Irregularity(irregular) => {
            let inner = irregular.event.as_deref().map(self::subjects).unwrap_or_default();
            subjects.extend(inner.into_iter().skip(1));
        }
        Event::CellPlaced(placed) => subjects.push(Subject::new(SubjectKind::Container, &placed.container)),
        Event::ShipmentDrafted(draft) => {
            subjects.extend(draft.containers().map(|name| Subject::new(SubjectKind::Container, name)));
            subjects.extend(draft.contents.iter().map(|item| Subject::cell(&item.cell)));
        }
        Event::ContainerRepacked(repacked) => {
            subjects.extend(repacked.into.iter().map(|name| Subject::new(SubjectKind::Container, name)));
            subjects.extend(repacked.cells.iter().map(|inside| Subject::cell(&inside.cell)));
        }
        Event::ContainerLeft(ContainerLeft { cells, .. })
        | Event::ContainerReturned(ContainerReturned { cells, .. }) => {
            subjects.extend(cells.iter().map(|inside| Subject::cell(&inside.cell)));
        }
        _ => {}
    }
    subjects
}

/// Returns whether an event is about simulated cells or real ones; `None` where nothing says which.
pub(crate) fn sort_of(state: &State, event: &Event) -> Option<bool> {
    let of_cell = |name: &str| {
        let cell = state.cells.get(name)?;
        if cell.is_simulated() { Some(true) } else { cell.is_real().then_some(false) }
    };
    let shipment = |draft: &ShipmentDrafted| draft.contents.iter().find_map(|item| of_cell(&item.cell));
    match (About::of(event), event) {
        (_, Event::ShipmentDrafted(draft)) => shipment(draft),
        (About::Cell, _) => of_cell(event.subject()),
        (About::Container, _) => state.cells_in(event.subject()).find_map(|(name, _)| of_cell(name)),
        (About::Shipment, _) => state.shipments.get(event.subject()).and_then(|found| shipment(&found.draft)),
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
