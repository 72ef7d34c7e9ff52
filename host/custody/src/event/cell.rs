//! What is judged, weighed and seen of one cell.

use crate::checklist::Answers;
use crate::units::Milligrams;
use celltriage_rules::LegalState;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A person's judgement of a cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Judgement {
    /// The cell.
    pub cell: String,
    /// Entry of the assessment that was looked at, or of the receipt of what nobody has assessed.
    pub assessment: u32,
    /// What the tool proposed.
    pub proposed: LegalState,
    /// What the person judged.
    pub state: LegalState,
    /// The answers to the checklist.
    pub answers: Answers,
    /// What makes the person able to judge.
    pub qualification: String,
    /// Why it is milder than proposed, where it is; or what else was seen.
    pub because: Option<String>,
    /// The day on which it was decided to discard the cell; nothing for a cell that is not waste.
    pub decided_on: Option<Date>,
    /// The device that it was taken out of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// The day on which it was taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_on: Option<Date>,
    /// Where a photograph of it is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<String>,
}

/// A cell weighed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CellWeighed {
    /// The cell.
    pub cell: String,
    /// Its mass.
    pub mass: Milligrams,
}

/// How a watched cell looked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Look {
    /// As before.
    Unchanged,
    /// Thicker, wetter, warmer, another colour.
    Worse,
    /// Hot, hissing, smoking, giving off gas.
    Active,
}

/// A cell put under watch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hold {
    /// The cell.
    pub cell: String,
    /// Why.
    pub because: String,
    /// Where it lies.
    pub stands: String,
    /// Not released before this day.
    pub until: Date,
    /// Days from one look to the next.
    pub every_days: u32,
}

/// A look at a watched cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Inspection {
    /// The cell.
    pub cell: String,
    /// Temperature of the cell in degC; `None` if nobody went near enough.
    pub temperature_c: Option<f64>,
    /// Temperature of the air in degC.
    pub air_c: Option<f64>,
    /// How it looked.
    pub look: Look,
    /// What else was seen.
    pub note: Option<String>,
}

/// The end of a watch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Release {
    /// The cell.
    pub cell: String,
    /// Why.
    pub because: String,
}

/// A cell found critical.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Escalation {
    /// The cell.
    pub cell: String,
    /// Why.
    pub because: String,
}
