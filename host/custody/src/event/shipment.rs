//! What is drafted, agreed, given up and handed over.

use super::received::{ReceivedAs, RestsOn};
use crate::mode::Mode;
use crate::papers::Papers;
use crate::units::{Milligrams, MilliwattHours};
use crate::waste_code::WasteCode;
use celltriage_rules::{Goods, LegalState, PlaceCode, Purpose};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// One cell of a shipment, as it was when the papers were drafted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// The cell.
    pub cell: String,
    /// Its legal state.
    pub state: LegalState,
    /// Entry of the judgement.
    pub judgement: u32,
    /// Who judged it, with the qualification.
    pub assessor: String,
    /// Mass that was counted.
    pub mass: Milligrams,
    /// Whether that mass was weighed or stands on the label; else it is the worst case.
    pub mass_known: bool,
    /// Energy that was counted.
    pub energy: MilliwattHours,
    /// The container that it goes in, where that is a further one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub container: Option<String>,
    /// Name of its inner packing.
    pub inner: Option<String>,
    /// Day of the decision to discard it.
    pub decided_on: Option<Date>,
    /// What it is, where it was received as something.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is: Option<ReceivedAs>,
    /// How many cells a lot has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cells: Option<u32>,
    /// What the mass of something received rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_rests_on: Option<RestsOn>,
    /// What the energy of something received rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub energy_rests_on: Option<RestsOn>,
    /// Mass of the heaviest cell of a lot; of a lot of which nobody told it, its whole mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heaviest: Option<Milligrams>,
    /// Energy of the largest cell of a lot; of a lot of which nobody told it, its whole energy.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub largest: Option<MilliwattHours>,
}

impl Item {
    /// Returns in what form it is carried.
    pub const fn goods(&self) -> Goods {
        match self.is {
            Some(ReceivedAs::DeviceWithin) => Goods::InEquipment,
            Some(ReceivedAs::DeviceBeside) => Goods::WithEquipment,
            _ => Goods::Alone,
        }
    }
}

/// Drafted papers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShipmentDrafted {
    /// Name of the shipment.
    pub shipment: String,
    /// The container that goes.
    pub container: String,
    /// Further containers that go with it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub more: Vec<String>,
    /// From where.
    pub place: PlaceCode,
    /// By what.
    pub mode: Mode,
    /// For what.
    pub purpose: Purpose,
    /// To whom.
    pub receiver: String,
    /// Day on which it is to leave.
    pub planned_on: Date,
    /// Gross mass of the heaviest package.
    pub gross: Milligrams,
    /// Its cells.
    pub contents: Vec<Item>,
    /// What it needs.
    pub papers: Papers,
    /// Waste codes that may be used on the planned day.
    pub waste_codes: Vec<WasteCode>,
}

impl ShipmentDrafted {
    /// Returns all containers that go.
    pub fn containers(&self) -> impl Iterator<Item = &str> {
        std::iter::once(self.container.as_str()).chain(self.more.iter().map(String::as_str))
    }

    /// Returns the cells that go in one of its containers.
    pub fn inside<'d>(&'d self, container: &'d str) -> impl Iterator<Item = &'d Item> {
        let lies_in = move |item: &Item| item.container.as_deref().unwrap_or(&self.container) == container;
        self.contents.iter().filter(move |item| lies_in(item))
    }

    /// Returns how many cells it has: those of a lot each.
    pub fn cells(&self) -> usize {
        let counts = self.contents.iter().map(|item| item.cells.unwrap_or(1) as usize);
        counts.fold(0, usize::saturating_add)
    }
}

/// A draft given up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShipmentWithdrawn {
    /// The shipment.
    pub shipment: String,
    /// Why.
    pub because: String,
}

/// A receiver's word.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReceiverAgreed {
    /// The shipment.
    pub shipment: String,
    /// Who agreed, and how: a name, a letter, a number.
    pub reference: String,
}

/// A container handed over.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HandedOver {
    /// The shipment.
    pub shipment: String,
    /// Number of the document that went along.
    pub document: String,
    /// Who took it.
    pub received_by: String,
    /// The trained person who checked papers and packages.
    pub checked_by: String,
    /// That person's training.
    pub training: String,
    /// The waste code used, valid on this day; `None` if the place uses none.
    pub waste_code: Option<String>,
}
