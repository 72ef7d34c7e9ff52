//! Checks of what happened against the rules: it must be something that can have happened, and that a rule refuses.
//!
//! A refusal for a typing mistake (an unknown name, a day to come, an empty text) stays one; only what is refused by a rule is written
//! down as it was. Nothing simulated leaves or is moved so.

use super::check;
use super::leaving::well_formed;
use crate::cell::Cell;
use crate::circumstances::Circumstances;
use crate::event::{Event, HandedOver, Irregularity, Named, Remedy, Signed};
use crate::lookup::{not_before, one_line};
use crate::refusal::Refusal;
use crate::refusal_of_irregular::RefusalOfIrregular as Because;
use crate::state::State;
use crate::whereabouts::Whereabouts;
use jiff::civil::Date;
use std::collections::BTreeSet;

pub(super) fn written(
    state: &State,
    event: &Irregularity,
    signed: &Signed,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    one_line("text on what is done about it", &event.action)?;
    event.happened.iter().try_for_each(|text| one_line("text on what happened", text))?;
    let Some(inner) = event.event.as_deref() else {
        known(state, event)?;
        if event.happened.is_none() {
            return Err(Refusal::BadText("text on what happened"));
        }
        if event.breaks.is_empty() {
            return Err(Refusal::BadText("rule that it breaks"));
        }
        return event.breaks.iter().try_for_each(|rule| one_line("rule that it breaks", rule));
    };
    let inner = Signed { event: inner.clone(), ..signed.clone() };
    let breaks = broken_rules(state, &inner, circumstances)?;
    if event.name == inner.event.subject() && event.breaks == breaks {
        Ok(())
    } else {
        Err(Because::Outdated(event.name.clone()).into())
    }
}

fn known(state: &State, event: &Irregularity) -> Result<(), Refusal> {
    let name = &event.name;
    match event.about {
        Named::Cell if !state.cells.contains_key(name) => Err(Refusal::UnknownCell(name.clone())),
        Named::Container if !state.containers.contains_key(name) => {
            Err(Refusal::UnknownContainer(name.clone()))
        }
        Named::Shipment if !state.shipments.contains_key(name) => Err(Refusal::UnknownShipment(name.clone())),
        _ => Ok(()),
    }
}

pub(super) fn remedied(state: &State, event: &Remedy, on: Date) -> Result<(), Refusal> {
    one_line("text on what was done", &event.done)?;
    let found = state.irregularities.get(&event.entry);
    let named = found.filter(|one| (one.told.about, &one.told.name) == (event.about, &event.name));
    let found = named.ok_or(Because::NoIrregularity(event.entry))?;
    not_before(on, found.on, "it happened")?;
    match &found.remedied {
        None => Ok(()),
        Some(by) => Err(Because::PutRight { entry: event.entry, by: by.entry }.into()),
    }
}

/// Returns the rules that an event breaks which has happened, each in the words of its refusal.
///
/// # Errors
/// It breaks none, it cannot have happened so, or it is not told whole.
pub fn broken_rules(
    state: &State,
    signed: &Signed,
    circumstances: &Circumstances<'_>,
) -> Result<Vec<String>, Refusal> {
    told_whole(&signed.event)?;
    can_have_happened(state, &signed.event)?;
    let mut broken = Vec::new();
    // That it lay elsewhere by the book, or that papers are drafted, is asked first and hides what else is wrong with where it is.
    let let_go = as_if_nothing_held_it(state, &signed.event);
    for state in std::iter::once(state).chain(&let_go) {
        match check(state, signed, circumstances) {
            Ok(()) => {}
            Err(refusal) if refusal.is_a_rule() => broken.push(refusal.to_string()),
            Err(refusal) => return Err(refusal),
        }
    }
    broken.dedup();
    if broken.is_empty() { Err(Because::Regular.into()) } else { Ok(broken) }
}

