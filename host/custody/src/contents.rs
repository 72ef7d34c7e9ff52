//! The cells of a container as they would be sent.

use crate::cell::Whereabouts;
use crate::check::receiving::may_be_discarded;
use crate::circumstances::Circumstances;
use crate::event::{ContainerKind, Item, ReceivedAs};
use crate::fit::fits;
use crate::lookup::container;
use crate::refusal::Refusal;
use crate::refusal_on_container::RefusalOnContainer;
use crate::state::State;
use celltriage_rules::LegalState;
use jiff::civil::Date;

/// Returns the cells of all containers of a shipment as they would be sent on a day, those of the first one first.
///
/// # Errors
/// The first cell or container that must not be sent, or two containers that do not go together: each kind of cells has papers of its own.
pub fn of_all<'n>(
    state: &State,
    names: impl Iterator<Item = &'n str>,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<Vec<Item>, Refusal> {
    let mut all = Vec::new();
    let mut before: Vec<&str> = Vec::new();
    for name in names {
        if let Some(first) = before.first() {
            go_together(state, first, name)?;
        }
        if before.contains(&name) {
            return Err(RefusalOnContainer::ItIsTheSame(name.to_owned()).into());
        }
        let mut items = contents(state, name, on, circumstances)?;
        if !before.is_empty() {
            items.iter_mut().for_each(|item| item.container = Some(name.to_owned()));
        }
        all.extend(items);
        before.push(name);
    }
    Ok(all)
}

fn go_together(state: &State, first: &str, second: &str) -> Result<(), Refusal> {
    let (one, other) = (&container(state, first)?.opened, &container(state, second)?.opened);
    let why = if one.kind != other.kind {
        format!("one is for {}, the other for {}", one.kind.words(), other.kind.words())
    } else if one.place != other.place {
        format!("one stands in {}, the other in {}", one.place, other.place)
    } else {
        return Ok(());
    };
    Err(RefusalOnContainer::NotTogether { first: first.to_owned(), second: second.to_owned(), why }.into())
}

/// Returns the cells of a container as they would be sent on a day.
///
/// # Errors
/// The first cell, or the container itself, that must not be sent.
fn contents(
    state: &State,
    name: &str,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<Vec<Item>, Refusal> {
    let found = container(state, name)?;
    let mut items = Vec::new();
    for (cell_name, cell) in state.cells_in(name) {
        fits(cell_name, cell, found)?;
        let Some(judged) = cell.standing_judgement() else {
            return Err(Refusal::NotJudged(cell_name.clone()));
        };
        if cell.legal() == LegalState::Unknown {
            return Err(Refusal::NotJudged(cell_name.clone()));
        }
        if let Some(why) = circumstances.rules.forbids_sending(&found.opened.place, on, cell.legal()) {
            return Err(Refusal::Forbidden { cell: cell_name.clone(), why });
        }
        may_be_discarded(cell_name, cell)?;
        let received = cell.is_received();
        let is = cell.is_as().filter(|_| received);
        if received && is.is_none() {
            let (cell, why) = (cell_name.clone(), "nobody has said what it is".to_owned());
            return Err(Refusal::BadReceipt { cell, why });
        }
        if is == Some(ReceivedAs::Lot) && cell.count() > 1 && cell.legal().counts_as_damaged() {
            return Err(Refusal::LotOfDamaged { lot: cell_name.clone(), cells: cell.count() });
        }
        items.push(Item {
            cell: cell_name.clone(),
            state: cell.legal(),
            judgement: judged.entry,
            assessor: format!("{}, {}", judged.by, judged.judgement.qualification),
            mass: cell.mass(),
            mass_known: cell.known_mass().is_some(),
            energy: cell.energy(),
            container: None,
            inner: match &cell.whereabouts {
                Whereabouts::In { inner, .. } => inner.clone(),
                _ => None,
            },
            decided_on: cell.discarded_on(),
            is,
            cells: (is == Some(ReceivedAs::Lot)).then(|| cell.count()),
            mass_rests_on: cell.stated_mass().filter(|_| received).map(|mass| mass.rests_on),
            energy_rests_on: cell.stated_energy().filter(|_| received).map(|energy| energy.rests_on),
            heaviest: (is == Some(ReceivedAs::Lot)).then(|| cell.heaviest()),
            largest: (is == Some(ReceivedAs::Lot)).then(|| cell.largest()),
        });
    }
    // Last, so that a critical cell is named before anything else.
    if found.opened.kind == ContainerKind::Quarantine {
        return Err(Refusal::QuarantineIsNotSent(name.to_owned()));
    }
    for (name, cell) in state.cells_in(name) {
        if let Some(found) = cell.barred(|bars| bars.leaving) {
            return Err(Refusal::NotLeaving { cell: name.clone(), found: found.short() });
        }
    }
    if items.is_empty() { Err(Refusal::Empty(name.to_owned())) } else { Ok(items) }
}
