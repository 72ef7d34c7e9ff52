//! A container as it stands: how it was opened, and with what it left.

use crate::event::{ContainerOpened, Departure, Inside};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A container.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Container {
    /// How it was opened.
    pub opened: ContainerOpened,
    /// When.
    pub opened_on: Date,
    /// The shipment it is drafted for.
    pub drafted_for: Option<String>,
    /// The shipment it left with.
    pub left_with: Option<String>,
    /// How it left without a shipment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left: Option<LeftWithout>,
}

/// How a container left without a shipment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftWithout {
    /// How.
    pub departure: Departure,
    /// On what day.
    pub on: Date,
    /// The cells that were in it.
    pub cells: Vec<Inside>,
}

impl Container {
    /// Returns a container that was opened on a day.
    pub(crate) const fn of(opened: ContainerOpened, opened_on: Date) -> Self {
        Self { opened, opened_on, drafted_for: None, left_with: None, left: None }
    }

    /// Returns whether it is in the shop.
    pub const fn is_here(&self) -> bool {
        self.left_with.is_none() && self.left.is_none()
    }
}