/// Says whether an event is one that a person may write down as it was, with all its texts: what has moved or left.
fn told_whole(event: &Event) -> Result<(), Refusal> {
    match event {
        Event::CellPlaced(placed) => {
            placed.inner.iter().try_for_each(|inner| one_line("inner packing", inner))?;
            match placed.weighed {
                Some(mass) if mass.0 == 0 => {
                    Err(Refusal::BadNumber("a cell has a mass above zero".to_owned()))
                }
                _ => Ok(()),
            }
        }
        Event::CellTakenOut(taken) => one_line("reason", &taken.because),
        Event::Fitted(fitted) => {
            fitted.device.iter().try_for_each(|text| one_line("device", text))?;
            fitted.job.iter().try_for_each(|text| one_line("job", text))
        }
        Event::TakenOutOfDevice(taken) => taken.because.iter().try_for_each(|text| one_line("reason", text)),
        Event::HandedOver(HandedOver { waste_code, .. }) => {
            waste_code.iter().try_for_each(|code| one_line("waste code", code))
        }
        Event::ContainerMoved(moved) => {
            one_line("place where it stands", &moved.stands).and_then(|()| one_line("reason", &moved.because))
        }
        Event::ContainerRepacked(repacked) => {
            repacked
                .cells
                .iter()
                .flat_map(|one| &one.inner)
                .try_for_each(|inner| one_line("inner packing", inner))?;
            one_line("reason", &repacked.because)
        }
        Event::CellLeft(left) => well_formed(&left.departure),
        Event::ContainerLeft(left) => well_formed(&left.departure),
        other => Err(Because::NotSo(other.kind()).into()),
    }
}

fn can_have_happened(state: &State, event: &Event) -> Result<(), Refusal> {
    let cell = |name: &str| match state.cells.get(name) {
        Some(cell) if cell.is_simulated() => Err(Because::Simulated(name.to_owned())),
        _ => Ok(()),
    };
    let Event::HandedOver(handed) = event else {
        let repacked = match event {
            Event::ContainerRepacked(repacked) => repacked.cells.as_slice(),
            _ => &[],
        };
        let names = event.names().into_iter().chain(repacked.iter().map(|one| one.cell.as_str()));
        return Ok(names.into_iter().try_for_each(cell)?);
    };
    let Some(shipment) = state.shipments.get(&handed.shipment) else { return Ok(()) };
    let drafted: BTreeSet<&String> = shipment.draft.contents.iter().map(|item| &item.cell).collect();
    let there = shipment.draft.containers().flat_map(|name| state.cells_in(name));
    let there: BTreeSet<&String> = there.map(|(name, _)| name).collect();
    drafted.iter().try_for_each(|name| cell(name))?;
    if drafted == there {
        return Ok(());
    }
    let (shipment, container) = (handed.shipment.clone(), shipment.draft.container.clone());
    Err(Because::OtherCells { shipment, container }.into())
}

/// Returns the state as if no papers were drafted for the containers of an event; `None` where none are.
fn undrafted(state: &State, event: &Event) -> Option<State> {
    let drafted = |name: &&str| state.containers.get(*name).is_some_and(|one| one.drafted_for.is_some());
    let names: Vec<&str> = event.names().into_iter().filter(drafted).collect();
    if names.is_empty() {
        return None;
    }
    let mut state = state.clone();
    for name in names {
        if let Some(container) = state.containers.get_mut(name) {
            container.drafted_for = None;
        }
    }
    Some(state)
}

/// Returns the state as if the cell lay nowhere and no papers were drafted; `None` where that is so already.
fn as_if_nothing_held_it(state: &State, event: &Event) -> Option<State> {
    let (cell, container) = match event {
        Event::CellPlaced(placed) => (&placed.cell, Some(&placed.container)),
        Event::Fitted(fitted) => (&fitted.cell, None),
        Event::ContainerMoved(_) | Event::ContainerRepacked(_) => return undrafted(state, event),
        _ => return None,
    };
    let here = |cell: &Cell| !cell.whereabouts.is_gone() && cell.whereabouts != Whereabouts::Loose;
    let held = state.cells.get(cell).is_some_and(here);
    let drafted = container.and_then(|name| state.containers.get(name));
    let drafted = drafted.is_some_and(|container| container.drafted_for.is_some());
    if !held && !drafted {
        return None;
    }
    let mut state = state.clone();
    if let Some(cell) = state.cells.get_mut(cell).filter(|_| held) {
        cell.whereabouts = Whereabouts::Loose;
    }
    if let Some(container) = container.and_then(|name| state.containers.get_mut(name)) {
        container.drafted_for = None;
    }
    Some(state)
}
