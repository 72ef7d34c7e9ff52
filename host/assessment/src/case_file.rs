//! A cell's case file: what the book knows of it when somebody takes it up.
//!
//! Plain data, gathered from the book, shown first, and kept with the decision that is made then. What stands against the cell takes
//! part in the decision; where it lies and what was decided or judged before is told and decides nothing.

use celltriage_rules::LegalState;
use celltriage_verdict::{Fate, KnownFinding};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What is known of a cell.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CaseFile {
    /// What stands against it, as it counts now.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub standing: Vec<KnownFinding>,
    /// What was ended by the rule of its kind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ended: Vec<KnownFinding>,
    /// The judgement that counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judged: Option<JudgedBefore>,
    /// The newest decision that counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decided: Option<DecidedBefore>,
    /// Where it is, in words, where it does not lie about in the shop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lies: Option<String>,
}

/// A judgement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JudgedBefore {
    /// What it was judged to be.
    pub state: LegalState,
    /// Who judged.
    pub by: String,
    /// On what day.
    pub on: Date,
    /// The entry.
    pub entry: u32,
}

/// A decision.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DecidedBefore {
    /// Its fate.
    pub fate: Fate,
    /// On what day.
    pub on: Date,
    /// The entry.
    pub entry: u32,
}

impl CaseFile {
    /// Returns whether the book has nothing to tell.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Returns it in lines, the weightiest first: what stands, what was judged and decided, where it is, what was ended.
    pub fn lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = self.standing.iter().map(KnownFinding::words).collect();
        lines.extend(self.beside());
        lines
    }

    /// The same without what stands.
    pub fn beside(&self) -> Vec<String> {
        let judged = self.judged.as_ref().map(|judged| {
            format!("judged {}, {} (entry {}, {})", judged.state, judged.on, judged.entry, judged.by)
        });
        let decided = self.decided.as_ref().map(|decided| {
            let fate = decided.fate.key().to_uppercase();
            format!("decided {fate}, {} (entry {})", decided.on, decided.entry)
        });
        let ended = self.ended.iter().map(|found| {
            let by = found.released_by.map_or(String::new(), |entry| format!("; ended by entry {entry}"));
            format!("{}{by}", found.words())
        });
        judged.into_iter().chain(decided).chain(self.lies.clone()).chain(ended).collect()
    }

    /// Returns the names of people in it.
    pub fn people(&self) -> impl Iterator<Item = &str> {
        let finders = self.standing.iter().chain(&self.ended).filter_map(|found| found.by.as_deref());
        finders.chain(self.judged.iter().map(|judged| judged.by.as_str()))
    }

    /// Returns what a record keeps beside what stood: that is kept under a name of its own.
    #[must_use]
    pub fn without_standing(self) -> Option<Self> {
        let rest = Self { standing: Vec::new(), ..self };
        (!rest.is_empty()).then_some(rest)
    }
}
