//! Checks of what leaves without a shipment, comes back, and follows a shipment.
//!
//! What happens to the shop (loss, theft, fire, an authority) is written down whatever the cell is. Where the shop itself gives a cell
//! away, what was found of it decides: what must not leave stays, what must not serve again is not given to serve.

use super::receiving::may_be_discarded;
use crate::cell::Cell;
use crate::circumstances::Circumstances;
use crate::event::{
    Arrival, CellLeft, CellReturned, ContainerLeft, ContainerReturned, Departure, FollowUp,
    ShipmentFollowedUp, WayOut,
};
use crate::leaving::{against, inside, is_at_receiver, is_to_serve, still_inside};
use crate::lookup::{container, in_no_device, not_before, not_gone, one_line, open_container, shipment};
use crate::refusal::Refusal;
use crate::refusal_on_leaving::RefusalOnLeaving as Because;
use crate::state::{Progress, State};
use crate::whereabouts::Whereabouts;
use celltriage_rules::{LegalState, PlaceCode};
use celltriage_verdict::{Fate, KnownFinding};
use jiff::civil::Date;

pub(super) fn cell_left(
    state: &State,
    event: &CellLeft,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let name = &event.cell;
    let cell = state.cells.get(name).ok_or_else(|| Refusal::UnknownCell(name.clone()))?;
    not_gone(name, cell)?;
    well_formed(&event.departure)?;
    if event.against != against(state, name) {
        return Err(Because::Outdated(name.clone()).into());
    }
    not_before_it_lay_there(cell, on)?;
    may_leave(state, name, cell, &event.departure, on, circumstances)
}

pub(super) fn container_left(
    state: &State,
    event: &ContainerLeft,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let name = &event.container;
    let found = container(state, name)?;
    if !found.is_here() {
        open_container(state, name)?;
    }
    well_formed(&event.departure)?;
    if event.cells != inside(state, name) {
        return Err(Because::Outdated(format!("container {name}")).into());
    }
    not_before(on, found.opened_on, "the container was opened")?;
    if !event.departure.how.happens_to_us() {
        open_container(state, name)?;
    }
    for (cell_name, cell) in state.cells_in(name) {
        not_before_it_lay_there(cell, on)?;
        may_leave(state, cell_name, cell, &event.departure, on, circumstances)?;
    }
    Ok(())
}

fn not_before_it_lay_there(cell: &Cell, on: Date) -> Result<(), Refusal> {
    match &cell.whereabouts {
        Whereabouts::In { since, .. } => not_before(on, *since, "it was put into its container"),
        Whereabouts::Fitted { since, .. } => not_before(on, *since, "it was fitted"),
        _ => Ok(()),
    }
}

pub(super) fn well_formed(departure: &Departure) -> Result<(), Refusal> {
    let how = departure.how;
    for (what, text) in [
        ("name of who takes it", &departure.to),
        ("document", &departure.document),
        ("text on what was told", &departure.told),
        ("text on what happened", &departure.because),
    ] {
        text.iter().try_for_each(|text| one_line(what, text))?;
    }
    if how.goes_to_somebody() && departure.to.is_none() {
        return Err(Refusal::BadText("name of who takes it"));
    }
    if how.happens_to_us() && departure.because.is_none() {
        return Err(Refusal::BadText("text on what happened"));
    }
    Ok(())
}

fn may_leave(
    state: &State,
    name: &str,
    cell: &Cell,
    departure: &Departure,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    if cell.is_simulated() {
        return Err(Because::NothingThere(name.to_owned()).into());
    }
    let how = departure.how;
    if how.happens_to_us() {
        return Ok(());
    }
    if cell.legal() == LegalState::Critical {
        return Err(Refusal::Critical(name.to_owned()));
    }
    if let Some(watch) = &cell.watch {
        let (since, because) = (watch.since, watch.hold.because.clone());
        return Err(Refusal::UnderWatch { cell: name.to_owned(), since, because });
    }
    if let Some(found) = cell.barred(|bars| bars.leaving) {
        return Err(Refusal::NotLeaving { cell: name.to_owned(), found: found.short() });
    }
    match &cell.whereabouts {
        // With the device that it stays in.
        Whereabouts::Fitted { stays: true, .. } if how != WayOut::Recycler => {}
        Whereabouts::In { container, .. } => {
            open_container(state, container)?;
        }
        _ => in_no_device(name, cell)?,
    }
    if is_to_serve(how) {
        may_serve(name, cell, how)?;
    }
    // Consent to discard is none to give it away to serve; without any, nothing of somebody else's goes to a third.
    if is_to_serve(how) || how == WayOut::Recycler {
        may_be_discarded(name, cell)?;
    }
    if how == WayOut::Recycler {
        let place = cell.container().and_then(|container| state.containers.get(container));
        let place = place.map(|container| &container.opened.place);
        return is_plain_waste(name, cell, place, on, circumstances);
    }
    let against = against(state, name);
    if departure.told.is_none() && !against.is_empty() {
        let (cell, way, against) = (name.to_owned(), how.words(), against.join("; "));
        return Err(Because::NotTold { cell, way, against }.into());
    }
    Ok(())
}

