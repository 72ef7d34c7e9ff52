//! What a consignment needs by the transport rules, as the papers tell it.
//!
//! Plain data: number, provision, packing, marks, documents, people, each with its source; stored with each draft.

use crate::custody::event::{Mode, Purpose};
use crate::custody::units::{Milligrams, MilliwattHours};
use crate::rules::PlaceCode;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What is to be sent.
#[derive(Clone, Copy, Debug)]
pub struct Consignment<'a> {
    /// From where.
    pub place: &'a PlaceCode,
    /// On what day.
    pub date: Date,
    /// By what.
    pub mode: Mode,
    /// For what.
    pub purpose: Purpose,
    /// Whether its cells count as damaged or defective.
    pub damaged: bool,
    /// Number of cells.
    pub cells: usize,
    /// Heaviest cell.
    pub heaviest: Milligrams,
    /// Largest cell.
    pub largest: MilliwattHours,
    /// All cells.
    pub net: Milligrams,
    /// Gross mass of the heaviest package.
    pub gross: Milligrams,
}

/// One thing that is needed, with its source.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Need {
    /// What is needed.
    pub text: String,
    /// Where it comes from.
    pub citation: String,
    /// Whether it must be verified before it is relied on.
    pub verify: bool,
}

/// Words on a package.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// The exact words.
    pub words: String,
    /// Least letter height in mm; nothing where no text was found that fixes one.
    pub letter_height_mm: Option<u32>,
    /// Where they come from.
    pub citation: String,
    /// Whether words or height must be verified.
    pub verify: bool,
}

/// What a consignment needs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Papers {
    /// UN number.
    pub un_number: String,
    /// Proper shipping name.
    pub shipping_name: String,
    /// Class.
    pub class: String,
    /// Special provision.
    pub provision: Need,
    /// Packing instruction.
    pub packing: Need,
    /// How many packages, at least.
    pub packages: usize,
    /// Words on each package.
    pub marks: Vec<Mark>,
    /// Hazard labels on each package.
    pub labels: Vec<Need>,
    /// Documents.
    pub documents: Vec<Need>,
    /// Training.
    pub training: Vec<Need>,
    /// Who must approve or be asked.
    pub approval: Vec<Need>,
    /// What is not certain.
    pub doubts: Vec<String>,
}
