//! The legal state that is proposed for a cell, with the grounds, and what a person has to judge and sign.
//!
//! Input: a verdict, what was seen, place and date; output: a [`Proposal`]. It decides nothing: special provision 376 of
//! the UN Model Regulations leaves the judgement to the maker's criteria or to an expert for the cell.

use crate::caution::with_rules;
use crate::kind::Kind;
use crate::legal_state::LegalState;
use crate::library::Packs;
use crate::place::PlaceCode;
use crate::query::Fact;
use crate::rule::Rule;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_verdict::{CellState, Fate, Finding, Verdict};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A proposed legal state, to be judged and signed by a person.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// The state.
    pub state: LegalState,
    /// What speaks for it in the law of the place.
    pub grounds: Vec<Fact>,
    /// What speaks for it by the workshop's policy alone, with the policy's source.
    pub by_policy_alone: Vec<String>,
    /// What a person has to judge, one point each.
    pub to_judge: Vec<String>,
    /// What has to be written down with the judgement.
    pub to_sign: Vec<String>,
}

/// Proposes the legal state of a cell.
pub fn propose(
    verdict: &Verdict,
    observations: &Observations,
    place: Option<&PlaceCode>,
    date: Date,
    packs: &Packs,
) -> Proposal {
    let signs = packs.layers(place).into_iter().flat_map(with_rules).filter(|(_, rule)| {
        rule.kind == Kind::Sign && rule.holds_on(date) && shows(rule, verdict, observations)
    });
    let signs: Vec<_> = signs.collect();
    let state = signs
        .iter()
        .filter_map(|(_, rule)| rule.proposes)
        .fold(LegalState::of(verdict.fate, verdict.condition), LegalState::max);
    let covered = |sign: Sign| signs.iter().any(|(_, rule)| rule.signs.contains(&sign));
    let by_policy_alone = verdict
        .reasons
        .iter()
        .filter(|reason| reason.finding == Finding::Fail)
        .filter(|reason| reason.sign.is_some_and(|sign| !covered(sign)))
        .map(|reason| format!("{} [{}]", reason.text, reason.source))
        .collect();
    Proposal {
        state,
        grounds: signs.iter().map(|(pack, rule)| Fact::of(pack, rule, date)).collect(),
        by_policy_alone,
        to_judge: to_judge(state, verdict, observations),
        to_sign: to_sign(state),
    }
}

/// Proposes the state of something that nobody has measured, from what was seen of it: unknown at the mildest.
pub fn propose_as_seen(
    observations: &Observations,
    place: Option<&PlaceCode>,
    date: Date,
    packs: &Packs,
) -> Proposal {
    let found: Vec<Sign> =
        Sign::ALL.into_iter().filter(|sign| observations.answer(*sign) == Answer::Yes).collect();
    let rules = packs.layers(place).into_iter().flat_map(with_rules);
    let signs = rules.filter(|(_, rule)| rule.kind == Kind::Sign && rule.holds_on(date));
    let signs: Vec<_> =
        signs.filter(|(_, rule)| rule.signs.iter().any(|sign| found.contains(sign))).collect();
    let by_sign = found.iter().map(|sign| match sign {
        Sign::ActiveNow => LegalState::Critical,
        Sign::CasingBreached => LegalState::CasingBreached,
        _ => LegalState::DamagedOrDefective,
    });
    let state = signs
        .iter()
        .filter_map(|(_, rule)| rule.proposes)
        .chain(by_sign)
        .fold(LegalState::Unknown, LegalState::max);
    let mut to_judge = vec![
        "nobody has measured it: whether it can be diagnosed before it is carried; what cannot counts as damaged"
            .to_owned(),
    ];
    to_judge.extend(points_to_judge(state, observations));
    to_judge.push("whether it is to be discarded, and on which day: from that day the time runs".to_owned());
    Proposal {
        state,
        grounds: signs.iter().map(|(pack, rule)| Fact::of(pack, rule, date)).collect(),
        by_policy_alone: Vec::new(),
        to_judge,
        to_sign: to_sign(state),
    }
}

/// Returns whether a sign of damage shows in what was seen or measured.
fn shows(rule: &Rule, verdict: &Verdict, observations: &Observations) -> bool {
    if rule.signs.is_empty() && rule.hazards.is_empty() {
        return rule.conditions.contains(&verdict.condition);
    }
    rule.signs.iter().any(|sign| observations.answer(*sign) == Answer::Yes)
        || rule.hazards.iter().any(|hazard| verdict.points_to(*hazard))
}

fn points_to_judge(state: LegalState, observations: &Observations) -> Vec<String> {
    let mut points = Vec::new();
    let unseen: Vec<_> = Sign::ALL
        .into_iter()
        .filter(|sign| observations.answer(*sign) == Answer::NotObserved)
        .map(Sign::words)
        .collect();
    if !unseen.is_empty() {
        points.push(format!("not checked for: {}; until then the cell counts as damaged", unseen.join(", ")));
    }
    if state.counts_as_damaged() {
        points.push(
            "whether it is damaged or defective: by the safety criteria of the maker of the cell, battery or \
             product, or as an expert who knows the cell's safety features"
                .to_owned(),
        );
        points.push(
            "whether it is critical: liable in normal carriage to come apart, to react dangerously, to make a flame \
             or dangerous heat, or to give off dangerous gas"
                .to_owned(),
        );
    }
    if state == LegalState::CasingBreached {
        points.push("whether the casing of the cell itself is open, or only its wrapping".to_owned());
    }
    points
}

fn to_judge(state: LegalState, verdict: &Verdict, observations: &Observations) -> Vec<String> {
    let mut points = points_to_judge(state, observations);
    if state == LegalState::NotWaste {
        points.push(
            "whether its reuse can reasonably be expected: else it is waste from the day it is given up"
                .to_owned(),
        );
    }
    if state != LegalState::NotWaste
        && verdict.fate != Fate::Recycle
        && verdict.condition != CellState::Critical
    {
        points
            .push("whether it is to be discarded, and on which day: from that day the time runs".to_owned());
    }
    points
}

fn to_sign(state: LegalState) -> Vec<String> {
    let mut items = vec!["legal state", "name of the person who judged", "day of the judgement"];
    if state.counts_as_damaged() {
        items.push("their qualification, or the maker's criteria that were used");
        items.push("each answer on the list of signs, with what was seen");
    }
    items.into_iter().map(str::to_owned).collect()
}
