//! What may be written: each event held against the present state before it goes into the book.
//!
//! Takes a [`State`], a [`Signed`] event and the [`Circumstances`] (day, local rules); gives nothing, or the [`Refusal`].
//! The rules that matter most: damaged and unjudged cells never stand with intact ones, one damaged cell to one inner
//! packing, a critical cell is neither moved nor sent, nothing is sent by air, and what has left is not changed before it is back. A cell that is fitted in
//! a device is in no container and on no fixture before it was taken out.

mod cells;
mod containers;
mod findings;
mod irregular;
mod leaving;
pub(crate) mod receiving;
mod repacking;
mod shipments;
mod trial;

pub use irregular::broken_rules;

use crate::circumstances::Circumstances;
use crate::event::{Correction, Event, Signed};
use crate::lookup::{may_be_new, not_gone, not_later_than, one_line};
use crate::refusal::Refusal;
use crate::state::State;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};

const FITTED: &str = "fitted";
/// Kinds of entries that may be struck: what was seen, measured or judged. A move is undone by moving again, but for a cell that was
/// never in the device: taken out, it would have to be screened for nothing, while the one that is in there is looked for elsewhere.
const STRIKABLE: [&str; 16] = [
    "judgement",
    "inspection",
    "cell-weighed",
    "used-record",
    "hold",
    "escalation",
    "temperature-look",
    "finding-released",
    "lifetime-record",
    FITTED,
    "incident",
    "label-put-on",
    "received",
    ASSESSMENT,
    ALARM,
    WATCH,
];

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
        Event::TemperatureLook(event) => findings::looked(state, event),
        Event::FindingReleased(event) => findings::released(state, event),
        Event::UsedRecord(event) => cells::used_record(state, event, on),
        Event::LifetimeRecord(event) => trial::lifetime(state, event, on),
        Event::Fitted(event) => trial::fitted(state, event),
        Event::TakenOutOfDevice(event) => trial::taken_out(state, event, on),
        Event::Incident(event) => trial::incident(state, event),
        // Also of a spare that is only unpacked: its story may begin with its label.
        Event::LabelPutOn(event) => may_be_new(state, &event.cell).map(|_| ()),
        Event::ContainerOpened(event) => containers::opened(state, event),
        Event::CellPlaced(event) => containers::placed(state, event, on, circumstances),
        Event::CellTakenOut(event) => containers::taken_out(state, event),
        Event::ShipmentDrafted(event) => shipments::drafted(state, event, on, circumstances),
        Event::ShipmentWithdrawn(event) => shipments::withdrawn(state, event),
        Event::ReceiverAgreed(event) => shipments::agreed(state, event, on),
        Event::HandedOver(event) => shipments::handed_over(state, event, on, circumstances),
        Event::ShipmentFollowedUp(event) => leaving::followed_up(state, event, on),
        Event::CellLeft(event) => leaving::cell_left(state, event, on, circumstances),
        Event::ContainerLeft(event) => leaving::container_left(state, event, on, circumstances),
        Event::CellReturned(event) => leaving::cell_returned(state, event, on),
        Event::ContainerReturned(event) => leaving::container_returned(state, event, on),
        Event::ContainerMoved(event) => repacking::moved(state, event, on, circumstances),
        Event::ContainerRepacked(event) => repacking::repacked(state, event, on, circumstances),
        Event::Received(event) => receiving::received(state, event),
        Event::Irregularity(event) => irregular::written(state, event, signed, circumstances),
        Event::Remedy(event) => irregular::remedied(state, event, on),
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
    let cell = state.cells.get(&event.subject);
    let fitted_by = cell.and_then(|cell| cell.fitting.as_ref()).map(|(entry, _)| *entry);
    if event.of == FITTED && fitted_by != Some(event.entry) {
        return Err(no("the cell is in that device no longer; it is screened again".to_owned()));
    }
    // Also of a cell that nobody has assessed: an alarm may be all that the book has of it.
    cell.map_or(Ok(()), |cell| not_gone(&event.subject, cell))
}
