//! What can happen to a cell after its assessment, as it is written into the book.
//!
//! Each is one entry: never changed, folded into the present state by [`State`](super::state::State). The names in JSON
//! are stored in books that exist, so they never change; a later format gets another [`SCHEMA`] number.

mod cell;
mod container;
mod departure;
mod finding;
mod follow_up;
mod irregular;
mod label;
mod lifetime;
mod received;
mod repacked;
mod shipment;
mod trial;

pub use crate::mode::Mode;
pub use cell::{CellWeighed, Escalation, Hold, Inspection, Judgement, Look, Release};
pub use celltriage_rules::Purpose;
pub use container::{CellPlaced, CellTakenOut, ContainerKind, ContainerOpened};
pub use departure::{
    Arrival, CellLeft, CellReturned, ContainerLeft, ContainerReturned, Departure, Inside, WayBack, WayOut,
};
pub use finding::{FindingReleased, TemperatureLook};
pub use follow_up::{FollowUp, ShipmentFollowedUp};
pub use irregular::{Irregularity, Named, Remedy};
pub use label::LabelPutOn;
pub use lifetime::LifetimeRecord;
pub use received::{Consent, Received, ReceivedAs, RestsOn, Stated, Symptom, Whose};
pub use repacked::{ContainerMoved, ContainerRepacked};
pub use shipment::{HandedOver, Item, ReceiverAgreed, ShipmentDrafted, ShipmentWithdrawn};
pub use trial::{Fitted, Incident, TakenOutOfDevice};

use crate::used::UsedRecord;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Number of the stored form.
pub const SCHEMA: u32 = 1;

/// An event with who answers for it and on what day it happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Signed {
    /// Number of the stored form.
    pub schema: u32,
    /// Who did it.
    pub by: String,
    /// On what day, where the shop is.
    pub on: Date,
    /// What happened.
    pub event: Event,
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Event {
    /// A person judged a cell's legal state.
    Judgement(Judgement),
    /// A container was opened.
    ContainerOpened(ContainerOpened),
    /// A cell was put into a container.
    CellPlaced(CellPlaced),
    /// A cell was taken out of its container.
    CellTakenOut(CellTakenOut),
    /// A cell was weighed.
    CellWeighed(CellWeighed),
    /// A cell is watched.
    Hold(Hold),
    /// A watched cell was looked at.
    Inspection(Inspection),
    /// A watched cell is no longer watched.
    Release(Release),
    /// A cell was found to be critical.
    Escalation(Escalation),
    /// A cell's temperature was looked at.
    TemperatureLook(TemperatureLook),
    /// A finding was ended by the rule of its kind.
    FindingReleased(FindingReleased),
    /// Papers were drafted for a container.
    ShipmentDrafted(Box<ShipmentDrafted>),
    /// A draft was given up.
    ShipmentWithdrawn(ShipmentWithdrawn),
    /// The receiver agreed.
    ReceiverAgreed(ReceiverAgreed),
    /// A container left the shop.
    HandedOver(HandedOver),
    /// Something followed a hand-over.
    ShipmentFollowedUp(ShipmentFollowedUp),
    /// A cell left without a shipment.
    CellLeft(CellLeft),
    /// A container left without a shipment.
    ContainerLeft(ContainerLeft),
    /// A cell came back.
    CellReturned(CellReturned),
    /// A container came back.
    ContainerReturned(ContainerReturned),
    /// A test record for a used cell was made.
    UsedRecord(Box<UsedRecord>),
    /// What is known of a cell's life before was written down.
    LifetimeRecord(Box<LifetimeRecord>),
    /// A cell was fitted into a device.
    Fitted(Fitted),
    /// A cell was taken out of a device.
    TakenOutOfDevice(TakenOutOfDevice),
    /// Something happened to a cell, or to the device that it was in.
    Incident(Incident),
    /// A label was put on a cell.
    LabelPutOn(LabelPutOn),
    /// Something happened that the rules refuse.
    Irregularity(Box<Irregularity>),
    /// An irregularity was put right.
    Remedy(Remedy),
    /// A container stands elsewhere.
    ContainerMoved(ContainerMoved),
    /// Cells went from one container into another, or out of it.
    ContainerRepacked(ContainerRepacked),
    /// Something came into the shop, or more was said of it.
    Received(Box<Received>),
    /// An earlier event was remarked on, or struck.
    Correction(Correction),
}

/// A correction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// The entry that it is about.
    pub entry: u32,
    /// The kind of that entry.
    pub of: String,
    /// What that entry is about: a cell, a container or a shipment.
    pub subject: String,
    /// What is right, and why.
    pub because: String,
    /// Whether the entry no longer counts.
    pub strike: bool,
}

impl Event {
    /// All kinds, in the order of a cell's way.
    pub const KINDS: [&'static str; 36] = [
        "judgement",
        "container-opened",
        "cell-placed",
        "cell-taken-out",
        "cell-weighed",
        "hold",
        "inspection",
        "release",
        "escalation",
        "temperature-look",
        "finding-released",
        "shipment-drafted",
        "shipment-withdrawn",
        "receiver-agreed",
        "handed-over",
        "shipment-followed-up",
        "cell-left",
        "container-left",
        "cell-returned",
        "container-returned",
        "used-record",
        "lifetime-record",
        "fitted",
        "taken-out-of-device",
        "incident",
        "label-put-on",
        "cell-irregularity",
        "container-irregularity",
        "shipment-irregularity",
        "cell-remedy",
        "container-remedy",
        "shipment-remedy",
        "container-moved",
        "container-repacked",
        "received",
        "correction",
    ];

