//! By what a shipment goes.

use celltriage_rules::Carriage;
use serde::{Deserialize, Serialize};

/// By what a shipment goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Road.
    Road,
    /// Rail.
    Rail,
    /// Sea.
    Sea,
    /// Air: always refused.
    Air,
}

impl Mode {
    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Mode::Road => "road",
            Mode::Rail => "rail",
            Mode::Sea => "sea",
            Mode::Air => "air",
        }
    }

    /// Returns the means of carriage that rules speak of.
    pub const fn carriage(self) -> Carriage {
        match self {
            Mode::Road => Carriage::Road,
            Mode::Rail => Carriage::Rail,
            Mode::Sea => Carriage::Sea,
            Mode::Air => Carriage::Air,
        }
    }
}
