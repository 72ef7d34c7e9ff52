//! Cautions for one decided cell: the rules that apply, in the order in which a person must read them.
//!
//! Input: a [`Situation`] and the [`Packs`]; output: cautions: what to do when it reacts first, then by gravity, the
//! general ones before those of the place. For every fate there are some, also for `reuse`.

use crate::figure::Blocked;
use crate::kind::{Kind, Severity};
use crate::legal_state::LegalState;
use crate::library::Packs;
use crate::pack::Pack;
use crate::place::PlaceCode;
use crate::rule::Rule;
use celltriage_verdict::charge_temperature::charge_temperature;
use celltriage_verdict::{CellState, Hazard, Verdict, limit_figure};
use jiff::ToSpan;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A caution, ready to be printed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// What to heed, and what is doubtful about it.
    pub text: String,
    /// How grave it is.
    pub severity: Severity,
    /// Where it comes from; names the file of an own pack.
    pub source: String,
    /// Whether it must be verified before it is relied on: from memory, hardly sure, or its review is overdue.
    pub verify: bool,
    /// Whom to ask.
    pub verify_with: String,
    /// What the rule does.
    pub kind: Kind,
    /// Name of the rule in its pack.
    pub rule: String,
}

/// For what cautions are wanted.
#[derive(Clone, Copy, Debug)]
pub struct Situation<'a> {
    /// What was decided.
    pub verdict: &'a Verdict,
    /// Charge limit of the label in V.
    pub charge_limit_v: f64,
    /// Where the cell is, if given.
    pub place: Option<&'a PlaceCode>,
    /// Day of the decision, where the cell is.
    pub date: Date,
}

/// Finds the cautions for a situation.
pub fn cautions(situation: &Situation<'_>, packs: &Packs) -> Vec<Caution> {
    let one_year_after = situation.date.saturating_add(1.year());
    let blanks = Blanks {
        decision_date: situation.date.to_string(),
        // One year after 29 February is 28 February: the earlier of the two days that could be meant.
        one_year_after: one_year_after.to_string(),
        charge_limit: limit_figure(situation.charge_limit_v, "V"),
    };
    let rules = packs.layers(situation.place).into_iter().flat_map(with_rules);
    let found = rules.filter(|(_, rule)| rule.on_page && applies(rule, situation)).collect();
    let mut cautions = in_order(found, situation.date, &blanks);
    if let Some(missing) = where_rules_are_missing(situation.place, packs) {
        cautions.push(missing);
    }
    cautions
}

fn applies(rule: &Rule, situation: &Situation<'_>) -> bool {
    let verdict = situation.verdict;
    let state = LegalState::of(verdict.fate, verdict.condition);
    let fits_fate = rule.fates.is_empty() || rule.fates.contains(&verdict.fate);
    let fits_condition = rule.conditions.is_empty() || rule.conditions.contains(&verdict.condition);
    let fits_state = rule.states.is_empty() || state.is_among(&rule.states);
    let shows = |hazards: &[Hazard]| hazards.iter().any(|hazard| verdict.points_to(*hazard));
    let fits_hazard = (rule.hazards.is_empty() || shows(&rule.hazards)) && !shows(&rule.except_hazards);
    rule.kind != Kind::Sign
        && rule.holds_on(situation.date)
        && fits_fate
        && fits_condition
        && fits_state
        && fits_hazard
}

/// Returns what to do about a cell that is reacting now, by the rules of a place.
pub fn emergency_texts<'p>(packs: &'p Packs, place: Option<&PlaceCode>) -> Vec<&'p str> {
    let rules = packs.layers(place).into_iter().flat_map(|pack| &pack.rules);
    rules
        .filter(|rule| rule.kind == Kind::Emergency && rule.conditions.contains(&CellState::Critical))
        .map(|rule| rule.text.as_str())
        .collect()
}

/// What the blanks of a text are filled with.
pub(super) struct Blanks {
    pub(super) decision_date: String,
    pub(super) one_year_after: String,
    pub(super) charge_limit: String,
}

/// Names each rule with its pack.
pub(super) fn with_rules(pack: &Pack) -> impl Iterator<Item = (&Pack, &Rule)> {
    pack.rules.iter().map(move |rule| (pack, rule))
}

