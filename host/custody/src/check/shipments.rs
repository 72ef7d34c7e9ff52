//! Checks of what is drafted, agreed and handed over.

use crate::circumstances::Circumstances;
use crate::contents::of_all;
use crate::draft;
use crate::event::{HandedOver, ReceiverAgreed, ShipmentDrafted, ShipmentWithdrawn};
use crate::lookup::{free, not_before, one_line, open_container, shipment};
use crate::refusal::Refusal;
use crate::state::{Progress, Shipment, State};
use jiff::civil::Date;

pub(super) fn drafted(
    state: &State,
    event: &ShipmentDrafted,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    draft::not_by_air(state, &event.container, event.mode, event.planned_on, circumstances)?;
    free(state, &event.shipment)?;
    one_line("receiver", &event.receiver)?;
    for name in event.containers() {
        open_container(state, name)?;
    }
    not_before(event.planned_on, on, "the day of the draft")?;
    // What is written must be what the state says, not what a caller says.
    let request = draft::Request {
        shipment: event.shipment.clone(),
        container: event.container.clone(),
        more: event.more.clone(),
        mode: event.mode,
        purpose: event.purpose,
        receiver: event.receiver.clone(),
        planned_on: event.planned_on,
        gross: event.gross,
    };
    let again = draft::build(state, &request, circumstances)?;
    if again == *event { Ok(()) } else { Err(outdated(&event.shipment, "the cells have changed meanwhile")) }
}

fn outdated(shipment: &str, what: &str) -> Refusal {
    Refusal::DraftOutdated { shipment: shipment.to_owned(), what: what.to_owned() }
}

/// Returns a shipment whose papers are drafted and that has not left.
fn pending<'a>(state: &'a State, name: &str) -> Result<&'a Shipment, Refusal> {
    let found = shipment(state, name)?;
    let is = match found.progress {
        Progress::Drafted => return Ok(found),
        Progress::Withdrawn => "was withdrawn".to_owned(),
        Progress::HandedOver { on } => format!("was handed over on {on}"),
    };
    Err(Refusal::WrongStage { shipment: name.to_owned(), is })
}

pub(super) fn withdrawn(state: &State, event: &ShipmentWithdrawn) -> Result<(), Refusal> {
    one_line("reason", &event.because)?;
    pending(state, &event.shipment).map(|_| ())
}

pub(super) fn agreed(state: &State, event: &ReceiverAgreed, on: Date) -> Result<(), Refusal> {
    one_line("reference", &event.reference)?;
    not_before(on, pending(state, &event.shipment)?.drafted_on, "the draft")
}

pub(super) fn handed_over(
    state: &State,
    event: &HandedOver,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    for (what, text) in [
        ("document number", &event.document),
        ("name of who took it", &event.received_by),
        ("name of who checked it", &event.checked_by),
        ("training of who checked it", &event.training),
    ] {
        one_line(what, text)?;
    }
    let found = pending(state, &event.shipment)?;
    let draft = &found.draft;
    if let Some(cell) = state.simulated_in(draft) {
        return Err(Refusal::Simulated { cell: cell.to_owned(), shipment: event.shipment.clone() });
    }
    not_before(on, found.drafted_on, "the draft")?;
    match &found.agreed {
        None => return Err(Refusal::NotAgreed(event.shipment.clone())),
        Some((day, _)) => not_before(on, *day, "the receiver agreed")?,
    }
    let now = of_all(state, draft.containers(), on, circumstances)?;
    if now != draft.contents {
        return Err(outdated(&event.shipment, "a cell, its judgement or its mass has changed"));
    }
    let valid = circumstances.rules.waste_codes(&draft.place, on);
    if !valid.iter().map(|row| &row.code).eq(draft.waste_codes.iter().map(|row| &row.code)) {
        let what = format!("the waste codes of {on} are others than those of {}", draft.planned_on);
        return Err(outdated(&event.shipment, &what));
    }
    if circumstances.rules.papers(&draft::consignment(draft, on)) != draft.papers {
        return Err(outdated(&event.shipment, "the transport rules are told differently by now"));
    }
    waste_code(event, on, valid.iter().map(|row| row.code.as_str()).collect())
}

fn waste_code(event: &HandedOver, on: Date, valid: Vec<&str>) -> Result<(), Refusal> {
    let wrong =
        |given: &str| Err(Refusal::WasteCode { given: given.to_owned(), on, valid: valid.join(", ") });
    match &event.waste_code {
        None if valid.is_empty() => Ok(()),
        None => wrong("(none)"),
        // No code of this place is known here: the person's word stands.
        Some(given) if valid.is_empty() => one_line("waste code", given),
        Some(given) if valid.contains(&given.as_str()) => Ok(()),
        Some(given) => wrong(given),
    }
}
