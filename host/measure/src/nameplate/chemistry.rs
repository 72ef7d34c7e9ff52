//! Family of the positive electrode, read from what a label says.

use celltriage_protocol::label;
use serde::{Deserialize, Serialize};

/// Family of the positive electrode, as far as the label says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Chemistry {
    /// Lithium ion, which one is not known.
    #[default]
    LithiumIon,
    /// Lithium cobalt oxide.
    Lco,
    /// Lithium nickel manganese cobalt oxide.
    Nmc,
    /// Lithium nickel cobalt aluminium oxide.
    Nca,
    /// Lithium manganese oxide.
    Lmo,
    /// Lithium iron phosphate.
    Lfp,
}

impl Chemistry {
    /// What can be written in files and options; other spellings of the same are understood too.
    pub const WORDS: &'static str = "lco, nmc, nca, lmo, lfp or li-ion (not told which)";

    /// Returns the end-of-discharge voltage in V that is taken if the label gives none: 3.0 V ends the published
    /// discharge tables of graphite cells, 2.5 V is common practice for iron phosphate.
    pub const fn usual_end_of_discharge_v(self) -> f64 {
        if matches!(self, Chemistry::Lfp) { 2.5 } else { 3.0 }
    }

    /// Returns the name in files.
    pub const fn key(self) -> &'static str {
        match self {
            Chemistry::LithiumIon => "lithium_ion",
            Chemistry::Lco => "lco",
            Chemistry::Nmc => "nmc",
            Chemistry::Nca => "nca",
            Chemistry::Lmo => "lmo",
            Chemistry::Lfp => "lfp",
        }
    }

    /// Finds the chemistry in what a label says, in any spelling that is in use; `None` if it is none of them.
    pub fn from_label(text: &str) -> Option<Self> {
        let plain: String = text.to_lowercase().chars().filter(char::is_ascii_alphanumeric).collect();
        let says = |words: &[&str]| words.iter().any(|word| plain.contains(word));
        // The order matters: NMC and NCA cells name cobalt too, and a phosphate cell may be called "lithium ion".
        if says(&["lfp", "lifepo", "phosphate", "ifp", "ifr"]) {
            Some(Chemistry::Lfp)
        } else if says(&["nmc", "ncm", "limnnico", "lini", "nickelmanganese", "nickelcobaltmanganese", "inr"])
        {
            Some(Chemistry::Nmc)
        } else if says(&["nca", "nickelcobaltalumin"]) {
            Some(Chemistry::Nca)
        } else if says(&["lmo", "limn", "manganese", "imr", "imp"]) {
            Some(Chemistry::Lmo)
        } else if says(&["lco", "licoo", "cobalt", "icp", "icr"]) {
            Some(Chemistry::Lco)
        } else if says(&["lithiumion", "liion", "lithium", "lipo", "lip", "polymer", "graphite", "unknown"]) {
            Some(Chemistry::LithiumIon)
        } else {
            None
        }
    }
}

/// As the fixture's guard has to know it.
impl From<Chemistry> for label::Chemistry {
    fn from(chemistry: Chemistry) -> Self {
        match chemistry {
            Chemistry::LithiumIon => Self::Unknown,
            Chemistry::Lco => Self::Lco,
            Chemistry::Nmc => Self::Nmc,
            Chemistry::Nca => Self::Nca,
            Chemistry::Lmo => Self::Lmo,
            Chemistry::Lfp => Self::Lfp,
        }
    }
}

impl From<label::Chemistry> for Chemistry {
    fn from(chemistry: label::Chemistry) -> Self {
        match chemistry {
            label::Chemistry::Unknown => Self::LithiumIon,
            label::Chemistry::Lco => Self::Lco,
            label::Chemistry::Nmc => Self::Nmc,
            label::Chemistry::Nca => Self::Nca,
            label::Chemistry::Lmo => Self::Lmo,
            label::Chemistry::Lfp => Self::Lfp,
        }
    }
}
