//! What packs say as data: what to count, write, enclose, leave undone, and by which waste code.
//!
//! Input: place, date and legal state; output: what the rules of that place and day hold for such a cell, from the widest
//! place to the narrowest: where two contradict each other, the later one is the nearer law. Made for containers and
//! shipments; each answer carries its source and whether it must be verified.

use crate::caution::{Blanks, filled, nearest, with_rules};
use crate::certainty::{Confidence, Seen};
use crate::counter::Counter;
use crate::figure::{Blocked, Carriage, Label, Paper, Section, WasteCode};
use crate::goods::Goods;
use crate::kind::Kind;
use crate::legal_state::LegalState;
use crate::library::Packs;
use crate::pack::{Pack, PackOrigin};
use crate::place::PlaceCode;
use crate::rule::Rule;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A rule as it is shown: text, source, doubts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fact {
    /// Name of the rule.
    pub rule: String,
    /// Name of its pack: a place, `*`, or a layer such as `air`.
    pub place: String,
    /// What it does.
    pub kind: Kind,
    /// First day on which it holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_from: Option<Date>,
    /// Last day on which it holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_to: Option<Date>,
    /// Legal states it is for.
    pub applies_to: Vec<LegalState>,
    /// Means of carriage it is for; empty: all, or not about carriage.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by: Vec<Carriage>,
    /// Forms of carriage it is for: by themselves, in equipment, with it; empty: all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub goods: Vec<Goods>,
    /// The text.
    pub text: String,
    /// Where it comes from; names the file of an own pack.
    pub source: String,
    /// How that was seen.
    pub seen: Seen,
    /// How sure it is.
    pub confidence: Confidence,
    /// What is doubtful about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<String>,
    /// When it was checked last.
    pub checked_on: Date,
    /// When it is to be checked again.
    pub review_by: Date,
    /// Whether it must be verified before it is relied on.
    pub verify: bool,
    /// Whom to ask.
    pub verify_with: String,
    /// The part of a shipment's papers that it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_papers: Option<Section>,
    /// Name of the relief that it is part of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under: Option<String>,
    /// Name of the relief that takes it away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unless: Option<String>,
    /// Rules of wider places that it replaces.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instead_of: Vec<String>,
    /// File of the own pack that it comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub own_pack: Option<String>,
}

impl Fact {
    /// Describes a rule of a pack as of a day.
    pub fn of(pack: &Pack, rule: &Rule, date: Date) -> Self {
        let blanks = Blanks {
            decision_date: "the day of the decision".to_owned(),
            one_year_after: "one year after it".to_owned(),
            charge_limit: "the charge limit of the label".to_owned(),
        };
        let own_pack = match &pack.origin {
            PackOrigin::BuiltIn => None,
            PackOrigin::Own { file, .. } => Some(file.clone()),
        };
        Self {
            rule: rule.id.clone(),
            place: pack.name().to_owned(),
            kind: rule.kind,
            effective_from: rule.effective_from,
            effective_to: rule.effective_to,
            applies_to: LegalState::ALL.into_iter().filter(|state| rule.is_for(*state)).collect(),
            by: rule.by.clone(),
            goods: rule.for_goods(),
            text: filled(&rule.text, &blanks),
            source: pack.source(&rule.cite),
            seen: rule.seen,
            confidence: rule.confidence,
            doubt: rule.doubt.clone(),
            checked_on: rule.checked_on,
            review_by: rule.review_by,
            verify: rule.needs_verifying(date),
            verify_with: pack.authority.clone(),
            in_papers: rule.in_papers,
            under: rule.under.clone(),
            unless: rule.unless.clone(),
            instead_of: rule.instead_of.clone(),
            own_pack,
        }
    }

    /// Returns whether it holds for a means of carriage.
    pub fn holds_by(&self, carriage: Carriage) -> bool {
        self.by.is_empty() || self.by.contains(&carriage)
    }
}

impl Fact {
    /// Returns whether it holds for a consignment of these forms: it must be for one of them, and what belongs to a relief for all.
    pub fn holds_for(&self, all: &[Goods]) -> bool {
        let named = |one: &Goods| self.goods.contains(one);
        self.goods.is_empty()
            || if self.under.is_some() { all.iter().all(named) } else { all.iter().any(named) }
    }
}

/// A figure of a rule, with the rule.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FromRule<T> {
    /// The rule.
    pub fact: Fact,
    /// Its figure.
    pub what: T,
}

impl Packs {
    /// Returns every fact for a cell.
    pub fn facts(&self, place: Option<&PlaceCode>, date: Date, state: LegalState) -> Vec<Fact> {
        self.told(place, date, Some(state), |_| Some(())).into_iter().map(|told| told.fact).collect()
    }

    /// Returns what is counted for a cell, in time, mass, energy and the like.
    pub fn counters(
        &self,
        place: Option<&PlaceCode>,
        date: Date,
        state: LegalState,
    ) -> Vec<FromRule<Counter>> {
        self.told(place, date, Some(state), |rule| rule.count)
    }

    /// Returns the words to write for a cell, and on what.
    pub fn labels(&self, place: Option<&PlaceCode>, date: Date, state: LegalState) -> Vec<FromRule<Label>> {
        self.told(place, date, Some(state), |rule| rule.label.clone())
    }

    /// Returns what must not be done with a cell. Carriage by air is always among the answers where it is forbidden,
    /// whatever the place.
    pub fn blocks(&self, place: Option<&PlaceCode>, date: Date, state: LegalState) -> Vec<FromRule<Blocked>> {
        self.told(place, date, Some(state), |rule| rule.blocks)
    }

    /// Returns papers and packings for a cell; a document that names no number is there with its text alone.
    pub fn documents(
        &self,
        place: Option<&PlaceCode>,
        date: Date,
        state: LegalState,
    ) -> Vec<FromRule<Paper>> {
        self.told(place, date, Some(state), |rule| {
            (rule.kind == Kind::Document).then(|| rule.paper.clone().unwrap_or_default())
        })
    }

    /// Returns what belongs into the papers of a shipment, with its paper where it names one.
    pub fn in_papers(
        &self,
        place: Option<&PlaceCode>,
        date: Date,
        state: LegalState,
    ) -> Vec<FromRule<Paper>> {
        self.told(place, date, Some(state), |rule| {
            rule.in_papers.map(|_| rule.paper.clone().unwrap_or_default())
        })
    }

    /// Returns the waste codes that hold on a day; empty where no pack knows any.
    pub fn waste_code(&self, place: Option<&PlaceCode>, date: Date) -> Vec<FromRule<WasteCode>> {
        let lists =
            self.told(place, date, None, |rule| (rule.kind == Kind::WasteCode).then(|| rule.codes.clone()));
        let codes = lists.into_iter().flat_map(|FromRule { fact, what }| {
            what.into_iter().map(move |code| FromRule { fact: fact.clone(), what: code })
        });
        codes.collect()
    }

    fn told<T>(
        &self,
        place: Option<&PlaceCode>,
        date: Date,
        state: Option<LegalState>,
        figure: impl Fn(&Rule) -> Option<T>,
    ) -> Vec<FromRule<T>> {
        let rules = self.layers(place).into_iter().flat_map(with_rules);
        let holding =
            rules.filter(|(_, rule)| rule.holds_on(date) && state.is_none_or(|state| rule.is_for(state)));
        let told = nearest(holding.collect()).into_iter().filter_map(|(pack, rule)| {
            Some(FromRule { what: figure(rule)?, fact: Fact::of(pack, rule, date) })
        });
        told.collect()
    }
}