    /// Returns the kind of the entry in the book.
    pub const fn kind(&self) -> &'static str {
        match self {
            Event::Judgement(_) => "judgement",
            Event::ContainerOpened(_) => "container-opened",
            Event::CellPlaced(_) => "cell-placed",
            Event::CellTakenOut(_) => "cell-taken-out",
            Event::CellWeighed(_) => "cell-weighed",
            Event::Hold(_) => "hold",
            Event::Inspection(_) => "inspection",
            Event::Release(_) => "release",
            Event::Escalation(_) => "escalation",
            Event::TemperatureLook(_) => "temperature-look",
            Event::FindingReleased(_) => "finding-released",
            Event::ShipmentDrafted(_) => "shipment-drafted",
            Event::ShipmentWithdrawn(_) => "shipment-withdrawn",
            Event::ReceiverAgreed(_) => "receiver-agreed",
            Event::HandedOver(_) => "handed-over",
            Event::ShipmentFollowedUp(_) => "shipment-followed-up",
            Event::CellLeft(_) => "cell-left",
            Event::ContainerLeft(_) => "container-left",
            Event::CellReturned(_) => "cell-returned",
            Event::ContainerReturned(_) => "container-returned",
            Event::UsedRecord(_) => "used-record",
            Event::LifetimeRecord(_) => "lifetime-record",
            Event::Fitted(_) => "fitted",
            Event::TakenOutOfDevice(_) => "taken-out-of-device",
            Event::Incident(_) => "incident",
            Event::LabelPutOn(_) => "label-put-on",
            // The kind says what a remark on it is about.
            Event::Irregularity(event) => event.about.irregularity(),
            Event::Remedy(event) => event.about.remedy(),
            Event::ContainerMoved(_) => "container-moved",
            Event::ContainerRepacked(_) => "container-repacked",
            Event::Received(_) => "received",
            Event::Correction(_) => "correction",
        }
    }

    /// Returns the cell, container or shipment that the entry stands under.
    pub fn subject(&self) -> &str {
        match self {
            Event::Judgement(event) => &event.cell,
            Event::ContainerOpened(event) => &event.container,
            Event::CellPlaced(event) => &event.cell,
            Event::CellTakenOut(event) => &event.cell,
            Event::CellWeighed(event) => &event.cell,
            Event::Hold(event) => &event.cell,
            Event::Inspection(event) => &event.cell,
            Event::Release(event) => &event.cell,
            Event::Escalation(event) => &event.cell,
            Event::TemperatureLook(event) => &event.cell,
            Event::FindingReleased(event) => &event.cell,
            Event::ShipmentDrafted(event) => &event.shipment,
            Event::ShipmentWithdrawn(event) => &event.shipment,
            Event::ReceiverAgreed(event) => &event.shipment,
            Event::HandedOver(event) => &event.shipment,
            Event::ShipmentFollowedUp(event) => &event.shipment,
            Event::CellLeft(event) => &event.cell,
            Event::ContainerLeft(event) => &event.container,
            Event::CellReturned(event) => &event.cell,
            Event::ContainerReturned(event) => &event.container,
            Event::UsedRecord(event) => &event.cell,
            Event::LifetimeRecord(event) => &event.cell,
            Event::Fitted(event) => &event.cell,
            Event::TakenOutOfDevice(event) => &event.cell,
            Event::Incident(event) => &event.cell,
            Event::LabelPutOn(event) => &event.cell,
            Event::Irregularity(event) => &event.name,
            Event::Remedy(event) => &event.name,
            Event::ContainerMoved(event) => &event.container,
            Event::ContainerRepacked(event) => &event.container,
            Event::Received(event) => &event.cell,
            Event::Correction(event) => &event.subject,
        }
    }

    /// Returns the names of all that must be known to say whether it fits.
    pub fn names(&self) -> Vec<&str> {
        match self {
            Event::CellPlaced(event) => vec![&event.cell, &event.container],
            Event::ContainerRepacked(event) => {
                std::iter::once(&event.container).chain(&event.into).map(String::as_str).collect()
            }
            Event::ShipmentDrafted(event) => {
                std::iter::once(event.shipment.as_str()).chain(event.containers()).collect()
            }
            Event::Irregularity(event) => {
                event.event.as_deref().map_or_else(|| vec![event.name.as_str()], Event::names)
            }
            event => vec![event.subject()],
        }
    }

    /// Gives the entries that it names other numbers.
    ///
    /// # Errors
    /// The first that `number` gives.
    pub fn renumber<E>(&mut self, number: &mut dyn FnMut(u32) -> Result<u32, E>) -> Result<(), E> {
        match self {
            Event::Judgement(event) => event.assessment = number(event.assessment)?,
            Event::Correction(event) => event.entry = number(event.entry)?,
            Event::FindingReleased(event) => event.entry = number(event.entry)?,
            Event::Remedy(event) => event.entry = number(event.entry)?,
            Event::Irregularity(event) => {
                if let Some(inner) = &mut event.event {
                    inner.renumber(number)?;
                }
            }
            Event::UsedRecord(event) => event.assessment = number(event.assessment)?,
            Event::ShipmentDrafted(event) => {
                for item in &mut event.contents {
                    item.judgement = number(item.judgement)?;
                }
            }
            _ => {}
        }
        Ok(())
    }
}
