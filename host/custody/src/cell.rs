//! A cell in custody: what is known, judged and seen of it, and where it is.
//!
//! Plain state, folded from events by [`State`](super::state::State). What is not known counts as the worst case: unknown
//! is handled as damaged, a mass that nobody weighed is the largest a label may state.

pub use crate::whereabouts::Whereabouts;

use crate::book_time::BookTime;
use crate::event::*;
use crate::facts::Facts;
use crate::receipt::Receipt;
use crate::release::Grounds;
use crate::units::{Milligrams, MilliwattHours};
use crate::watch_end::WatchEnd;
use celltriage_rules::LegalState;
use celltriage_verdict::{Barred, Fate, KnownFinding, Told};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

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
    /// What was found against it and was not struck, in the order of the book; what was ended by its rule too.
    pub found: Vec<KnownFinding>,
    /// What was looked at and measured since, that may end a finding.
    pub grounds: Grounds,
    /// Entries that tell whether it is a cell of the simulated bench.
    pub origins: Vec<(u32, bool)>,
    /// What is recorded of its life, with entry and day, in the order of the book.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lives: Vec<(u32, Date, LifetimeRecord)>,
    /// The last thing after which it must be screened again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screening: Option<Screening>,
    /// The entry with which it went into the device that it is in, and what it was to be screened for before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fitting: Option<(u32, Option<Screening>)>,
    /// What was said of it when it was received, and since.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub receipts: Vec<Receipt>,
    /// The label on it, as noted last: entry, day, and the fate that it names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<(u32, Date, Option<Fate>)>,
}

/// Something after which nothing that was assessed before speaks for a cell: a time in a device, a fall.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Screening {
    /// The entry that says it.
    pub entry: u32,
    /// On what day.
    pub on: Date,
    /// What it was, as it follows the cell's name.
    pub because: String,
    /// The assessment with which it was screened since.
    pub done_by: Option<u32>,
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

impl Cell {
    /// Returns the entry and the day of what a person judges: the latest assessment, or the last look on receipt of what nobody has
    /// assessed.
    pub fn to_be_judged(&self) -> Option<(u32, Date)> {
        match &self.facts {
            Some(facts) => Some((facts.assessment, facts.on)),
            None => self.intake().map(|intake| (intake.looked, intake.looked_on)),
        }
    }

    /// Returns the judgement, if it is about the latest assessment, or about the last look on receipt.
    pub fn standing_judgement(&self) -> Option<&Judged> {
        let latest = self.to_be_judged().map(|(entry, _)| entry);
        self.judgement.as_ref().filter(|judged| Some(judged.judgement.assessment) == latest)
    }

    /// Returns the legal state: as judged; without a standing judgement what the assessment proposes, and unknown at
    /// the mildest.
    pub fn legal(&self) -> LegalState {
        if self.escalated {
            return LegalState::Critical;
        }
        match self.standing_judgement() {
            Some(judged) => judged.judgement.state.max(self.damaged_by_what_stands()),
            None => self
                .facts
                .as_ref()
                .map_or(LegalState::Unknown, |facts| facts.proposed.max(LegalState::Unknown))
                .max(self.alarmed())
                .max(self.as_received()),
        }
    }

    /// Returns the first finding for which it counts as damaged, whatever a later judgement says: what was found stands until it
    /// is struck, or ended by the rule of its kind. A watch is only a suspicion, and has rules of its own.
    pub fn damaged_for(&self) -> Option<&KnownFinding> {
        self.standing().find(|found| found.told != Told::Hold && found.bars().intact_waste)
    }

    fn damaged_by_what_stands(&self) -> LegalState {
        self.damaged_for().map_or(LegalState::NotWaste, |_| LegalState::DamagedOrDefective)
    }

    /// Returns the legal state in words, and why it is not what the page of the decision says of the cell's condition.
    pub fn legal_in_words(&self) -> String {
        let state = self.legal();
        let milder = self.facts.as_ref().map(|facts| facts.proposed).filter(|proposed| *proposed < state);
        match milder {
            // Nothing was found against it: it counts as damaged only because no person has judged it.
            Some(proposed) if state == LegalState::Unknown && self.standing_judgement().is_none() => {
                format!("{state}, until a person judges it; proposed: {proposed}")
            }
            _ => match (self.standing_judgement(), self.damaged_for()) {
                (Some(judged), Some(found)) if judged.judgement.state < state => {
                    format!("{state}, since this stands: {}", found.short())
                }
                _ => state.to_string(),
            },
        }
    }

