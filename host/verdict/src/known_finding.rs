//! What was found of a cell before and stands: the entry, what it found, and how it counts now.

use crate::known_kind::{Barred, KnownKind};
use crate::types::{CellState, Hazard};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What sort of entry says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Told {
    /// A decision.
    Assessment,
    /// A person's judgement.
    Judgement,
    /// A watch that has not ended.
    Hold,
    /// A look at a watched cell.
    Look,
    /// A person who found it critical.
    Escalation,
    /// The hot-cell watch.
    Alarm,
    /// An entry that made it critical was struck, and nobody has judged it since.
    Unjudged,
    /// Something that happened to it or to the device that it was in: a short circuit, heat, wet.
    Incident,
    /// What was seen of it when it was received, before anybody measured it.
    Receipt,
}

/// One thing that was found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownFinding {
    /// The entry that says it.
    pub entry: u32,
    /// On what day.
    pub on: Date,
    /// What sort of entry.
    pub told: Told,
    /// Which row of the table it is; an older record does not say.
    #[serde(default, skip_serializing_if = "KnownFinding::is_unsorted")]
    pub kind: KnownKind,
    /// What was found, in a few words.
    pub what: String,
    /// Who found it, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// What it points to.
    pub condition: CellState,
    /// What kind of danger.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hazard: Option<Hazard>,
    /// The judgement that has found a critical cell no longer critical.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settled_by: Option<u32>,
    /// The entry that has ended it by the rule of its kind; it blocks nothing since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub released_by: Option<u32>,
}

impl KnownFinding {
    fn is_unsorted(kind: &KnownKind) -> bool {
        *kind == KnownKind::Unsorted
    }

    /// Returns whether nothing has ended it.
    pub const fn stands(&self) -> bool {
        self.released_by.is_none()
    }

    /// Returns what it blocks: nothing where it was ended, and a cell that a person has judged no longer critical may
    /// leave.
    pub fn bars(&self) -> Barred {
        let bars = if self.stands() { self.kind.bars() } else { Barred::default() };
        Barred { leaving: bars.leaving && self.settled_by.is_none(), ..bars }
    }

    /// Says it in one line: what, when, which entry, by whom.
    pub fn words(&self) -> String {
        let by = self.by.as_deref().map_or(String::new(), |by| format!(", {by}"));
        format!("{}, {} (entry {}{by})", self.what, self.on, self.entry)
    }

    /// Says it as short as it can be found again.
    pub fn short(&self) -> String {
        format!("{} (entry {})", self.what, self.entry)
    }

    /// Returns whether the cell must count as critical for it: reacting, or likely to, and judged otherwise by nobody since.
    pub fn is_acute(&self) -> bool {
        let counts = self.stands() && self.settled_by.is_none();
        counts && self.condition == CellState::Critical && self.told != Told::Unjudged
    }

    /// The same as it counts now: what a judgement has settled is damage, and no danger of this moment.
    #[must_use]
    pub fn as_it_counts(&self) -> Self {
        if self.settled_by.is_none() {
            return self.clone();
        }
        let hazard = self.hazard.filter(|hazard| *hazard != Hazard::ActiveNow);
        Self { condition: self.condition.min(CellState::DamagedOrDefective), hazard, ..self.clone() }
    }
}
