//! Under which keys and labels the state is kept: a value for each cell, container, shipment and struck entry.

use crate::cell::{Cell, Whereabouts};
use crate::due::waits_for;
use crate::event::Event;
use crate::label_on::wrong_label;
use crate::state::{Container, Progress, Shipment, State};
use celltriage_rules::LegalState;

/// A value that is kept.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Key {
    Whole,
    Cell(String),
    Container(String),
    Shipment(String),
    Struck(u32),
}

/// Labels under which cells and others are found.
pub(crate) mod label {
    pub(crate) const WATCHED: &str = "watched";
    /// Cells, containers and shipments that something may be due on.
    pub(crate) const STANDING: &str = "standing";
    pub(crate) const CONTAINERS: &str = "containers";
    pub(crate) const SHIPMENTS: &str = "shipments";

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
pub(crate) fn touched(state: &State, subject: &str, event: Option<&Event>) -> Vec<Key> {
    // The time of an entry counts for all watches.
    let mut keys: Vec<Key> = state.watched.iter().cloned().map(Key::Cell).collect();
    keys.push(Key::Whole);
    keys.extend(Key::named(subject));
    match event {
        Some(Event::CellPlaced(placed)) => keys.extend(Key::named(&placed.container)),
        Some(Event::ShipmentDrafted(draft)) => keys.extend(Key::named(&draft.container)),
        Some(Event::Correction(correction)) => {
            keys.push(Key::Struck(correction.entry));
            keys.extend(Key::named(&correction.subject));
        }
        Some(Event::HandedOver(_) | Event::ShipmentWithdrawn(_)) => {
            if let Some(shipment) = state.shipments.get(subject) {
                keys.extend(Key::named(&shipment.draft.container));
                keys.extend(shipment.draft.contents.iter().map(|item| Key::Cell(item.cell.clone())));
            }
        }
        _ => {}
    }
    keys
}

pub(crate) fn of_cell(name: &str, cell: &Cell) -> Vec<String> {
    let mut labels = vec![label::spelt(name)];
    if cell.watch.is_some() {
        labels.push(label::WATCHED.to_owned());
    }
    labels.extend(cell.container().map(label::inside));
    let gone = matches!(cell.whereabouts, Whereabouts::HandedOver { .. });
    let fitted = matches!(cell.whereabouts, Whereabouts::Fitted { .. });
    let due = cell.watch.is_some() || cell.container().is_some() || cell.discarded_on().is_some();
    let waits = !cell.is_simulated() && waits_for(cell).is_some();
    let due = due || waits || fitted || cell.to_screen().is_some() || wrong_label(cell).is_some();
    if !gone && (due || cell.standing().next().is_some() || cell.legal() == LegalState::Critical) {
        labels.push(label::STANDING.to_owned());
    }
    labels
}

pub(crate) fn of_container(name: &str, container: &Container) -> Vec<String> {
    let standing = container.left_with.is_none().then(|| label::STANDING.to_owned());
    standing.into_iter().chain([label::CONTAINERS.to_owned(), label::spelt(name)]).collect()
}

pub(crate) fn of_shipment(shipment: &Shipment) -> Vec<String> {
    let standing = (shipment.progress == Progress::Drafted).then(|| label::STANDING.to_owned());
    standing.into_iter().chain([label::SHIPMENTS.to_owned()]).collect()
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
            _ => return None,
        })
    }
}
