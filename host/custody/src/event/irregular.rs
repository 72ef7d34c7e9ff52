//! What happened against the rules, written down as it was, and what put it right.

use serde::{Deserialize, Serialize};

/// What something is that bears a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Named {
    /// A cell.
    Cell,
    /// A container.
    Container,
    /// A shipment.
    Shipment,
}

/// Something that has happened although the rules refuse it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Irregularity {
    /// What it is about.
    pub about: Named,
    /// Its name.
    pub name: String,
    /// What has happened, as it would be written down if the rules allowed it; `None` where no event says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub event: Option<Box<super::Event>>,
    /// What has happened, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub happened: Option<String>,
    /// The rules that it breaks, in the words in which they refuse it.
    pub breaks: Vec<String>,
    /// What is done about it.
    pub action: String,
}

/// What put an irregularity right.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remedy {
    /// What the irregularity is about.
    pub about: Named,
    /// Its name.
    pub name: String,
    /// The entry of the irregularity.
    pub entry: u32,
    /// What was done.
    pub done: String,
}

impl Named {
    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cell => "cell",
            Self::Container => "container",
            Self::Shipment => "shipment",
        }
    }

    /// Returns the kind of an entry with an irregularity about such a thing.
    pub(super) const fn irregularity(self) -> &'static str {
        match self {
            Self::Cell => "cell-irregularity",
            Self::Container => "container-irregularity",
            Self::Shipment => "shipment-irregularity",
        }
    }

    /// Returns the kind of an entry with a remedy about such a thing.
    pub(super) const fn remedy(self) -> &'static str {
        match self {
            Self::Cell => "cell-remedy",
            Self::Container => "container-remedy",
            Self::Shipment => "shipment-remedy",
        }
    }
}
