//! What a rule gives besides its text and its counter, as data: words of a label, a paper, a waste code, what it forbids.
//!
//! Shipments print by these; the rule's text says the same in words.

use serde::{Deserialize, Serialize};

/// Where words are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkOn {
    /// On the cell or on the container it stands in.
    CellOrContainer,
    /// On the outer packing.
    Package,
}

/// Words of a label, exactly as the law has them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Label {
    /// The phrases of which one is written; the preferred one first.
    pub phrases: Vec<String>,
    /// Where it is written.
    pub on: MarkOn,
    /// Language of the phrase after ISO 639, where it is not English or the only one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language: Option<String>,
    /// Least height of the letters in mm, where one is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter_mm: Option<f64>,
    /// A smaller height that is enough on light packages, where the text has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub light: Option<LightPackage>,
    /// For what the package goes, where the words depend on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purpose: Option<Purpose>,
}

/// Height of letters on packages up to some mass.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LightPackage {
    /// Up to this mass in kg, the mass included.
    pub up_to_kg: f64,
    /// Least height of the letters in mm.
    pub letter_mm: f64,
}

impl Label {
    /// Returns whether its words are a number of dangerous goods, as `UN 3480`.
    pub fn is_number(&self) -> bool {
        let number = |phrase: &String| {
            let digits = phrase.strip_prefix("UN").map(str::trim);
            digits.is_some_and(|digits| {
                !digits.is_empty() && digits.bytes().all(|letter| letter.is_ascii_digit())
            })
        };
        self.phrases.iter().any(number)
    }

    /// Returns the least height in mm of its letters on a package, where one is known.
    pub fn letter_mm_on(&self, package_kg: Option<f64>) -> Option<f64> {
        let light = self.light.filter(|light| package_kg.is_some_and(|mass| mass <= light.up_to_kg));
        light.map(|light| light.letter_mm).or(self.letter_mm)
    }
}

/// For what waste cells are sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    /// Recycling.
    Recycling,
    /// Disposal.
    Disposal,
}

impl Purpose {
    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Purpose::Recycling => "recycling",
            Purpose::Disposal => "disposal",
        }
    }
}

/// The part of a shipment's papers that a rule belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Section {
    /// What is carried: number, shipping name, class.
    Substance,
    /// Under which provision it goes.
    Provision,
    /// How it is packed.
    Packing,
    /// Hazard labels on the package.
    HazardLabel,
    /// Documents that go along or are kept.
    Document,
    /// Training of people.
    Training,
    /// Who must approve or be asked.
    Approval,
    /// What goes with a used cell that is not waste; no part of a shipment of waste.
    UsedRecord,
}

impl Section {
    /// Returns its heading.
    pub const fn words(self) -> &'static str {
        match self {
            Section::Substance => "what is carried",
            Section::Provision => "provision",
            Section::Packing => "packing",
            Section::HazardLabel => "hazard labels on each package",
            Section::Document => "documents",
            Section::Training => "training",
            Section::Approval => "who must approve or be asked",
            Section::UsedRecord => "what goes with a used cell",
        }
    }
}

/// A paper or a packing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Paper {
    /// UN numbers, as the text writes them.
    #[serde(default)]
    pub un: Vec<String>,
    /// Special provision or paragraph.
    #[serde(default)]
    pub provision: Option<String>,
    /// Packing instructions or packings, one of which is used.
    #[serde(default)]
    pub packing: Vec<String>,
    /// Proper shipping name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Class of dangerous goods.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
}

/// A code of a waste list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WasteCode {
    /// The code, with its asterisk where it has one.
    pub code: String,
    /// Whether the list calls it hazardous.
    pub hazardous: bool,
    /// For what waste.
    #[serde(rename = "use")]
    pub use_for: String,
}

/// What a rule forbids.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Blocked {
    /// Carriage of any kind.
    Carriage,
    /// Carriage by air.
    Air,
    /// The lighter rules for undamaged waste on its way to recycling.
    EasyRule,
    /// The status and label of universal waste.
    UniversalWaste,
    /// The rubbish bin.
    Bin,
    /// One container for several chemistries of lithium-ion cells.
    MixedChemistries,
}

impl Blocked {
    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            Blocked::Carriage => "carriage of any kind",
            Blocked::Air => "carriage by air",
            Blocked::EasyRule => "the lighter rules for undamaged waste",
            Blocked::UniversalWaste => "status and label of universal waste",
            Blocked::Bin => "the rubbish bin",
            Blocked::MixedChemistries => "several chemistries in one container",
        }
    }
}

/// By what means something is carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Carriage {
    /// On the road.
    Road,
    /// By rail.
    Rail,
    /// By sea.
    Sea,
    /// By aircraft.
    Air,
    /// By post.
    Post,
}

impl Carriage {
    /// Returns the word for the page.
    pub const fn word(self) -> &'static str {
        match self {
            Carriage::Road => "road",
            Carriage::Rail => "rail",
            Carriage::Sea => "sea",
            Carriage::Air => "air",
            Carriage::Post => "post",
        }
    }
}
