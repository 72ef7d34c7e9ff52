//! How a fact of a pack was seen, and how sure one may be of it.

use serde::{Deserialize, Serialize};

/// How the source of a fact was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// In a copy of the cited text itself.
    Official,
    /// In another text that restates the cited one.
    Secondary,
    /// Not at all; printed as "verify with".
    Memory,
}

impl Seen {
    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            Seen::Official => "read in a copy of the text",
            Seen::Secondary => "read in a text that restates it",
            Seen::Memory => "from memory",
        }
    }
}

/// How sure one may be of a fact.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Confidence {
    /// Above 90 %.
    #[default]
    High,
    /// 65 to 90 %.
    Medium,
    /// Below 65 %; printed as "verify with".
    Low,
}

impl Confidence {
    /// Returns the word for the page.
    pub const fn word(self) -> &'static str {
        match self {
            Confidence::High => "high",
            Confidence::Medium => "medium",
            Confidence::Low => "low",
        }
    }
}
