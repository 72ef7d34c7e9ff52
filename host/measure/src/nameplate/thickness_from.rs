//! Where the nominal thickness comes from, which decides how well it is known.

use serde::{Deserialize, Serialize};

/// Where the nominal thickness comes from, which decides how well it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ThicknessFrom {
    /// A figure on the label, rounded to 0.1 mm.
    #[default]
    Label,
    /// A drawing, which usually gives the largest thickness of a new cell.
    Drawing,
    /// The size code of the designation, rounded up to whole millimetres (`ICP6/65/75`).
    SizeCode,
    /// A new cell of the same model, measured at this bench.
    NewCell,
}

impl ThicknessFrom {
    /// What can be written in files and options.
    pub const WORDS: &'static str = "label, drawing, size_code or new_cell";

    /// Returns the name in files.
    pub const fn key(self) -> &'static str {
        match self {
            ThicknessFrom::Label => "label",
            ThicknessFrom::Drawing => "drawing",
            ThicknessFrom::SizeCode => "size_code",
            ThicknessFrom::NewCell => "new_cell",
        }
    }

    /// Returns the source with this name.
    pub fn from_label(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase().replace([' ', '-'], "_");
        [ThicknessFrom::Label, ThicknessFrom::Drawing, ThicknessFrom::SizeCode, ThicknessFrom::NewCell]
            .into_iter()
            .find(|source| source.key() == plain)
    }
}
