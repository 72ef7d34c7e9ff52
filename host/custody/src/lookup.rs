//! What an event names, looked up in the state, and the plain rules of names, texts and days.

use crate::cell::{Cell, Whereabouts};
use crate::cell_name::CellName;
use crate::cell_name::alike::spelling;
use crate::refusal::Refusal;
use crate::refusal_on_leaving::RefusalOnLeaving;
use crate::state::{Container, Shipment, State};
use jiff::civil::Date;

/// Returns another cell of a state whose name looks the same; the state must have been read for this name.
pub fn looks_like<'s>(state: &'s State, name: &str) -> Option<&'s String> {
    alike(state.cells.keys(), name)
}

/// Returns another container that stands here and whose name looks the same.
pub(crate) fn container_like<'s>(state: &'s State, name: &str) -> Option<&'s String> {
    let standing = state.containers.iter().filter(|(_, container)| container.is_here());
    alike(standing.map(|(known, _)| known), name)
}

fn alike<'s>(mut names: impl Iterator<Item = &'s String>, name: &str) -> Option<&'s String> {
    let same = spelling(name);
    names.find(|known| *known != name && spelling(known) == same)
}

/// Returns a cell that was assessed or received.
pub(crate) fn known<'a>(state: &'a State, name: &str) -> Result<&'a Cell, Refusal> {
    state
        .cells
        .get(name)
        .filter(|cell| cell.facts.is_some() || cell.is_received())
        .ok_or_else(|| Refusal::UnknownCell(name.to_owned()))
}

/// Returns a cell that the book knows and that has not left.
pub(crate) fn present<'a>(state: &'a State, name: &str) -> Result<&'a Cell, Refusal> {
    let cell = known(state, name)?;
    not_gone(name, cell).map(|()| cell)
}

/// Says that a cell has left, where it has.
///
/// # Errors
/// The shipment it left with.
pub fn not_gone(name: &str, cell: &Cell) -> Result<(), Refusal> {
    match &cell.whereabouts {
        Whereabouts::HandedOver { shipment, on } => {
            Err(Refusal::CellGone { cell: name.to_owned(), shipment: shipment.clone(), on: *on })
        }
        Whereabouts::Left { .. } => {
            let (cell, how) = (name.to_owned(), cell.whereabouts.words());
            Err(RefusalOnLeaving::CellLeft { cell, how }.into())
        }
        _ => Ok(()),
    }
}

/// Returns a cell that has not left; `None` for a name that the book does not know: it may be that of a new cell.
pub(crate) fn may_be_new<'a>(state: &'a State, name: &str) -> Result<Option<&'a Cell>, Refusal> {
    match state.cells.get(name) {
        Some(cell) => not_gone(name, cell).map(|()| Some(cell)),
        None if state.containers.contains_key(name) || state.shipments.contains_key(name) => {
            Err(Refusal::UnknownCell(name.to_owned()))
        }
        None => CellName::new(name).map(|_| None).map_err(Refusal::BadCellName),
    }
}

/// Says that a cell is in a device, where it is.
///
/// # Errors
/// The device.
pub fn in_no_device(name: &str, cell: &Cell) -> Result<(), Refusal> {
    match &cell.whereabouts {
        Whereabouts::Fitted { device, since, .. } => {
            Err(Refusal::IsFitted { cell: name.to_owned(), device: device.clone(), since: *since })
        }
        _ => Ok(()),
    }
}

/// Returns a container that there is.
pub(crate) fn container<'a>(state: &'a State, name: &str) -> Result<&'a Container, Refusal> {
    state.containers.get(name).ok_or_else(|| Refusal::UnknownContainer(name.to_owned()))
}

/// Returns a container that there is, for whoever asks from above.
///
/// # Errors
/// There is none of that name.
pub fn standing_container<'a>(state: &'a State, name: &str) -> Result<&'a Container, Refusal> {
    container(state, name)
}

/// Returns a container that may be filled and emptied.
pub(crate) fn open_container<'a>(state: &'a State, name: &str) -> Result<&'a Container, Refusal> {
    let found = container(state, name)?;
    if let Some(shipment) = &found.left_with {
        return Err(Refusal::ContainerGone { container: name.to_owned(), shipment: shipment.clone() });
    }
    if let Some(left) = &found.left {
        let (container, how) = (name.to_owned(), left.departure.words());
        return Err(RefusalOnLeaving::ContainerLeft { container, how, on: left.on }.into());
    }
    if let Some(shipment) = &found.drafted_for {
        return Err(Refusal::ContainerDrafted { container: name.to_owned(), shipment: shipment.clone() });
    }
    Ok(found)
}

/// Returns a shipment that there is.
pub(crate) fn shipment<'a>(state: &'a State, name: &str) -> Result<&'a Shipment, Refusal> {
    state.shipments.get(name).ok_or_else(|| Refusal::UnknownShipment(name.to_owned()))
}

/// Says whether a name is still free.
pub(crate) fn free(state: &State, name: &str) -> Result<(), Refusal> {
    one_line("name", name)?;
    let taken = [
        ("cell", state.cells.contains_key(name)),
        ("container", state.containers.contains_key(name)),
        ("shipment", state.shipments.contains_key(name)),
    ];
    match taken.into_iter().find(|(_, taken)| *taken) {
        Some((what, _)) => Err(Refusal::NameTaken { name: name.to_owned(), what }),
        None => Ok(()),
    }
}

/// Says whether a text is one line that can be found again.
pub(crate) fn one_line(what: &'static str, text: &str) -> Result<(), Refusal> {
    let fits = !text.is_empty() && text.trim() == text && !text.chars().any(char::is_control);
    if fits { Ok(()) } else { Err(Refusal::BadText(what)) }
}

pub(crate) fn not_later_than(day: Date, last: Date, what: &str) -> Result<(), Refusal> {
    if day <= last { Ok(()) } else { Err(Refusal::BadDay { day, what: format!("{what} ({last})") }) }
}

pub(crate) fn not_before(day: Date, first: Date, what: &str) -> Result<(), Refusal> {
    if day >= first { Ok(()) } else { Err(Refusal::BadDay { day, what: format!("before {what} ({first})") }) }
}
