//! Checks of what is opened, put in and taken out.

use super::receiving::may_be_discarded;
use crate::cell::{Cell, Whereabouts};
use crate::circumstances::Circumstances;
use crate::event::{CellPlaced, CellTakenOut, ContainerKind, ContainerOpened};
use crate::fit::fits;
use crate::lookup::{
    container_like, free, in_no_device, known, not_before, one_line, open_container, present,
};
use crate::refusal::Refusal;
use crate::state::{Container, State};
use crate::units::MilliwattHours;
use celltriage_measure::nameplate::Chemistry;
use celltriage_rules::LegalState;
use jiff::civil::Date;

pub(super) fn opened(state: &State, event: &ContainerOpened) -> Result<(), Refusal> {
    free(state, &event.container)?;
    if let Some(known) = container_like(state, &event.container) {
        return Err(Refusal::LooksLikeContainer { name: event.container.clone(), known: known.clone() });
    }
    one_line("place where it stands", &event.stands)?;
    if event.most_cells == Some(0) {
        return Err(Refusal::BadNumber("a container for 0 cells holds none".to_owned()));
    }
    Ok(())
}

pub(super) fn placed(
    state: &State,
    event: &CellPlaced,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    known(state, &event.cell)?;
    let cell = present(state, &event.cell)?;
    let container = open_container(state, &event.container)?;
    in_no_device(&event.cell, cell)?;
    if let Some(elsewhere) = cell.container() {
        return Err(Refusal::ElsewhereAlready { cell: event.cell.clone(), container: elsewhere.to_owned() });
    }
    not_before(on, container.opened_on, "the container was opened")?;
    if cell.facts.as_ref().is_some_and(|facts| on < facts.on) {
        return Err(Refusal::BadDay { day: on, what: "before the cell's latest assessment".to_owned() });
    }
    if let Some(intake) = cell.intake() {
        not_before(on, intake.since, "it was received")?;
    }
    fits(&event.cell, cell, container)?;
    if container.opened.kind == ContainerKind::Intact {
        may_be_discarded(&event.cell, cell)?;
    }
    not_with_simulated(state, event, cell)?;
    inner_packing(state, event, container)?;
    chemistry(state, event, cell, container, on, circumstances)?;
    room(state, event, cell, container)
}

/// Real cells and simulated ones never lie in one container.
fn not_with_simulated(state: &State, event: &CellPlaced, cell: &Cell) -> Result<(), Refusal> {
    let simulated = cell.is_simulated();
    match state.cells_in(&event.container).find(|(_, held)| held.is_simulated() != simulated) {
        Some((holds, _)) => Err(Refusal::MixedWithSimulated {
            cell: event.cell.clone(),
            container: event.container.clone(),
            holds: holds.clone(),
            is: if simulated { "simulated" } else { "real" },
        }),
        None => Ok(()),
    }
}

fn inner_packing(state: &State, event: &CellPlaced, container: &Container) -> Result<(), Refusal> {
    event.inner.iter().try_for_each(|inner| one_line("inner packing", inner))?;
    if container.opened.kind == ContainerKind::Intact {
        return Ok(());
    }
    let Some(wanted) = &event.inner else { return Err(Refusal::NoInnerPacking(event.container.clone())) };
    let holder = state.cells_in(&event.container).find(|(_, cell)| {
        matches!(&cell.whereabouts, Whereabouts::In { inner: Some(inner), .. } if inner == wanted)
    });
    match holder {
        Some((holds, _)) => Err(Refusal::InnerPackingTaken {
            inner: wanted.clone(),
            container: event.container.clone(),
            holds: holds.clone(),
        }),
        None => Ok(()),
    }
}

fn chemistry(
    state: &State,
    event: &CellPlaced,
    cell: &Cell,
    container: &Container,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let by_rule = circumstances.rules.separates_chemistries(&container.opened.place, on, cell.legal());
    let why = match by_rule {
        Some(rule) => rule,
        None if container.opened.one_chemistry => "it was opened for one chemistry".to_owned(),
        None => return Ok(()),
    };
    let of = |cell: &Cell| cell.facts.as_ref().and_then(|facts| facts.chemistry);
    let other = state.cells_in(&event.container).map(|(_, held)| of(held)).find(|held| *held != of(cell));
    match other {
        Some(held) => Err(Refusal::OtherChemistry {
            cell: event.cell.clone(),
            has: chemistry_words(of(cell)),
            container: event.container.clone(),
            holds: chemistry_words(held),
            why,
        }),
        None => Ok(()),
    }
}

/// Says whether all that lies in a container may lie there together by the rules of where it stands.
pub(super) fn one_chemistry(
    state: &State,
    name: &str,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let Some(container) = state.containers.get(name) else { return Ok(()) };
    for (cell_name, cell) in state.cells_in(name) {
        let (cell_name, container_name) = (cell_name.clone(), name.to_owned());
        let lies = CellPlaced { cell: cell_name, container: container_name, inner: None, weighed: None };
        chemistry(state, &lies, cell, container, on, circumstances)?;
    }
    Ok(())
}

fn chemistry_words(chemistry: Option<Chemistry>) -> String {
    match chemistry {
        None => "of unknown chemistry",
        Some(Chemistry::LithiumIon) => "lithium ion, not told which",
        Some(Chemistry::Lco) => "lithium cobalt oxide",
        Some(Chemistry::Nmc) => "lithium nickel manganese cobalt oxide",
        Some(Chemistry::Nca) => "lithium nickel cobalt aluminium oxide",
        Some(Chemistry::Lmo) => "lithium manganese oxide",
        Some(Chemistry::Lfp) => "lithium iron phosphate",
    }
    .to_owned()
}

fn room(state: &State, event: &CellPlaced, cell: &Cell, container: &Container) -> Result<(), Refusal> {
    let name = &event.container;
    let full =
        |would: String, limit: String| Err(Refusal::ContainerFull { container: name.clone(), would, limit });
    let opened = &container.opened;
    let cells = state.count_in(name).saturating_add(cell.count() as usize);
    if let Some(most) = opened.most_cells
        && cells > most as usize
    {
        return full(format!("{cells} cells"), format!("{most} cells"));
    }
    let mass = state.mass_in(name).plus(event.weighed.unwrap_or_else(|| cell.mass()));
    if let Some(most) = opened.most_mass
        && mass > most
    {
        return full(mass.to_string(), most.to_string());
    }
    let energy: MilliwattHours = [state.energy_in(name), cell.energy()].into_iter().sum();
    if let Some(most) = opened.most_energy
        && energy > most
    {
        return full(energy.to_string(), most.to_string());
    }
    match event.weighed {
        Some(mass) if mass.0 == 0 => Err(Refusal::BadNumber("a cell has a mass above zero".to_owned())),
        _ => Ok(()),
    }
}

pub(super) fn taken_out(state: &State, event: &CellTakenOut) -> Result<(), Refusal> {
    let cell = present(state, &event.cell)?;
    one_line("reason", &event.because)?;
    let Some(container) = cell.container() else { return Err(Refusal::NotInContainer(event.cell.clone())) };
    open_container(state, container)?;
    if cell.legal() == LegalState::Critical { Err(Refusal::Critical(event.cell.clone())) } else { Ok(()) }
}
