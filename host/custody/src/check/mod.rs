//! What may be written: each event held against the present state before it goes into the book.
//!
//! Takes a [`State`], a [`Signed`] event and the [`Circumstances`] (day, local rules); gives nothing, or the [`Refusal`].
//! The rules that matter most: damaged and unjudged cells never stand with intact ones, one damaged cell to one inner
//! packing, a critical cell is neither moved nor sent, nothing is sent by air, and what has left is not changed.

mod cells;
mod containers;
mod shipments;

pub use containers::fits as check_fit;
pub use shipments::contents;

use crate::cell::{Cell, Whereabouts};
use crate::event::{Correction, Event, Signed};
use crate::local_rules::LocalRules;
use crate::refusal::Refusal;
use crate::state::{Container, Shipment, State};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};
use jiff::civil::Date;

/// Kinds of entries that may be struck: what was seen, measured or judged. A move is undone by moving again.
const STRIKABLE: [&str; 9] = [
    "judgement",
    "inspection",
    "cell-weighed",
    "used-record",
    "hold",
    "escalation",
    ASSESSMENT,
    ALARM,
    WATCH,
];

/// Day and local rules under which an event is checked.
#[derive(Clone, Copy)]
pub struct Circumstances<'a> {
    /// Today, where the shop is.
    pub today: Date,
    /// Local rules.
    pub rules: &'a dyn LocalRules,
}

/// Says whether an event may be written.
///
/// # Errors
/// The first thing that is in the way.
pub fn check(state: &State, signed: &Signed, circumstances: &Circumstances<'_>) -> Result<(), Refusal> {
    one_line("name of the person", &signed.by)?;
    not_later_than(signed.on, circumstances.today, "later than today")?;
    let on = signed.on;
    match &signed.event {
        Event::Judgement(event) => cells::judgement(state, event, on, circumstances),
        Event::CellWeighed(event) => cells::weighed(state, event),
        Event::Hold(event) => cells::hold(state, event, circumstances),
        Event::Inspection(event) => cells::inspection(state, event, on),
        Event::Release(event) => cells::release(state, event, on),
        Event::Escalation(event) => cells::escalation(state, event),
        Event::UsedRecord(event) => cells::used_record(state, event, on),
        Event::ContainerOpened(event) => containers::opened(state, event),
        Event::CellPlaced(event) => containers::placed(state, event, on, circumstances),
        Event::CellTakenOut(event) => containers::taken_out(state, event),
        Event::ShipmentDrafted(event) => shipments::drafted(state, event, on, circumstances),
        Event::ShipmentWithdrawn(event) => shipments::withdrawn(state, event),
        Event::ReceiverAgreed(event) => shipments::agreed(state, event, on),
        Event::HandedOver(event) => shipments::handed_over(state, event, on, circumstances),
        Event::Correction(event) => correction(state, event),
    }
}

fn correction(state: &State, event: &Correction) -> Result<(), Refusal> {
    let no = |why: String| Refusal::NotCorrectable { entry: event.entry, why };
    one_line("reason", &event.because)?;
    match state.entries.get(&event.entry) {
        None => return Err(no("it is no event of a cell's custody".to_owned())),
        Some((kind, subject)) if *kind != event.of || *subject != event.subject => {
            return Err(no(format!("it is a {kind} of {subject}")));
        }
        Some(_) => {}
    }
    if !event.strike {
        return Ok(());
    }
    if state.struck.contains_key(&event.entry) {
        return Err(no("it is struck already".to_owned()));
    }
    if !STRIKABLE.contains(&event.of.as_str()) {
        return Err(no(format!("a {} is not struck; undo it by the opposite", event.of)));
    }
    // Also of a cell that nobody has assessed: an alarm may be all that the book has of it.
    state.cells.get(&event.subject).map_or(Ok(()), |cell| not_gone(&event.subject, cell))
}

/// Returns a cell that the book knows.
fn known<'a>(state: &'a State, name: &str) -> Result<&'a Cell, Refusal> {
    state
        .cells
        .get(name)
        .filter(|cell| cell.facts.is_some())
        .ok_or_else(|| Refusal::UnknownCell(name.to_owned()))
}

/// Returns a cell that the book knows and that has not left.
fn present<'a>(state: &'a State, name: &str) -> Result<&'a Cell, Refusal> {
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
        _ => Ok(()),
    }
}

/// Returns a container that there is.
fn container<'a>(state: &'a State, name: &str) -> Result<&'a Container, Refusal> {
    state.containers.get(name).ok_or_else(|| Refusal::UnknownContainer(name.to_owned()))
}

/// Returns a container that may be filled and emptied.
fn open_container<'a>(state: &'a State, name: &str) -> Result<&'a Container, Refusal> {
    let found = container(state, name)?;
    if let Some(shipment) = &found.left_with {
        return Err(Refusal::ContainerGone { container: name.to_owned(), shipment: shipment.clone() });
    }
    if let Some(shipment) = &found.drafted_for {
        return Err(Refusal::ContainerDrafted { container: name.to_owned(), shipment: shipment.clone() });
    }
    Ok(found)
}

/// Returns a shipment that there is.
fn shipment<'a>(state: &'a State, name: &str) -> Result<&'a Shipment, Refusal> {
    state.shipments.get(name).ok_or_else(|| Refusal::UnknownShipment(name.to_owned()))
}

/// Says whether a name is still free.
fn free(state: &State, name: &str) -> Result<(), Refusal> {
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
fn one_line(what: &'static str, text: &str) -> Result<(), Refusal> {
    let fits = !text.is_empty() && text.trim() == text && !text.chars().any(char::is_control);
    if fits { Ok(()) } else { Err(Refusal::BadText(what)) }
}

fn not_later_than(day: Date, last: Date, what: &str) -> Result<(), Refusal> {
    if day <= last { Ok(()) } else { Err(Refusal::BadDay { day, what: format!("{what} ({last})") }) }
}

fn not_before(day: Date, first: Date, what: &str) -> Result<(), Refusal> {
    if day >= first { Ok(()) } else { Err(Refusal::BadDay { day, what: format!("before {what} ({first})") }) }
}
