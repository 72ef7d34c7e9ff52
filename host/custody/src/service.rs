//! A cell that serves: what is recorded of its life, in which device it is, and what it must be screened again for.
//!
//! Whatever was assessed before a cell was in a device, or before an incident, says nothing of it any more.

use crate::cell::{Cell, Screening, Whereabouts};
use crate::event::{Fitted, Incident, LifetimeRecord};
use crate::facts::Facts;
use celltriage_rules::LegalState;
use celltriage_verdict::Lifetime;
use jiff::civil::Date;

impl Cell {
    /// Returns what it must be screened again for, if it was not since.
    pub fn to_screen(&self) -> Option<&Screening> {
        self.screening.as_ref().filter(|screening| screening.done_by.is_none())
    }

    /// Says why nothing proves that a cell may serve again; `None` if something does. A cell may be unknown to the book.
    pub fn unproven(cell: Option<&Self>) -> Option<String> {
        let Some(cell) = cell else { return Some("the book knows nothing of it".to_owned()) };
        if cell.is_for_reuse() {
            return None;
        }
        Some(match (cell.to_screen(), &cell.facts) {
            (Some(screening), _) => format!("it {} and was not screened since", screening.because),
            (None, None) => "nobody has assessed it".to_owned(),
            (None, Some(facts)) => format!("it was graded {} (entry {})", facts.fate, facts.assessment),
        })
    }

    /// Returns what is recorded of its life: of each fact the last that was said.
    pub fn lifetime(&self) -> Lifetime {
        let mut lifetime = Lifetime::default();
        for (entry, on, record) in &self.lives {
            record.add_to(&mut lifetime, *entry, *on);
        }
        lifetime
    }

    /// Takes in something after which it must be screened again; a judgement of before says nothing of it any more.
    pub(crate) fn must_be_screened(&mut self, entry: u32, on: Date, because: String) {
        self.escalated |= self.legal() == LegalState::Critical;
        self.judgement = None;
        self.is_to_be_screened(entry, on, because);
    }

    /// Notes that it is to be screened again; what was judged stands.
    pub(crate) fn is_to_be_screened(&mut self, entry: u32, on: Date, because: String) {
        self.screening = Some(Screening { entry, on, because, done_by: None });
    }

    /// Takes in an assessment of it as it is now. A trace from a file may be older than what it must be screened for, and so may
    /// the decision of another bench; a cell in a device is on no fixture.
    pub(crate) fn is_screened_by(&mut self, facts: &Facts) {
        let fitted = matches!(self.whereabouts, Whereabouts::Fitted { .. });
        let Some(screening) = self.screening.as_mut().filter(|screening| screening.done_by.is_none()) else {
            return;
        };
        let later = !facts.from_another_bench || facts.on > screening.on;
        if later && !facts.from_file && !fitted {
            screening.done_by = Some(facts.assessment);
        }
    }

    /// Takes in a record of its life; one that tells of damage ends an earlier judgement.
    pub(crate) fn life_is_recorded(&mut self, entry: u32, on: Date, record: &LifetimeRecord) {
        self.lives.push((entry, on, record.clone()));
        if record.damage().is_some() {
            self.escalated |= self.legal() == LegalState::Critical;
            self.judgement = None;
        }
    }

    /// Takes in that it was fitted into a device.
    pub(crate) fn is_fitted(&mut self, entry: u32, on: Date, fitted: &Fitted) {
        let (device, stays) = (fitted.place(), fitted.stays);
        let because = format!("was fitted in {device} on {on} (entry {entry})");
        self.fitting = Some((entry, self.screening.take()));
        self.is_to_be_screened(entry, on, because);
        self.whereabouts = Whereabouts::Fitted { device, stays, since: on };
    }

    /// Takes in that it was not it that was fitted: the tag of another cell was typed. Only a cell that is still in the device by that
    /// entry; what happened to it since stands.
    pub(crate) fn was_not_fitted(&mut self, struck: u32) {
        let Some((_, before)) = self.fitting.take_if(|(entry, _)| *entry == struck) else { return };
        self.whereabouts = Whereabouts::Loose;
        if self.screening.as_ref().is_some_and(|screening| screening.entry == struck) {
            self.screening = before;
        }
    }

    /// Takes in that it was taken out of its device.
    pub(crate) fn is_taken_out_of_device(&mut self, entry: u32, on: Date) {
        self.fitting = None;
        let device = match std::mem::take(&mut self.whereabouts) {
            Whereabouts::Fitted { device, .. } => device,
            elsewhere => {
                self.whereabouts = elsewhere;
                "a device".to_owned()
            }
        };
        self.must_be_screened(entry, on, format!("was taken out of {device} on {on} (entry {entry})"));
    }

    /// Takes in that something happened to it.
    pub(crate) fn has_incident(&mut self, entry: u32, on: Date, incident: &Incident) {
        let because = format!("had an incident on {on}: {} (entry {entry})", incident.words());
        self.must_be_screened(entry, on, because);
        self.lives.push((entry, on, incident.as_record()));
    }
}
