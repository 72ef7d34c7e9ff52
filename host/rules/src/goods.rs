//! In what form batteries are carried: by themselves, contained in equipment, or packed with it. The law numbers the forms apart.

use serde::{Deserialize, Serialize};

/// In what form batteries are carried.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Goods {
    /// Cells or batteries by themselves.
    #[default]
    Alone,
    /// Contained in equipment.
    InEquipment,
    /// Packed with equipment, beside it.
    WithEquipment,
}

impl Goods {
    /// All forms.
    pub const ALL: [Self; 3] = [Self::Alone, Self::InEquipment, Self::WithEquipment];

    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Alone => "by themselves",
            Self::InEquipment => "contained in equipment",
            Self::WithEquipment => "packed with equipment",
        }
    }
}
