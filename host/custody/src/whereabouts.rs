//! Where a cell is.

use crate::event::WayOut;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Where a cell is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Whereabouts {
    /// In the shop, in no container.
    #[default]
    Loose,
    /// In a container.
    In {
        /// The container.
        container: String,
        /// Its inner packing.
        inner: Option<String>,
        /// Since when.
        since: Date,
    },
    /// In a device.
    Fitted {
        /// The device or job, in words.
        device: String,
        /// Whether it is to stay; else it is there for a trial.
        stays: bool,
        /// Since when.
        since: Date,
    },
    /// Gone.
    HandedOver {
        /// With which shipment.
        shipment: String,
        /// On what day.
        on: Date,
    },
    /// Gone without a shipment.
    Left {
        /// How.
        how: WayOut,
        /// To whom.
        to: Option<String>,
        /// The container that it left in.
        within: Option<String>,
        /// On what day.
        on: Date,
    },
}

impl Whereabouts {
    /// Returns it in words.
    pub fn words(&self) -> String {
        match self {
            Whereabouts::Loose => "in the shop, in no container".to_owned(),
            Whereabouts::In { container, inner, since } => {
                let inner =
                    inner.as_deref().map_or(String::new(), |inner| format!(", inner packing {inner}"));
                format!("in container {container}{inner} since {since}")
            }
            Whereabouts::Fitted { device, stays, since } => {
                let how = if *stays { "fitted to stay" } else { "fitted for trial" };
                format!("{how} in {device} since {since}")
            }
            Whereabouts::HandedOver { shipment, on } => {
                format!("handed over with shipment {shipment} on {on}")
            }
            Whereabouts::Left { how, to, within, on } => {
                let to = to.as_deref().map_or(String::new(), |to| format!(": {to}"));
                let within =
                    within.as_deref().map_or(String::new(), |name| format!(", with container {name}"));
                format!("{} on {on}{to}{within}", how.words())
            }
        }
    }

    /// Returns whether it left with a shipment and has not come back.
    pub fn is_with(&self, name: &str) -> bool {
        matches!(self, Whereabouts::HandedOver { shipment, .. } if shipment == name)
    }

    /// Returns whether it is no longer in the shop.
    pub const fn is_gone(&self) -> bool {
        matches!(self, Whereabouts::HandedOver { .. } | Whereabouts::Left { .. })
    }
}
