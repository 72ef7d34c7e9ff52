//! What a rule does, and how grave it is.

use serde::{Deserialize, Serialize};

/// How grave it is, in the meaning of the signal words of ANSI Z535.6.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// About things, papers and dates, not about injury.
    #[default]
    Notice,
    /// Could hurt somebody a little.
    Caution,
    /// Could kill or maim.
    Warning,
    /// Will kill or maim if nothing is done.
    Danger,
}

impl Severity {
    /// Returns the signal word.
    pub const fn word(self) -> &'static str {
        match self {
            Severity::Notice => "NOTICE",
            Severity::Caution => "CAUTION",
            Severity::Warning => "WARNING",
            Severity::Danger => "DANGER",
        }
    }
}

/// What a rule does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// What to do when the cell reacts.
    Emergency,
    /// How to touch, keep and carry it.
    Handling,
    /// What must not be done at all.
    Block,
    /// Words to write on it.
    Label,
    /// A clock or an amount that is counted.
    Counter,
    /// A paper or a packing that is needed.
    Document,
    /// A code of a waste list.
    WasteCode,
    /// What the law counts as a sign of damage.
    Sign,
    /// Who decides instead of this program.
    Defer,
    /// What else is good to know.
    Notice,
}

impl Kind {
    /// Returns the name in files and JSON.
    pub const fn key(self) -> &'static str {
        match self {
            Kind::Emergency => "emergency",
            Kind::Handling => "handling",
            Kind::Block => "block",
            Kind::Label => "label",
            Kind::Counter => "counter",
            Kind::Document => "document",
            Kind::WasteCode => "waste_code",
            Kind::Sign => "sign",
            Kind::Defer => "defer",
            Kind::Notice => "notice",
        }
    }
}
