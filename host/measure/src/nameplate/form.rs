//! How a cell is built, read from what a label says.

use serde::{Deserialize, Serialize};

/// How the cell is built.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Not known.
    #[default]
    Unknown,
    /// Soft laminate film.
    Pouch,
    /// Hard rectangular can.
    Prismatic,
    /// Hard round can.
    Cylindrical,
}

impl Form {
    /// Returns the name in files.
    pub const fn key(self) -> &'static str {
        match self {
            Form::Unknown => "unknown",
            Form::Pouch => "pouch",
            Form::Prismatic => "prismatic",
            Form::Cylindrical => "cylindrical",
        }
    }

    /// What can be written in files and options.
    pub const WORDS: &'static str = "pouch, prismatic, cylindrical or unknown";

    /// Finds the build in what a label says; `None` if it is none of them.
    pub fn from_label(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase();
        let says = |words: &[&str]| words.iter().any(|word| plain.contains(word));
        if says(&["pouch", "laminate", "film", "polymer", "soft"]) {
            Some(Form::Pouch)
        } else if says(&["prism", "rectang"]) {
            Some(Form::Prismatic)
        } else if says(&["cylind", "round"]) {
            Some(Form::Cylindrical)
        } else if says(&["unknown"]) {
            Some(Form::Unknown)
        } else {
            None
        }
    }
}