    /// Returns what the alarms of the hot-cell watch say that no decision knows of yet.
    fn alarmed(&self) -> LegalState {
        let decided = self.facts.as_ref().map_or(0, |facts| facts.assessment);
        let since = |found: &KnownFinding| found.told == Told::Alarm && found.entry > decided;
        if self.standing().any(since) { LegalState::DamagedOrDefective } else { LegalState::NotWaste }
    }

    /// Returns the mass that is counted: weighed, else from the label, else the worst case.
    pub fn mass(&self) -> Milligrams {
        self.known_mass().unwrap_or_else(|| self.largest_mass())
    }

    /// Returns the mass, if it was weighed, stands on the label or was told on receipt.
    pub fn known_mass(&self) -> Option<Milligrams> {
        self.stated_mass().map(|mass| mass.value)
    }

    /// Returns the energy that is counted: the label's, else what was told on receipt, else the worst case.
    pub fn energy(&self) -> MilliwattHours {
        self.stated_energy().map_or_else(|| self.largest_energy(), |energy| energy.value)
    }

    /// Returns whether it is meant to serve again: judged as not waste, or graded so and not judged otherwise. What was
    /// decided before it was in a device, or before an incident, does not count.
    pub fn is_for_reuse(&self) -> bool {
        if self.to_screen().is_some() || self.standing().any(|found| found.told == Told::Incident) {
            return false;
        }
        match self.standing_judgement() {
            Some(_) => self.legal() == LegalState::NotWaste,
            None => {
                let graded = self.facts.as_ref().is_some_and(|facts| facts.fate == Fate::Reuse);
                graded && !self.escalated && self.alarmed() < LegalState::DamagedOrDefective
            }
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

    /// Returns in words that a person judged it to be anything but fit to serve; judgements of earlier decisions count.
    pub fn judged_against(&self) -> Option<String> {
        let judged =
            self.judgement.as_ref().filter(|judged| judged.judgement.state != LegalState::NotWaste)?;
        Some(format!("{} judged it as {} (entry {})", judged.by, judged.judgement.state, judged.entry))
    }

    /// Returns what stands against it, in the order of the book.
    pub fn standing(&self) -> impl Iterator<Item = &KnownFinding> {
        self.found.iter().filter(|found| found.stands())
    }

    /// Returns the first finding that blocks something.
    pub fn barred(&self, what: impl Fn(Barred) -> bool) -> Option<&KnownFinding> {
        self.standing().find(|found| what(found.bars()))
    }

    /// Returns what was found against it, as it counts now.
    pub fn known(&self) -> Vec<KnownFinding> {
        self.standing().map(KnownFinding::as_it_counts).collect()
    }

    /// Ends what stands and is of a sort that an entry ends.
    pub(crate) fn end(&mut self, entry: u32, ends: impl Fn(&KnownFinding) -> bool) {
        let standing = self.found.iter_mut().filter(|found| found.stands());
        standing.filter(|found| ends(found)).for_each(|found| found.released_by = Some(entry));
    }

    /// Forgets what a struck entry said: what it had ended stands again, and what was ended on its grounds.
    pub(crate) fn forget(&mut self, struck: u32) {
        let rested_on_it = self.grounds.strike(struck);
        for found in &mut self.found {
            if found.released_by == Some(struck) || rested_on_it == Some(found.kind.row().release) {
                found.released_by = None;
            }
        }
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

    /// Returns what the tool proposes to the person who judges: what the assessment, alarms since and all that stands tell, and
    /// critical where the cell was found so since.
    pub fn proposal(&self) -> LegalState {
        let told =
            self.facts.as_ref().map_or(LegalState::Unknown, |facts| facts.proposed).max(self.alarmed());
        let told = told.max(self.damaged_by_what_stands()).max(self.as_received());
        let told = if self.to_screen().is_some() { told.max(LegalState::Unknown) } else { told };
        if self.escalated { LegalState::Critical } else { told }
    }
}
