//! How a cell or a container leaves the shop without a shipment, and how it comes back.

use serde::{Deserialize, Serialize};

/// How something left without a shipment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WayOut {
    /// Handed back to its owner.
    HandedBack,
    /// Sold as a used cell.
    Sold,
    /// Given to somebody who refurbishes.
    Refurbisher,
    /// Handed to a recycler without a shipment.
    Recycler,
    /// Nobody knows where it is.
    Lost,
    /// Stolen.
    Stolen,
    /// Burnt in the shop.
    Burnt,
    /// Taken apart.
    TakenApart,
    /// Taken by an authority: fire service, police, customs.
    Authority,
}

impl WayOut {
    /// All, in the order of this list.
    pub const ALL: [Self; 9] = [
        Self::HandedBack,
        Self::Sold,
        Self::Refurbisher,
        Self::Recycler,
        Self::Lost,
        Self::Stolen,
        Self::Burnt,
        Self::TakenApart,
        Self::Authority,
    ];

    /// Returns it in words, as they follow a name.
    pub const fn words(self) -> &'static str {
        match self {
            Self::HandedBack => "handed back to its owner",
            Self::Sold => "sold",
            Self::Refurbisher => "given to a refurbisher",
            Self::Recycler => "handed to a recycler without a shipment",
            Self::Lost => "lost",
            Self::Stolen => "stolen",
            Self::Burnt => "burnt in the shop",
            Self::TakenApart => "taken apart",
            Self::Authority => "taken by an authority",
        }
    }

    /// Returns whether it happens to the shop: it is written down whatever the cell is, for nobody was asked.
    pub const fn happens_to_us(self) -> bool {
        matches!(self, Self::Lost | Self::Stolen | Self::Burnt | Self::TakenApart | Self::Authority)
    }

    /// Returns whether nothing is left that could come back.
    pub const fn is_the_end(self) -> bool {
        matches!(self, Self::Burnt | Self::TakenApart)
    }

    /// Returns whether somebody has it after that who can be named.
    pub const fn goes_to_somebody(self) -> bool {
        matches!(self, Self::HandedBack | Self::Sold | Self::Refurbisher | Self::Recycler | Self::Authority)
    }
}

/// How something left, to whom, and what was said.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Departure {
    /// How.
    pub how: WayOut,
    /// To whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// The paper that goes with it: invoice, receipt, number of a report.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub document: Option<String>,
    /// What was said to whoever takes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub told: Option<String>,
    /// What happened, or why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

impl Departure {
    /// Says how and to whom.
    pub fn words(&self) -> String {
        let to = self.to.as_deref().map_or_else(String::new, |to| format!(": {to}"));
        format!("{}{to}", self.how.words())
    }
}

/// A cell that left.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CellLeft {
    /// The cell.
    pub cell: String,
    /// How.
    pub departure: Departure,
    /// What stood against it, or was not known of it, on leaving.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub against: Vec<String>,
}

/// A cell of a container that leaves or comes back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Inside {
    /// The cell.
    pub cell: String,
    /// Its inner packing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inner: Option<String>,
    /// What stood against it, or was not known of it, on leaving.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub against: Vec<String>,
}

/// A container that left with all that was in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ContainerLeft {
    /// The container.
    pub container: String,
    /// Its cells.
    pub cells: Vec<Inside>,
    /// How.
    pub departure: Departure,
}

/// How something came back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WayBack {
    /// Returned by the carrier.
    Carrier,
    /// Refused by whoever was to take it.
    Refused,
    /// Found again.
    Found,
    /// Brought back by whoever had it.
    BroughtBack,
}

impl WayBack {
    /// All, in the order of this list.
    pub const ALL: [Self; 4] = [Self::Carrier, Self::Refused, Self::Found, Self::BroughtBack];

    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Carrier => "returned by the carrier",
            Self::Refused => "refused by its receiver",
            Self::Found => "found again",
            Self::BroughtBack => "brought back",
        }
    }
}

/// How something came back, from whom, and how it looked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arrival {
    /// How.
    pub how: WayBack,
    /// Who brought it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// How it looked on arrival.
    pub seen: String,
}

impl Arrival {
    /// Says how and from whom.
    pub fn words(&self) -> String {
        let from = self.from.as_deref().map_or_else(String::new, |from| format!(", from {from}"));
        format!("{}{from}", self.how.words())
    }
}

/// A cell that came back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CellReturned {
    /// The cell.
    pub cell: String,
    /// How.
    pub arrival: Arrival,
}

/// A container that came back with what left with it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ContainerReturned {
    /// The container.
    pub container: String,
    /// Its cells: those that left with it and have not come back before.
    pub cells: Vec<Inside>,
    /// How.
    pub arrival: Arrival,
}