/// Refuses what is not to serve again; what is only not known may be given to somebody who tests it, and is not sold.
fn may_serve(name: &str, cell: &Cell, how: WayOut) -> Result<(), Refusal> {
    let found = cell.barred(|bars| bars.reuse).map(KnownFinding::words);
    let graded = cell.facts.as_ref().map(|facts| (facts.fate, facts.assessment));
    let graded = graded.filter(|(fate, _)| matches!(fate, Fate::Quarantine | Fate::Recycle));
    let graded = graded.map(|(fate, entry)| format!("it was graded {fate} (entry {entry})"));
    let discarded = cell.discarded_on().map(|day| format!("it was decided on {day} to discard it"));
    let stays = matches!(cell.whereabouts, Whereabouts::Fitted { stays: true, .. });
    let unproven = Cell::unproven(Some(cell)).filter(|_| how == WayOut::Sold && !stays);
    match found.or_else(|| cell.judged_against()).or(discarded).or(graded).or(unproven) {
        Some(why) => Err(Because::NotThisWay { cell: name.to_owned(), way: how.words(), why }.into()),
        None => Ok(()),
    }
}

fn is_plain_waste(
    name: &str,
    cell: &Cell,
    place: Option<&PlaceCode>,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    if cell.legal() != LegalState::IntactWaste {
        let (cell, state) = (name.to_owned(), cell.legal_in_words());
        return Err(Because::OnlyWithPapers { cell, state }.into());
    }
    match place.and_then(|place| circumstances.rules.forbids_sending(place, on, cell.legal())) {
        Some(why) => Err(Refusal::Forbidden { cell: name.to_owned(), why }),
        None => Ok(()),
    }
}

fn arrived(arrival: &Arrival) -> Result<(), Refusal> {
    one_line("text on how it looked", &arrival.seen)?;
    arrival.from.iter().try_for_each(|from| one_line("name of who brought it", from))
}

pub(super) fn cell_returned(state: &State, event: &CellReturned, on: Date) -> Result<(), Refusal> {
    let name = &event.cell;
    let cell = state.cells.get(name).ok_or_else(|| Refusal::UnknownCell(name.clone()))?;
    arrived(&event.arrival)?;
    match &cell.whereabouts {
        Whereabouts::HandedOver { on: left, .. } => not_before(on, *left, "it was handed over"),
        Whereabouts::Left { how, .. } if how.is_the_end() => {
            Err(Because::Destroyed { name: format!("cell {name}"), how: how.words() }.into())
        }
        Whereabouts::Left { on: left, .. } => not_before(on, *left, "it left"),
        _ => Err(Because::IsHere(format!("cell {name}")).into()),
    }
}

pub(super) fn container_returned(state: &State, event: &ContainerReturned, on: Date) -> Result<(), Refusal> {
    let name = &event.container;
    let found = container(state, name)?;
    arrived(&event.arrival)?;
    let handed_over = found.left_with.as_ref().and_then(|shipment| state.shipments.get(shipment));
    let handed_over = handed_over.and_then(|shipment| match shipment.progress {
        Progress::HandedOver { on } => Some(on),
        _ => None,
    });
    match (handed_over, &found.left) {
        (_, Some(left)) if left.departure.how.is_the_end() => {
            let (name, how) = (format!("container {name}"), left.departure.how.words());
            return Err(Because::Destroyed { name, how }.into());
        }
        (_, Some(left)) => not_before(on, left.on, "it left")?,
        (Some(day), None) => not_before(on, day, "it was handed over")?,
        (None, None) => return Err(Because::IsHere(format!("container {name}")).into()),
    }
    if event.cells == still_inside(state, name) {
        Ok(())
    } else {
        Err(Because::Outdated(format!("container {name}")).into())
    }
}

pub(super) fn followed_up(state: &State, event: &ShipmentFollowedUp, on: Date) -> Result<(), Refusal> {
    let name = &event.shipment;
    let found = shipment(state, name)?;
    let Progress::HandedOver { on: left } = found.progress else {
        return Err(Because::NotHandedOver(name.clone()).into());
    };
    not_before(on, left, "it was handed over")?;
    match &event.follow_up {
        FollowUp::Receipt { reference, net } => {
            one_line("reference", reference)?;
            match net {
                Some(net) if net.0 == 0 => {
                    Err(Refusal::BadNumber("a shipment has a mass above zero".to_owned()))
                }
                _ => Ok(()),
            }
        }
        FollowUp::Certificate { number, issued_by } => {
            one_line("number of the certificate", number)?;
            one_line("name of who issued it", issued_by)
        }
        FollowUp::Refused { refused_by, because, cells } => {
            one_line("name of who refused it", refused_by)?;
            one_line("reason", because)?;
            let away = cells.iter().find(|cell| !is_at_receiver(state, cell, name));
            match (away, cells.is_empty()) {
                (None, false) => Ok(()),
                (away, _) => {
                    let cell = away.cloned().unwrap_or_else(|| "(none)".to_owned());
                    Err(Because::NotAtReceiver { cell, shipment: name.clone() }.into())
                }
            }
        }
        FollowUp::Settled { because } => {
            one_line("reason", because)?;
            if found.refused.is_empty() { Err(Because::NothingRefused(name.clone()).into()) } else { Ok(()) }
        }
    }
}
