//! The desk: judged, watched, looked at, struck.

use crate::cells::name;
use crate::life::{Came, Ears, Life};
use crate::step::{Judging, Seen, Step};
use crate::told::Held;
use celltriage_book::Entry;
use celltriage_custody::checklist::Criterion;
use celltriage_custody::event::{Escalation, Inspection, Look, Release};
use celltriage_custody::used::RecallCheck;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_workshop::Fault;
use celltriage_workshop::judging::NewJudgement;
use celltriage_workshop::quarantine::NewWatch;
use celltriage_workshop::used_records::ForUse;

impl Life<'_> {
    /// Plays a step at the desk.
    pub(crate) fn at_the_desk(&mut self, step: &Step) -> Came {
        match *step {
            Step::Judged(cell, how) => self.judged(&name(cell), how, false),
            Step::Opened(one, kind) => self.opened(one, kind),
            Step::Boxed(cell, one) => self.boxed(&name(cell), one),
            Step::AtOnce(cell, one, meanwhile) => self.at_once(&name(cell), one, meanwhile),
            Step::TakenOut(cell) => self.taken_out(&name(cell)),
            Step::Watched(cell, days) => self.watched(&name(cell), days),
            Step::Seen(cell, seen) => self.seen(&name(cell), seen),
            Step::Released(cell) => self.released(&name(cell)),
            Step::Reacts(cell) => self.reacts(&name(cell)),
            Step::Drafted(one) => self.drafted(one),
            Step::Agreed(one) => self.agreed(one),
            Step::Leaves(one) => self.leaves(one),
            Step::Withdrawn(one) => self.withdrawn(one),
            Step::Recorded(cell) => self.recorded(&name(cell)),
            Step::Struck(cell, back) => self.struck(&name(cell), back),
            Step::Thermometer(cell, warm) => self.felt(&name(cell), warm),
            Step::Ended(cell, back) => self.ended(&name(cell), back),
            Step::Fitted(cell) => self.fitted(&name(cell)),
            Step::Unfitted(cell) => self.unfitted(&name(cell)),
            Step::Shaken(cell, short) => self.shaken(&name(cell), short),
            Step::Settled(cell) => self.settled(cell),
            _ => Ok(()),
        }
    }

    /// Notes an event about a cell, or that it was refused.
    pub(crate) fn noted(
        &mut self,
        cell: &str,
        done: Result<Entry, Fault>,
    ) -> Result<Option<u32>, (&'static str, String)> {
        self.touched = Some(cell.to_owned());
        match done {
            Ok(entry) => {
                self.told.about(cell, entry.number, self.clock.true_time.get());
                Ok(Some(entry.number))
            }
            Err(fault) => self.refused(&fault).map(|()| None),
        }
    }

    pub(crate) fn hold(&mut self, cell: &str, entry: u32, why: Held) {
        self.told.cells.entry(cell.to_owned()).or_default().held.push((entry, why));
    }

    /// Judges by what was recorded at the bench; `afresh` by what is seen now, which is nothing.
    pub(crate) fn judged(&mut self, cell: &str, how: Judging, afresh: bool) -> Came {
        let to_judge = match self.shop.to_judge(cell) {
            Ok(to_judge) => to_judge,
            Err(fault) => return self.refused(&fault),
        };
        let state = match how {
            Judging::AsProposed => to_judge.cell.proposal().max(LegalState::IntactWaste),
            Judging::NotWaste => LegalState::NotWaste,
            Judging::Intact => LegalState::IntactWaste,
            Judging::Damaged => LegalState::DamagedOrDefective,
            Judging::Critical => LegalState::Critical,
        };
        let state = if state == LegalState::Unknown { LegalState::DamagedOrDefective } else { state };
        let mut answers = to_judge.recorded.clone();
        for criterion in Criterion::ALL {
            let answer = answers.entry(criterion).or_default();
            if afresh || *answer == Answer::NotObserved {
                *answer = Answer::No;
            }
        }
        let new = NewJudgement {
            cell: cell.to_owned(),
            assessment: to_judge.entry,
            state,
            answers,
            qualification: "battery technician".to_owned(),
            because: Some("looked at again".to_owned()),
            device: None,
            removed_on: None,
            photo: None,
            discarded_on: None,
            place: None,
        };
        let (signer, mut ears) = (self.signer(), Ears::default());
        let done = self.shop.judge(&signer, &self.rules, &new, &mut ears).map(|done| done.entry);
        if state == LegalState::Critical && !ears.emergency_first {
            return Err(("danger words first", format!("{cell} is judged critical")));
        }
        let Some(entry) = self.noted(cell, done)? else { return Ok(()) };
        if state == LegalState::NotWaste
            && let Some(held) = self.told.held(cell).first()
        {
            return Err(("no reuse while anything stands", format!("{cell} is judged not waste: {held:?}")));
        }
        if state == LegalState::NotWaste {
            self.is_stock(cell)?;
        }
        if state >= LegalState::DamagedOrDefective {
            self.hold(cell, entry, Held::Judged);
        }
        if state < LegalState::Critical {
            let now = self.clock.true_time.get();
            self.told.cells.entry(cell.to_owned()).or_default().judged = Some(now);
        }
        if state == LegalState::Critical {
            self.reacts_now(cell);
        } else if let Some(since) = self.told.cells.get(cell).and_then(|told| told.reacted) {
            // Days begin at midnight, and may begin half a day earlier elsewhere: the first and the last may be short.
            let hours = self.clock.true_time.get().duration_since(since).as_hours();
            if hours < 26 * 24 {
                return Err(("critical stays critical for four weeks", format!("{cell}: {hours} h")));
            }
        }
        Ok(())
    }

    pub(crate) fn reacts_now(&mut self, cell: &str) {
        let now = self.clock.true_time.get();
        self.told.cells.entry(cell.to_owned()).or_default().reacted = Some(now);
    }

    pub(crate) fn watched(&mut self, cell: &str, days: u8) -> Came {
        let until = self.shop.today().checked_add(jiff::Span::new().days(i64::from(days))).ok();
        let watch = NewWatch {
            cell: cell.to_owned(),
            because: "dropped".to_owned(),
            stands: "sand box, yard".to_owned(),
            until,
            every_days: 7,
        };
        let (signer, began) = (self.signer(), self.clock.true_time.get());
        let done = self.shop.hold(&signer, &self.rules, watch).map(|held| held.entered.entry);
        if let Some(entry) = self.noted(cell, done)? {
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            told.held.retain(|(_, why)| *why != Held::Watch);
            told.held.push((entry, Held::Watch));
            told.watch = Some((began, days));
        }
        Ok(())
    }

    pub(crate) fn seen(&mut self, cell: &str, seen: Seen) -> Came {
        let (look, temperature_c) = match seen {
            Seen::Cool => (Look::Unchanged, Some(18.4)),
            Seen::Warm => (Look::Unchanged, Some(24.0)),
            Seen::Unmeasured => (Look::Unchanged, None),
            Seen::Worse => (Look::Worse, Some(19.0)),
            Seen::Reacting => (Look::Active, None),
        };
        let inspection =
            Inspection { cell: cell.to_owned(), temperature_c, air_c: Some(18.0), look, note: None };
        let (signer, mut ears) = (self.signer(), Ears::default());
        let done = self.shop.inspect(&signer, &self.rules, &inspection, &mut ears).map(|done| done.entry);
        if seen == Seen::Reacting && !ears.emergency_first {
            return Err(("danger words first", format!("{cell} is seen reacting")));
        }
        let Some(entry) = self.noted(cell, done)? else { return Ok(()) };
        let now = self.clock.true_time.get();
        self.told.cells.entry(cell.to_owned()).or_default().seen = Some(now);
        if matches!(look, Look::Worse | Look::Active) {
            self.hold(cell, entry, Held::Seen);
            if look == Look::Active {
                self.reacts_now(cell);
            }
        }
        Ok(())
    }

    pub(crate) fn released(&mut self, cell: &str) -> Came {
        let release = Release { cell: cell.to_owned(), because: "cool and as before".to_owned() };
        let signer = self.signer();
        let done = self.shop.release(&signer, &self.rules, release).map(|done| done.entry);
        if self.noted(cell, done)?.is_none() {
            return Ok(());
        }
        self.tally.released += 1;
        let now = self.clock.true_time.get();
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        told.held.retain(|(_, why)| *why != Held::Watch);
        let Some((began, days)) = told.watch.take() else {
            return Err(("only a watch can end", format!("{cell} was under none")));
        };
        // Days begin at midnight: the first and the last may be short.
        let least = i64::from(days).saturating_sub(1) * 24;
        let lasted = now.duration_since(began).as_hours();
        if lasted < least {
            return Err(("no watch ends early", format!("{cell}: {lasted} h of {days} days")));
        }
        let seen = told.seen.map(|seen| seen.duration_since(began).as_hours());
        // A wrong clock makes another day of one.
        if !self.clock_was_wrong && seen.is_none_or(|seen| seen < least) {
            let what = format!("{cell}: last seen {seen:?} h after it began, of {days} days");
            return Err(("a watch ends after a look at its end", what));
        }
        Ok(())
    }

    fn reacts(&mut self, cell: &str) -> Came {
        let escalation = Escalation { cell: cell.to_owned(), because: "hisses".to_owned() };
        let (signer, mut ears) = (self.signer(), Ears::default());
        let done = self.shop.escalate(&signer, &self.rules, &escalation, &mut ears).map(|done| done.entry);
        if !ears.emergency_first {
            return Err(("danger words first", format!("{cell} reacts")));
        }
        if let Some(entry) = self.noted(cell, done)? {
            self.hold(cell, entry, Held::Seen);
            self.reacts_now(cell);
        }
        Ok(())
    }

    fn recorded(&mut self, cell: &str) -> Came {
        let tested = match self.shop.tested(cell) {
            Ok(tested) => tested,
            Err(fault) => return self.refused(&fault),
        };
        let given = ForUse {
            item: "tablet cell".to_owned(),
            production_year: None,
            company: "Port Ellery Tablet Workshop".to_owned(),
            address: "1 Quay Lane, Port Ellery".to_owned(),
            recall: RecallCheck {
                on: self.shop.today(),
                looked_in: "the maker's list".to_owned(),
                listed: false,
            },
            contract: None,
        };
        let signer = self.signer();
        let done = self.shop.make_used_record(&signer, &self.rules, &tested, given);
        if self.noted(cell, done.map(|made| made.entered.entry))?.is_some() {
            self.tally.records += 1;
            self.is_stock(cell)?;
            if let Some(held) = self.told.held(cell).first() {
                return Err(("no reuse while anything stands", format!("record of {cell}: {held:?}")));
            }
        }
        Ok(())
    }
}
