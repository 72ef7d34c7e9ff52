//! Checks of a container that is moved, merged, split or emptied: each cell that is repacked is held against every rule of taking it out
//! and of putting it in, one after the other.

use super::containers::{one_chemistry, placed, taken_out};
use crate::circumstances::Circumstances;
use crate::event::{CellPlaced, CellTakenOut, ContainerMoved, ContainerRepacked};
use crate::lookup::{not_before, one_line, open_container};
use crate::refusal::Refusal;
use crate::refusal_on_container::RefusalOnContainer as Because;
use crate::state::State;
use crate::whereabouts::Whereabouts;
use celltriage_rules::LegalState;
use jiff::civil::Date;
use std::collections::BTreeSet;

pub(super) fn moved(
    state: &State,
    event: &ContainerMoved,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let name = &event.container;
    let found = open_container(state, name)?;
    one_line("place where it stands", &event.stands)?;
    one_line("reason", &event.because)?;
    not_before(on, found.opened_on, "the container was opened")?;
    if (&found.opened.place, &found.opened.stands) == (&event.place, &event.stands) {
        return Err(Because::StandsThere(name.clone()).into());
    }
    // A wrong word is put right whatever lies there; nothing moves by it.
    let critical = state.cells_in(name).find(|(_, cell)| cell.legal() == LegalState::Critical);
    if let Some((cell, _)) = critical.filter(|_| !event.corrected) {
        return Err(Refusal::Critical(cell.clone()));
    }
    let mut there = state.clone();
    there.container_moves(event);
    one_chemistry(&there, name, on, circumstances)
}

pub(super) fn repacked(
    state: &State,
    event: &ContainerRepacked,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let name = &event.container;
    let found = open_container(state, name)?;
    one_line("reason", &event.because)?;
    not_before(on, found.opened_on, "the container was opened")?;
    if let Some(into) = &event.into {
        if into == name {
            return Err(Because::ItIsTheSame(name.clone()).into());
        }
        open_container(state, into)?;
    }
    if event.cells.is_empty() {
        return Err(Refusal::Empty(name.clone()));
    }
    let named: BTreeSet<&str> = event.cells.iter().map(|inside| inside.cell.as_str()).collect();
    let strange = |inside: &&crate::event::Inside| {
        state.cells.get(&inside.cell).is_none_or(|cell| cell.container() != Some(name))
    };
    if let Some(inside) = event.cells.iter().find(strange) {
        let (cell, container) = (inside.cell.clone(), name.clone());
        return Err(Because::NotInside { cell, container }.into());
    }
    if named.len() < event.cells.len() || event.all != (state.cells_in(name).count() == named.len()) {
        return Err(Because::Outdated(name.clone()).into());
    }
    let mut then = state.clone();
    for inside in &event.cells {
        let (cell, because) = (inside.cell.clone(), event.because.clone());
        if let Some(Whereabouts::In { since, .. }) = then.cells.get(&cell).map(|cell| &cell.whereabouts) {
            not_before(on, *since, "it was put into its container")?;
        }
        taken_out(&then, &CellTakenOut { cell: cell.clone(), because })?;
        then.cell(&cell).whereabouts = Whereabouts::Loose;
        if let Some(container) = event.into.clone() {
            let inner = inside.inner.clone();
            let put = CellPlaced {
                cell: cell.clone(),
                container: container.clone(),
                inner: inner.clone(),
                weighed: None,
            };
            placed(&then, &put, on, circumstances)?;
            then.is_put_into(0, &cell, &container, inner, on);
        }
    }
    Ok(())
}
