//! A shipment as it stands: its papers, how far it is, and what followed its hand-over.

use crate::event::{FollowUp, HandedOver, ShipmentDrafted};
use crate::units::Milligrams;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// How far a shipment is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Progress {
    /// Papers are drafted.
    Drafted,
    /// The draft was given up.
    Withdrawn,
    /// It has left.
    HandedOver {
        /// When.
        on: Date,
    },
}

/// A shipment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shipment {
    /// Its papers.
    pub draft: ShipmentDrafted,
    /// When they were drafted.
    pub drafted_on: Date,
    /// Who drafted them.
    pub drafted_by: String,
    /// The receiver's word.
    pub agreed: Option<(Date, String)>,
    /// How it was handed over.
    pub handed_over: Option<HandedOver>,
    /// How far it is.
    pub progress: Progress,
    /// What followed its hand-over, with entry and day, in the order of the book.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub followed: Vec<(u32, Date, FollowUp)>,
    /// Cells that its receiver refused and that have not come back.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub refused: Vec<String>,
    /// Cells that came back, with the day.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub returned: Vec<(String, Date)>,
}

impl Shipment {
    /// Returns a shipment whose papers were drafted.
    pub const fn of(draft: ShipmentDrafted, drafted_on: Date, drafted_by: String) -> Self {
        Self {
            draft,
            drafted_on,
            drafted_by,
            agreed: None,
            handed_over: None,
            progress: Progress::Drafted,
            followed: Vec::new(),
            refused: Vec::new(),
            returned: Vec::new(),
        }
    }

    /// Takes in what followed its hand-over.
    pub(crate) fn is_followed_by(&mut self, entry: u32, on: Date, follow_up: &FollowUp) {
        match follow_up {
            FollowUp::Refused { cells, .. } => self.refused.extend(cells.iter().cloned()),
            FollowUp::Settled { .. } => self.refused.clear(),
            FollowUp::Receipt { .. } | FollowUp::Certificate { .. } => {}
        }
        self.followed.push((entry, on, follow_up.clone()));
    }

    /// Takes in that one of its cells came back.
    pub(crate) fn gets_back(&mut self, cell: &str, on: Date) {
        self.refused.retain(|refused| refused != cell);
        self.returned.push((cell.to_owned(), on));
    }

    /// Returns the mass of its cells as it was counted here.
    pub fn counted(&self) -> Milligrams {
        self.draft.contents.iter().map(|item| item.mass).sum()
    }

    /// Returns the mass that its receiver has weighed last, beside the one counted here, in words.
    pub fn weighed_words(&self) -> Option<String> {
        let weighed = self.followed.iter().rev().find_map(|(_, _, follow_up)| match follow_up {
            FollowUp::Receipt { net, .. } => *net,
            _ => None,
        })?;
        let counted = self.counted();
        let by = Milligrams(weighed.0.abs_diff(counted.0));
        let difference = match weighed.cmp(&counted) {
            std::cmp::Ordering::Equal => "no difference".to_owned(),
            std::cmp::Ordering::Less => format!("{by} less"),
            std::cmp::Ordering::Greater => format!("{by} more"),
        };
        let unknown = self.draft.contents.iter().filter(|item| !item.mass_known).count();
        let of = if unknown == 0 { String::new() } else { format!(" ({unknown} not weighed here)") };
        Some(format!("{weighed} at the receiver, {counted} counted here{of}: {difference}"))
    }
}
