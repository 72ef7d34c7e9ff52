//! What comes after a hand-over: the receiver's receipt and scales, a certificate, a refusal.

use crate::units::Milligrams;
use serde::{Deserialize, Serialize};

/// Something that a shipment is followed by after it was handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ShipmentFollowedUp {
    /// The shipment.
    pub shipment: String,
    /// What it was.
    pub follow_up: FollowUp,
}

/// What came after a hand-over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum FollowUp {
    /// The receiver confirmed that it arrived.
    Receipt {
        /// Number or date of the confirmation.
        reference: String,
        /// Mass of the cells as the receiver weighed them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        net: Option<Milligrams>,
    },
    /// The receiver certified what became of it.
    Certificate {
        /// Its number.
        number: String,
        /// Who issued it.
        issued_by: String,
    },
    /// The receiver refused it, whole or in part; the cells are not back yet.
    Refused {
        /// Who refused it.
        refused_by: String,
        /// Why.
        because: String,
        /// The cells that are refused.
        cells: Vec<String>,
    },
    /// What was refused does not come back: it was taken after all, or went on to somebody else.
    Settled {
        /// What became of it.
        because: String,
    },
}
