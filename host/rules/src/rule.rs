//! One fact of a rule pack: what it says, for which cells, from when to when, where it comes from and how sure it is.

use crate::action::Action;
use crate::certainty::{Confidence, Seen};
use crate::counter::Counter;
use crate::figure::{Blocked, Carriage, Label, Paper, Section, WasteCode};
use crate::goods::Goods;
use crate::kind::{Kind, Severity};
use crate::legal_state::LegalState;
use celltriage_measure::observation::Sign;
use celltriage_verdict::{CellState, Fate, Hazard};
use jiff::civil::Date;

/// One fact.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Its name; stays the same from version to version.
    pub id: String,
    /// First day on which it holds; absent: always so far.
    pub effective_from: Option<Date>,
    /// Last day on which it holds; absent: until further notice.
    pub effective_to: Option<Date>,
    /// What it does.
    pub kind: Kind,
    /// How grave it is.
    pub severity: Severity,
    /// Fates it is for; empty: all.
    pub fates: Vec<Fate>,
    /// Conditions of the cell it is for; empty: all.
    pub conditions: Vec<CellState>,
    /// Legal states it is for; empty: all that fates and conditions leave.
    pub states: Vec<LegalState>,
    /// Dangers it is for; empty: any or none.
    pub hazards: Vec<Hazard>,
    /// Dangers with which it does not fit; of these another fact says what to do.
    pub except_hazards: Vec<Hazard>,
    /// Signs it is about, for the kind `sign`.
    pub signs: Vec<Sign>,
    /// The state that such a sign points to.
    pub proposes: Option<LegalState>,
    /// Actions it is shown for in the table of cautions; empty: none.
    pub actions: Vec<Action>,
    /// Means of carriage it is for; empty: all, or not about carriage.
    pub by: Vec<Carriage>,
    /// Forms of carriage it is for, as the pack names them; see [`Rule::for_goods`].
    pub goods: Vec<Goods>,
    /// Whether the page of a decision shows it; all are shown by `rules show`.
    pub on_page: bool,
    /// The text to print.
    pub text: String,
    /// Where it comes from.
    pub cite: String,
    /// How that was seen.
    pub seen: Seen,
    /// How sure it is.
    pub confidence: Confidence,
    /// What is doubtful about it.
    pub doubt: Option<String>,
    /// When it was checked last.
    pub checked_on: Date,
    /// After this day it is printed as "verify with".
    pub review_by: Date,
    /// What is counted.
    pub count: Option<Counter>,
    /// What is written.
    pub label: Option<Label>,
    /// What is forbidden.
    pub blocks: Option<Blocked>,
    /// What paper or packing is needed.
    pub paper: Option<Paper>,
    /// Which waste codes hold.
    pub codes: Vec<WasteCode>,
    /// The part of a shipment's papers that it belongs to.
    pub in_papers: Option<Section>,
    /// Name of a relief that it is part of: it holds where every counter under that name is kept.
    pub under: Option<String>,
    /// Name of a relief that takes it away.
    pub unless: Option<String>,
    /// Rules of wider places that it replaces, by their names.
    pub instead_of: Vec<String>,
}

impl Rule {
    /// Returns whether it holds on a day.
    pub fn holds_on(&self, date: Date) -> bool {
        self.effective_from.is_none_or(|from| from <= date) && self.effective_to.is_none_or(|to| date <= to)
    }

    /// Returns whether it must be verified before use on a day: never seen, hardly sure, or not looked at again in
    /// time.
    pub fn needs_verifying(&self, date: Date) -> bool {
        self.seen == Seen::Memory || self.confidence == Confidence::Low || self.review_by < date
    }

    /// Returns the forms of carriage that it is for; empty: all. Where the pack names none, what a number of dangerous goods or a
    /// relief hangs on is for batteries by themselves: neither may be taken for equipment unless somebody wrote so.
    pub fn for_goods(&self) -> Vec<Goods> {
        let numbered = self.label.as_ref().is_some_and(Label::is_number);
        let hangs_on_it = self.under.is_some() || self.in_papers == Some(Section::Substance) || numbered;
        if self.goods.is_empty() && hangs_on_it { vec![Goods::Alone] } else { self.goods.clone() }
    }

    /// Returns whether it is for cells of this legal state.
    pub fn is_for(&self, state: LegalState) -> bool {
        if !self.states.is_empty() {
            return state.is_among(&self.states);
        }
        let fates = if self.fates.is_empty() { &Fate::ALL[..] } else { &self.fates };
        let conditions = if self.conditions.is_empty() { &CellState::ALL[..] } else { &self.conditions };
        fates.iter().any(|fate| conditions.iter().any(|condition| LegalState::of(*fate, *condition) == state))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pack::Pack;

    const HEAD: &str = "schema = \"celltriage.rules/1\"\nplace = \"US-CA\"\ntitle = \"mine\"\nversion = \"1\"\n\
                        checked_on = \"2026-01-01\"\nreview_by = \"2027-01-01\"\nauthority = \"my authority\"\n";
    const RULE: &str = "[[rule]]\nid = \"mine.one\"\nkind = \"label\"\nseverity = \"notice\"\n\
                        text = \"Write it down.\"\ncite = \"my own\"\nseen = \"official\"\n";

    #[test]
    fn a_rule_holds_from_its_first_to_its_last_day() {
        let dated = format!("{HEAD}{RULE}effective_from = \"2026-02-01\"\neffective_to = \"2026-02-28\"\n");
        let pack = Pack::from_toml(&dated, "mine.toml").unwrap();
        let holds = |day: &str| pack.rules[0].holds_on(day.parse().unwrap());
        assert!(!holds("2026-01-31") && holds("2026-02-01") && holds("2026-02-28") && !holds("2026-03-01"));
    }

    #[test]
    fn a_fact_from_memory_hardly_sure_or_past_its_review_is_to_be_verified() {
        let rule = |text: &str| Pack::from_toml(text, "mine.toml").unwrap().rules.remove(0);
        let seen = rule(&format!("{HEAD}{RULE}"));
        let verify = |day: &str| seen.needs_verifying(day.parse().unwrap());
        assert!(!verify("2027-01-01") && verify("2027-01-02"));
        let day = "2026-01-01".parse().unwrap();
        assert!(rule(&format!("{HEAD}{RULE}").replace("official", "memory")).needs_verifying(day));
        assert!(rule(&format!("{HEAD}{RULE}confidence = \"low\"\n")).needs_verifying(day));
        assert!(!rule(&format!("{HEAD}{RULE}confidence = \"medium\"\n")).needs_verifying(day));
    }

    #[test]
    fn a_rule_for_damaged_cells_is_also_for_undiagnosed_ones() {
        let with = |keys: &str| Pack::from_toml(&format!("{HEAD}{RULE}{keys}"), "m").unwrap().rules.remove(0);
        let of = |rule: &Rule| -> Vec<LegalState> {
            LegalState::ALL.into_iter().filter(|state| rule.is_for(*state)).collect()
        };
        assert_eq!(of(&with("")), LegalState::ALL);
        let damaged = with("states = [\"damaged_or_defective\"]\n");
        assert_eq!(of(&damaged), [LegalState::Unknown, LegalState::DamagedOrDefective]);
        let recycled = with("fates = [\"recycle\"]\nconditions = [\"intact\"]\n");
        assert_eq!(of(&recycled), [LegalState::IntactWaste]);
    }
}