/// Returns whether a rule gives way to one that says it replaces it. What to do when a cell reacts, and the
/// texts that hold everywhere, are never taken away; what forbids something gives way only to what forbids the same.
pub fn gives_way(pack: &Pack, rule: &Rule, nearer: &Rule) -> bool {
    let general = pack.place.is_none() && pack.layer.is_none();
    !general
        && rule.kind != Kind::Emergency
        && nearer.instead_of.contains(&rule.id)
        && nearer.id != rule.id
        && (rule.blocks.is_none() || rule.blocks == nearer.blocks)
}

/// Leaves out each rule that a nearer one replaces.
pub(super) fn nearest<'p>(found: Vec<(&'p Pack, &'p Rule)>) -> Vec<(&'p Pack, &'p Rule)> {
    let stays = |pack: &Pack, rule: &Rule| !found.iter().any(|(_, nearer)| gives_way(pack, rule, nearer));
    found.iter().filter(|(pack, rule)| stays(pack, rule)).copied().collect()
}

/// Prints rules, given from the widest place to the narrowest, in the order of reading.
///
/// Of several rules that forbid the same thing only the narrowest place's is printed: it says no in the words of the
/// law that holds there, and nobody reads the same no twice.
pub(super) fn in_order(found: Vec<(&Pack, &Rule)>, date: Date, blanks: &Blanks) -> Vec<Caution> {
    let found = nearest(found);
    let forbidden_again = |index: usize, blocked: Blocked| {
        found.iter().skip(index + 1).any(|(_, later)| later.blocks == Some(blocked))
    };
    let mut cautions: Vec<Caution> = found
        .iter()
        .enumerate()
        .filter(|(index, (_, rule))| rule.blocks.is_none_or(|blocked| !forbidden_again(*index, blocked)))
        .map(|(_, (pack, rule))| printed(pack, rule, date, blanks))
        .collect();
    // Stable: within one gravity the order of the packs stays, from everywhere to the place.
    cautions.sort_by_key(|caution| (caution.kind != Kind::Emergency, std::cmp::Reverse(caution.severity)));
    cautions
}

fn printed(pack: &Pack, rule: &Rule, date: Date, blanks: &Blanks) -> Caution {
    Caution {
        text: with_doubt(&filled(&rule.text, blanks), rule.doubt.as_deref()),
        severity: rule.severity,
        source: pack.source(&rule.cite),
        verify: rule.needs_verifying(date),
        verify_with: pack.authority.clone(),
        kind: rule.kind,
        rule: rule.id.clone(),
    }
}

/// Fills the blanks of a text.
pub(super) fn filled(text: &str, blanks: &Blanks) -> String {
    text.replace("{decision_date}", &blanks.decision_date)
        .replace("{one_year_after}", &blanks.one_year_after)
        .replace("{charge_limit}", &blanks.charge_limit)
        .replace("{charge_temperature}", &charge_temperature())
}

/// Adds a doubt to a text, so that the one is never printed without the other.
fn with_doubt(text: &str, doubt: Option<&str>) -> String {
    match doubt {
        Some(doubt) => format!("{text} In doubt: {doubt}."),
        None => text.to_owned(),
    }
}

/// Says so where this program knows no rules of the place itself.
pub(super) fn where_rules_are_missing(place: Option<&PlaceCode>, packs: &Packs) -> Option<Caution> {
    let (rule, text) = match place {
        None => (
            "no_place",
            "No place was given, so no local rule is shown. Ask your waste authority and your fire authority before \
             you store, pack or send it."
                .to_owned(),
        ),
        Some(place) if packs.of(place).is_none() => (
            "no_pack",
            format!(
                "This program knows no rules of {place} itself. Ask its waste authority and its fire authority \
                 before you store, pack or send it."
            ),
        ),
        Some(_) => return None,
    };
    Some(Caution {
        text,
        severity: Severity::Notice,
        source: "no rule pack for this place".to_owned(),
        verify: true,
        verify_with: "your authority".to_owned(),
        kind: Kind::Defer,
        rule: rule.to_owned(),
    })
}
