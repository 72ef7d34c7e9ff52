//! One criterion of a policy: what it looks at, its limit, and what a failure means.

use crate::evidence::Evidence;
use crate::limit::{Guard, Limit};
use crate::measurand::Measurand;
use crate::step::Step;
use crate::types::{CellState, Fate, Hazard};
use celltriage_measure::nameplate::{Chemistry, Form, Nameplate};
use celltriage_measure::observation::{SensedAt, Sign};
use serde::Deserialize;

/// What a criterion looks at.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// A point of the checklist; the answer must be no.
    Sign(Sign),
    /// A number and its limit.
    Number(NumberLimit),
}

/// A number and the limit that it is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct NumberLimit {
    /// Which number.
    pub measurand: Measurand,
    /// The limit, relative to `relative_to` where that is given.
    pub limit: Limit,
    /// Voltage of the label that the limit is added to.
    pub relative_to: Option<LabelVoltage>,
    /// The stated risk and the guard that follows from it.
    pub guard: Guard,
    /// A failure counts only after a rest of at least this many seconds.
    pub rest_s: Option<f64>,
    /// A failure does not count of a cell that is seen to cool towards the air.
    pub unless_cooling: bool,
    /// A failure counts only up to this current, in multiples of It.
    pub up_to_it: Option<f64>,
    /// A value that is neither clear of the limit nor beyond it counts as not measured before a rest of this many seconds.
    pub unclear_after_s: Option<f64>,
    /// Before that rest a fall counts as not measured that is no faster than this voltage (V) over the time for which the cell is
    /// known to have lain since it was last charged or used.
    pub settling_v: Option<f64>,
    /// Where no thickness of the new cell is known, that the cell lies flat on a plate stands in.
    pub or_flat: bool,
}

impl NumberLimit {
    /// Returns the limit for a cell with this label.
    pub fn for_label(&self, nameplate: &Nameplate) -> Limit {
        match self.relative_to {
            None => self.limit,
            Some(LabelVoltage::ChargeLimit) => self.limit.shifted(nameplate.charge_limit_v),
            Some(LabelVoltage::EndOfDischarge) => self.limit.shifted(nameplate.end_of_discharge_v),
        }
    }
}

/// A voltage of the label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LabelVoltage {
    /// Charge limit.
    ChargeLimit,
    /// End of discharge.
    EndOfDischarge,
}

/// Which cells a limit is about; `None` means all.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Class {
    /// Chemistries.
    pub chemistries: Option<Vec<Chemistry>>,
    /// Builds.
    pub forms: Option<Vec<Form>>,
    /// Where the leads sensed the voltage.
    pub sensed: Option<Vec<Sensed>>,
}

/// Where the leads sensed the voltage, as far as a limit depends on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sensed {
    /// At the cell itself, before any protection.
    BeforeProtection,
    /// Behind the protection board, or nobody said where.
    BehindOrUnknown,
}

impl Sensed {
    const fn of(place: Option<SensedAt>) -> Self {
        match place {
            Some(SensedAt::Tabs | SensedAt::CellPads) => Sensed::BeforeProtection,
            Some(SensedAt::PackPads | SensedAt::Connector) | None => Sensed::BehindOrUnknown,
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Sensed::BeforeProtection => "sensed before the protection",
            Sensed::BehindOrUnknown => "sensed behind the protection",
        }
    }
}

impl Class {
    /// Returns whether a cell with this label, sensed at this place, is one of them.
    pub fn holds(&self, nameplate: &Nameplate, sensed_at: Option<SensedAt>) -> bool {
        self.chemistries.as_ref().is_none_or(|all| all.contains(&nameplate.chemistry))
            && self.forms.as_ref().is_none_or(|all| all.contains(&nameplate.form))
            && self.sensed.as_ref().is_none_or(|all| all.contains(&Sensed::of(sensed_at)))
    }

    /// Names them.
    pub fn words(&self) -> String {
        let chemistries = self.chemistries.as_ref().map(|all| all.iter().map(|one| one.key()).collect());
        let forms = self.forms.as_ref().map(|all| all.iter().map(|one| one.key()).collect());
        let sensed = self.sensed.as_ref().map(|all| all.iter().map(|one| one.words()).collect());
        let named: [Option<Vec<&str>>; 3] = [chemistries, forms, sensed];
        named.into_iter().flatten().map(|names| names.join(" or ")).collect::<Vec<_>>().join("; ")
    }
}

/// One criterion.
#[derive(Clone, Debug, PartialEq)]
pub struct Criterion {
    /// Its name; stays the same from version to version.
    pub id: String,
    /// A few words for the table.
    pub title: String,
    /// What it looks at.
    pub subject: Subject,
    /// Which cells it is about.
    pub class: Class,
    /// Whether `reuse` needs it to pass.
    pub mandatory: bool,
    /// What a failure means.
    pub consequence: Consequence,
    /// What to measure if it stays open.
    pub settle: Option<Step>,
    /// Numbers that count as not measured unless this passes.
    pub hides: Vec<Measurand>,
}

impl Criterion {
    /// Returns whether it is about the cell of this evidence.
    pub(super) fn is_about(&self, evidence: &Evidence<'_>) -> bool {
        self.class.holds(evidence.nameplate, evidence.observations.sensed_at)
    }

    /// Returns whether it looks at the same as another one.
    pub fn looks_at_the_same(&self, other: &Criterion) -> bool {
        match (&self.subject, &other.subject) {
            (Subject::Sign(one), Subject::Sign(another)) => one == another,
            (Subject::Number(one), Subject::Number(another)) => one.measurand == another.measurand,
            _ => false,
        }
    }
}

impl Consequence {
    /// Makes that of a question to a person: nothing is said against the cell, and nothing decided before the answer.
    pub(super) fn of_question(source: String) -> Self {
        Self {
            fate: Fate::Undecided,
            condition: None,
            hazard: None,
            source,
            note: None,
            sentence: String::new(),
            advice: None,
        }
    }
}

/// What a failure means; shared by criteria and by the ways in which a test can end.
#[derive(Clone, Debug, PartialEq)]
pub struct Consequence {
    /// Where the cell goes; never `reuse`.
    pub fate: Fate,
    /// How the law may look at the cell then.
    pub condition: Option<CellState>,
    /// What it points to.
    pub hazard: Option<Hazard>,
    /// Where the limit comes from, in a few words.
    pub source: String,
    /// What is to be known of it.
    pub note: Option<String>,
    /// The failure in one sentence, with `{value}`, `{limit}` and `{why}` to be filled in.
    pub sentence: String,
    /// What to do about it.
    pub advice: Option<Step>,
}
