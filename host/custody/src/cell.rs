//! A cell in custody: what is known, judged and seen of it, and where it is.
//!
//! Plain state, folded from events by [`State`](super::state::State). What is not known counts as the worst case: unknown
//! is handled as damaged, a mass that nobody weighed is the largest a label may state.

use crate::book_time::BookTime;
use crate::event::*;
use crate::facts::Facts;
use crate::limits::UNKNOWN_MASS;
use crate::units::{Milligrams, MilliwattHours};
use crate::watch_end::WatchEnd;
use celltriage_rules::LegalState;
use celltriage_verdict::{Fate, KnownFinding};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Where a cell is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Whereabouts {
    /// In the shop, in no container.
    #[default]
    Loose,
    /// In a container.
    In {
        /// The container.
        container: String,
        /// Its inner packing.
        inner: Option<String>,
        /// Since when.
        since: Date,
    },
    /// Gone.
    HandedOver {
        /// With which shipment.
        shipment: String,
        /// On what day.
        on: Date,
    },
}

/// A cell.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// What its latest assessment told.
    pub facts: Option<Facts>,
    /// The judgement that counts, with its entry and who signed it.
    pub judgement: Option<Judged>,
    /// Mass as weighed, with the entry.
    pub weighed: Option<(u32, Milligrams)>,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// The watch it is under.
    pub watch: Option<Watch>,
    /// Found critical since the last judgement.
    pub escalated: bool,
    /// Days on which it was decided to discard it, with the entries that say so.
    pub discards: Vec<(u32, Date)>,
    /// Entries of its test records as a used cell.
    pub used_records: Vec<u32>,
    /// What was found against it and was not struck, in the order of the book.
    pub found: Vec<KnownFinding>,
    /// Entries that tell whether it is a cell of the simulated bench.
    pub origins: Vec<(u32, bool)>,
}

/// A judgement that counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// Its entry.
    pub entry: u32,
    /// Who judged.
    pub by: String,
    /// On what day.
    pub on: Date,
    /// What was judged.
    pub judgement: Judgement,
}

/// A watch over a cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Watch {
    /// Since when.
    pub since: Date,
    /// When it may end.
    pub ends: WatchEnd,
    /// When a look may find the cell no longer critical, where it was found so before the watch or during it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub critical_ends: Option<WatchEnd>,
    /// Its terms.
    pub hold: Hold,
    /// What was seen, with entry and day, in the order of the book.
    pub inspections: Vec<(u32, Date, Inspection)>,
}

impl Whereabouts {
    /// Returns it in words.
    pub fn words(&self) -> String {
        match self {
            Whereabouts::Loose => "in the shop, in no container".to_owned(),
            Whereabouts::In { container, inner, since } => {
                let inner =
                    inner.as_deref().map_or(String::new(), |inner| format!(", inner packing {inner}"));
                format!("in container {container}{inner} since {since}")
            }
            Whereabouts::HandedOver { shipment, on } => {
                format!("handed over with shipment {shipment} on {on}")
            }
        }
    }
}

impl Cell {
    /// Returns the judgement, if it is about the latest assessment.
    pub fn standing_judgement(&self) -> Option<&Judged> {
        let latest = self.facts.as_ref().map(|facts| facts.assessment);
        self.judgement.as_ref().filter(|judged| Some(judged.judgement.assessment) == latest)
    }

    /// Returns the legal state: as judged; without a standing judgement what the assessment proposes, and unknown at
    /// the mildest.
    pub fn legal(&self) -> LegalState {
        if self.escalated {
            return LegalState::Critical;
        }
        match self.standing_judgement() {
            Some(judged) => judged.judgement.state,
            None => self
                .facts
                .as_ref()
                .map_or(LegalState::Unknown, |facts| facts.proposed.max(LegalState::Unknown)),
        }
    }

    /// Returns the mass that is counted: weighed, else from the label, else the worst case.
    pub fn mass(&self) -> Milligrams {
        self.known_mass().unwrap_or(UNKNOWN_MASS)
    }

    /// Returns the mass, if it was weighed or stands on the label.
    pub fn known_mass(&self) -> Option<Milligrams> {
        self.weighed.map(|(_, mass)| mass).or_else(|| self.facts.as_ref().and_then(|facts| facts.label_mass))
    }

    /// Returns the energy that is counted.
    pub fn energy(&self) -> MilliwattHours {
        self.facts.as_ref().map_or(MilliwattHours::default(), |facts| facts.energy)
    }

    /// Returns whether it is meant to serve again: judged as not waste, or graded so and not judged otherwise.
    pub fn is_for_reuse(&self) -> bool {
        match self.standing_judgement() {
            Some(judged) => judged.judgement.state == LegalState::NotWaste && !self.escalated,
            None => self.facts.as_ref().is_some_and(|facts| facts.fate == Fate::Reuse) && !self.escalated,
        }
    }

    /// Returns the container it is in.
    pub fn container(&self) -> Option<&str> {
        match &self.whereabouts {
            Whereabouts::In { container, .. } => Some(container),
            _ => None,
        }
    }

    /// Returns the earliest day on which it was decided to discard it: the day from which a clock runs.
    pub fn discarded_on(&self) -> Option<Date> {
        self.discards.iter().map(|(_, day)| *day).min()
    }

    /// Takes in something that was found, with the book's time; where the cell is critical for it, the days under watch count anew.
    pub(crate) fn finds(&mut self, found: KnownFinding, time: BookTime) {
        let (acute, on) = (found.is_acute(), found.on);
        self.found.push(found);
        if acute {
            self.count_critical_days(on, time);
        }
    }

    /// Begins to count the days after which a look may find it no longer critical, where something says that it is; without a watch
    /// nothing counts.
    pub(crate) fn count_critical_days(&mut self, on: Date, time: BookTime) {
        let acute = self.acute().is_some();
        if let Some(watch) = self.watch.as_mut().filter(|_| acute) {
            watch.critical_ends = Some(WatchEnd::of_critical(&watch.hold, on, time));
        }
    }

    /// Returns what was found against it, as it counts now.
    pub fn known(&self) -> Vec<KnownFinding> {
        self.found.iter().map(KnownFinding::as_it_counts).collect()
    }

    /// Returns the last thing for which it must count as critical.
    pub fn acute(&self) -> Option<&KnownFinding> {
        self.found.iter().rev().find(|found| found.is_acute())
    }

    /// Returns whether an entry that counts says that it is a cell of the simulated bench.
    pub fn is_simulated(&self) -> bool {
        self.origins.iter().any(|(_, simulated)| *simulated)
    }

    /// Returns whether an entry that counts says that it is a real cell.
    pub fn is_real(&self) -> bool {
        self.origins.iter().any(|(_, simulated)| !*simulated)
    }

    /// Returns what the tool proposes to the person who judges: what the assessment tells, and critical where the cell
    /// was found so since.
    pub fn proposal(&self) -> LegalState {
        let told = self.facts.as_ref().map_or(LegalState::Unknown, |facts| facts.proposed);
        if self.escalated { LegalState::Critical } else { told }
    }
}
