//! What was said of a thing when it was received, and since: each record, and what is drawn from all of them.

use crate::checklist::{Answers, Criterion};
use crate::event::{Consent, Received, Symptom, Whose};
use celltriage_measure::observation::{Answer, Observations, Sign};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One record of a receipt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Receipt {
    /// Its entry.
    pub entry: u32,
    /// Its day.
    pub on: Date,
    /// What it says, as far as it counts.
    pub told: Received,
    /// Whether it was struck: then only what the thing is, whose, and how large, is left of it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub struck: bool,
}

/// What is known of a thing from its receipts.
#[derive(Clone, Debug, PartialEq)]
pub struct Intake {
    /// The day on which it came.
    pub since: Date,
    /// The last entry that says what it is or what was seen of it: what a person judges without an assessment.
    pub looked: u32,
    /// The day of that entry.
    pub looked_on: Date,
    /// Whether nothing of it was struck.
    pub counts: bool,
    /// All that was said, the last word on each fact; a sign that was found stays found.
    pub told: Received,
    /// The entry that says what it is.
    pub(crate) is_since: u32,
    /// The day on which consent was given, where the last word is that it was.
    pub consented_on: Option<Date>,
}

impl Intake {
    pub(crate) fn of(receipts: &[Receipt]) -> Option<Self> {
        let first = receipts.first()?;
        let mut all = Self {
            since: first.on,
            looked: first.entry,
            looked_on: first.on,
            counts: receipts.iter().any(|receipt| !receipt.struck),
            told: Received::of(&first.told.cell),
            is_since: first.entry,
            consented_on: None,
        };
        for receipt in receipts {
            all.add(receipt);
        }
        Some(all)
    }

    fn add(&mut self, receipt: &Receipt) {
        let Receipt { entry, on, told, .. } = receipt;
        if told.is_a_look() {
            (self.looked, self.looked_on) = (*entry, *on);
        }
        if told.is.is_some() {
            self.is_since = *entry;
        }
        match told.consent {
            Some(Consent::Given) => self.consented_on = Some(*on),
            Some(_) => self.consented_on = None,
            None => {}
        }
        let all = &mut self.told;
        // A device weighs more than what comes out of it.
        if all.is.is_some() && told.is.is_some() && all.is != told.is {
            all.mass = None;
        }
        let Received {
            cell: _,
            is,
            labelled,
            from,
            found,
            signs,
            whose,
            owner,
            consent,
            photographs,
            mass,
            energy,
            count,
            heaviest,
            largest,
            note,
        } = told.clone();
        all.is = is.or(all.is);
        all.labelled = labelled.or(all.labelled);
        all.from = from.or(all.from.take());
        all.found = found.or(all.found.take());
        for (sign, told) in signs {
            if all.signs.get(&sign) != Some(&Symptom::Yes) {
                all.signs.insert(sign, told);
            }
        }
        all.whose = whose.or(all.whose);
        all.owner = owner.or(all.owner.take());
        all.consent = consent.or(all.consent);
        all.photographs.extend(photographs);
        all.mass = mass.or(all.mass);
        all.energy = energy.or(all.energy);
        all.count = count.or(all.count);
        all.heaviest = heaviest.or(all.heaviest);
        all.largest = largest.or(all.largest);
        all.note = note.or(all.note.take());
    }

    /// Returns what was seen, as the checklist of a cell has it.
    pub fn observations(&self) -> Observations {
        let signs: BTreeMap<Sign, Answer> =
            self.told.signs.iter().map(|(sign, told)| (*sign, told.answer())).collect();
        Observations { signs, ..Observations::default() }
    }

    /// Returns what was seen, question by question, for a person who judges. What cannot be told of it cannot be diagnosed before it is
    /// carried; nothing else answers whether it can.
    pub fn as_recorded(&self) -> Answers {
        let observed = self.observations();
        let mut answers: Answers = Criterion::ALL
            .into_iter()
            .filter_map(|criterion| criterion.sign().map(|sign| (criterion, observed.answer(sign))))
            .collect();
        if self.told.signs.values().any(|told| *told == Symptom::CannotBeTold) {
            answers.insert(Criterion::CannotBeDiagnosed, Answer::Yes);
        }
        answers
    }

    /// Says why it must not be discarded; `None` where it may, as far as it is about whose it is.
    pub fn lacks_consent(&self) -> Option<String> {
        let whose = self.told.whose.unwrap_or(Whose::NotKnown);
        if whose == Whose::Ours || self.told.consent == Some(Consent::Given) {
            return None;
        }
        let owner = self.told.owner.as_ref().map_or(String::new(), |owner| format!(" ({owner})"));
        let consent = self.told.consent.unwrap_or(Consent::NotAsked);
        Some(format!("it is {}{owner}, {}", whose.words(), consent.words()))
    }
}
