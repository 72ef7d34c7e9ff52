//! What is opened, put in and taken out.

use crate::units::{Milligrams, Millilitres, MilliwattHours};
use celltriage_rules::{LegalState, PlaceCode};
use serde::{Deserialize, Serialize};

/// What a container is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ContainerKind {
    /// Waste cells that are judged intact.
    Intact,
    /// Damaged, defective and unjudged cells, each in an inner packing of its own.
    Damaged,
    /// Cells under watch, each in an inner packing of its own.
    Quarantine,
}

/// A new container.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ContainerOpened {
    /// Its name.
    pub container: String,
    /// What it is for.
    pub kind: ContainerKind,
    /// Place whose rules apply.
    pub place: PlaceCode,
    /// Where in the shop it stands.
    pub stands: String,
    /// Mass of the empty container with its filling, where it was weighed.
    pub tare: Option<Milligrams>,
    /// Most cells that the shop wants in it.
    pub most_cells: Option<u32>,
    /// Largest mass of cells that the shop wants in it.
    pub most_mass: Option<Milligrams>,
    /// Largest energy that the shop wants in it.
    pub most_energy: Option<MilliwattHours>,
    /// Whether it takes one chemistry only.
    pub one_chemistry: bool,
    /// Its volume, where it was told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume: Option<Millilitres>,
}

/// A cell put into a container.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CellPlaced {
    /// The cell.
    pub cell: String,
    /// The container.
    pub container: String,
    /// Name of its inner packing; each damaged cell has one of its own.
    pub inner: Option<String>,
    /// Its mass, where it was weighed on this occasion.
    pub weighed: Option<Milligrams>,
}

/// A cell taken out of its container.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CellTakenOut {
    /// The cell.
    pub cell: String,
    /// Why.
    pub because: String,
}

impl ContainerKind {
    /// Returns the legal state whose limits are counted for it.
    pub const fn counted_as(self) -> LegalState {
        match self {
            ContainerKind::Intact => LegalState::IntactWaste,
            ContainerKind::Damaged | ContainerKind::Quarantine => LegalState::DamagedOrDefective,
        }
    }

    /// Returns what it is for, in words.
    pub const fn words(self) -> &'static str {
        match self {
            ContainerKind::Intact => "intact waste cells",
            ContainerKind::Damaged => "damaged or defective cells",
            ContainerKind::Quarantine => "cells under watch",
        }
    }
}
