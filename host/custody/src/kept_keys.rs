//! Under which keys and labels the state is kept: a value for each cell, container, shipment and struck entry.

use crate::cell::{Cell, Whereabouts};
use crate::due::waits_for;
use crate::event::{ContainerLeft, ContainerReturned, Event};
use crate::label_on::wrong_label;
use crate::state::{Container, Irregular, Progress, Shipment, State};
use celltriage_rules::LegalState;

/// A value that is kept.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Key {
    Whole,
    Cell(String),
    Container(String),
    Shipment(String),
    Struck(u32),
    Irregular(u32),
}

/// Labels under which cells and others are found.
pub(crate) mod label {
    pub(crate) const WATCHED: &str = "watched";
    /// Cells, containers and shipments that something may be due on.
    pub(crate) const STANDING: &str = "standing";
    pub(crate) const CONTAINERS: &str = "containers";
    pub(crate) const SHIPMENTS: &str = "shipments";

    /// What happened against the rules and was not put right.
    pub(crate) const IRREGULAR: &str = "irregular";

    pub(crate) fn irregular_with(name: &str) -> String {
        format!("irregular with {name}")
    }

    pub(crate) fn inside(container: &str) -> String {
        format!("in {container}")
    }

    pub(crate) fn spelt(name: &str) -> String {
        format!("spelt {}", crate::cell_name::alike::spelling(name))
    }

    pub(crate) fn struck(subject: &str) -> String {
        format!("struck of {subject}")
    }
}

/// What an entry under a subject changes.
pub(crate) fn touched(state: &State, number: u32, subject: &str, event: Option<&Event>) -> Vec<Key> {
    // The time of an entry counts for all watches.
    let mut keys: Vec<Key> = state.watched.iter().cloned().map(Key::Cell).collect();
    keys.push(Key::Whole);
    keys.extend(Key::named(subject));
    match event {
        Some(Event::CellPlaced(placed)) => keys.extend(Key::named(&placed.container)),
        Some(Event::ShipmentDrafted(draft)) => keys.extend(draft.containers().flat_map(Key::named)),
        Some(Event::ContainerRepacked(repacked)) => {
            keys.extend(repacked.into.iter().flat_map(|name| Key::named(name)));
            keys.extend(repacked.cells.iter().map(|inside| Key::Cell(inside.cell.clone())));
        }
        Some(Event::Correction(correction)) => {
            keys.push(Key::Struck(correction.entry));
            keys.extend(Key::named(&correction.subject));
        }
        Some(Event::HandedOver(_) | Event::ShipmentWithdrawn(_)) => {
            if let Some(shipment) = state.shipments.get(subject) {
                keys.extend(shipment.draft.containers().flat_map(Key::named));
                keys.extend(shipment.draft.contents.iter().map(|item| Key::Cell(item.cell.clone())));
            }
        }
        Some(
            Event::ContainerLeft(ContainerLeft { cells, .. })
            | Event::ContainerReturned(ContainerReturned { cells, .. }),
        ) => {
            keys.extend(cells.iter().map(|inside| Key::Cell(inside.cell.clone())));
            keys.extend(cells.iter().filter_map(|inside| shipment_of(state, &inside.cell)));
        }
        Some(Event::Irregularity(irregular)) => {
            keys.push(Key::Irregular(number));
            if let Some(inner) = irregular.event.as_deref() {
                keys.extend(touched(state, number, inner.subject(), Some(inner)));
            }
        }
        Some(Event::Remedy(remedy)) => keys.push(Key::Irregular(remedy.entry)),
        Some(Event::CellReturned(back)) => keys.extend(shipment_of(state, &back.cell)),
        _ => {}
    }
    keys
}

/// The shipment that a cell left with.
fn shipment_of(state: &State, cell: &str) -> Option<Key> {
    match state.cells.get(cell).map(|cell| &cell.whereabouts)? {
        Whereabouts::HandedOver { shipment, .. } => Some(Key::Shipment(shipment.clone())),
        _ => None,
    }
}

pub(crate) fn of_cell(name: &str, cell: &Cell) -> Vec<String> {
    let mut labels = vec![label::spelt(name)];
    if cell.is_watched_here() {
        labels.push(label::WATCHED.to_owned());
    }
    labels.extend(cell.container().map(label::inside));
    let gone = cell.whereabouts.is_gone();
    let fitted = matches!(cell.whereabouts, Whereabouts::Fitted { .. });
    let due = cell.watch.is_some() || cell.container().is_some() || cell.discarded_on().is_some();
    let waits = !cell.is_simulated() && waits_for(cell).is_some();
    let due = due
        || waits
        || fitted
        || cell.lacks_consent().is_some()
        || cell.to_screen().is_some()
        || wrong_label(cell).is_some();
    if !gone && (due || cell.standing().next().is_some() || cell.legal() == LegalState::Critical) {
        labels.push(label::STANDING.to_owned());
    }
    labels
}

pub(crate) fn of_container(name: &str, container: &Container) -> Vec<String> {
    let standing = container.is_here().then(|| label::STANDING.to_owned());
    standing.into_iter().chain([label::CONTAINERS.to_owned(), label::spelt(name)]).collect()
}

pub(crate) fn of_shipment(shipment: &Shipment) -> Vec<String> {
    let open = shipment.progress == Progress::Drafted || !shipment.refused.is_empty();
    let standing = open.then(|| label::STANDING.to_owned());
    standing.into_iter().chain([label::SHIPMENTS.to_owned()]).collect()
}

pub(crate) fn of_irregular(irregular: &Irregular) -> Vec<String> {
    let open = irregular.is_open().then(|| label::IRREGULAR.to_owned());
    open.into_iter().chain(irregular.concerns.iter().map(|name| label::irregular_with(name))).collect()
}

impl Key {
    /// Everything that may bear a name.
    pub(crate) fn named(name: &str) -> [Self; 3] {
        [Self::Cell(name.to_owned()), Self::Container(name.to_owned()), Self::Shipment(name.to_owned())]
    }

    pub(crate) fn text(&self) -> String {
        match self {
            Self::Whole => "whole".to_owned(),
            Self::Cell(name) => format!("cell {name}"),
            Self::Container(name) => format!("container {name}"),
            Self::Shipment(name) => format!("shipment {name}"),
            Self::Struck(number) => format!("struck {number}"),
            Self::Irregular(number) => format!("irregular {number}"),
        }
    }

    pub(crate) fn of(text: &str) -> Option<Self> {
        let (kind, name) = text.split_once(' ').unwrap_or((text, ""));
        Some(match kind {
            "whole" => Self::Whole,
            "cell" => Self::Cell(name.to_owned()),
            "container" => Self::Container(name.to_owned()),
            "shipment" => Self::Shipment(name.to_owned()),
            "struck" => Self::Struck(name.parse().ok()?),
            "irregular" => Self::Irregular(name.parse().ok()?),
            _ => return None,
        })
    }
}
