//! The decision: every criterion of the policy compared with the evidence, and the fate that follows.
//!
//! Input: a [`Policy`] and the [`Evidence`]; output: a [`Verdict`]. The rules, in this order:
//!
//! 1. The worst failure decides; quarantine is worse than recycle, recycle worse than undecided.
//! 2. Without a failure, anything inconclusive, any mandatory criterion that is missing, any sign that was not
//!    answered "no" and any test that did not come to its end leave the cell `undecided` or worse.
//!    What contradicts earlier decisions of the cell is inconclusive until a person answers (`same_cell.rs`), and a count that the
//!    label does not explain until the label was confirmed (`label.rs`).
//!    A capacity that is only known to be some charge or more passes by that bound and fails by none (`bound.rs`).
//! 3. `reuse` is left when nothing of that applies. The counted capacity is asked for once more in this file,
//!    whatever the policy says: rest voltage and resistance alone never prove a cell. It names what is recorded of
//!    the cell's life; where nothing is, the policy says whether that leaves it `undecided`.

use crate::against_charge::against_charge;
use crate::bound::{lower_bound, pass_by_bound};
use crate::criterion::{Consequence, Criterion, NumberLimit, Subject};
use crate::evidence::{Evidence, RunOutcome, TRIP};
use crate::forbidden::Forbidden;
use crate::hidden::{self, hide};
use crate::judge::judge;
use crate::judged::{Judged, blank};
use crate::known_before::{is_ended_by, of_known};
use crate::label::of_label;
use crate::limit::Limit;
use crate::needed::{left_open, out_of_reach};
use crate::not_counted::{NotCounted, not_counted, settles_since, unclear_before};
use crate::policy::Policy;
use crate::reason::{Finding, Reason, Relation, Value, Verdict};
use crate::same_cell::of_contradictions;
use crate::step::Step;
use crate::traceability::of_lifetime;
use crate::types::{CellState, Fate};
use crate::{flat, settle, several_cells, words};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Answer;

/// Decides what becomes of the cell.
pub fn decide(policy: &Policy, evidence: &Evidence<'_>) -> Verdict {
    let label = of_label(policy, evidence);
    let of_one = |criterion| {
        let mut judged = of_criterion(criterion, evidence, policy.bounds);
        label.soften(criterion, &mut judged);
        judged
    };
    let mut judged: Vec<_> = concerning(policy, evidence).map(of_one).collect();
    judged.push(of_run(policy, evidence));
    hide(policy, &mut judged);
    judged.extend(evidence.known.iter().filter(|known| !is_ended_by(known, evidence)).map(of_known));
    judged.extend(of_contradictions(evidence.contradictions, evidence.observations));
    judged.extend(label.reason);
    let without = fate(&judged, evidence, policy.bounds);
    judged.extend(of_lifetime(policy.traceability.as_ref(), evidence.lifetime, without));
    // The sort is stable: within one rank the order of the policy stays, which begins with the signs.
    judged.sort_by_key(|one| std::cmp::Reverse(rank(one)));

    let fate = fate(&judged, evidence, policy.bounds);
    let condition = condition(&judged, evidence);
    let reasons = || judged.iter().map(|one| &one.reason);
    let looked = evidence.observations.all_answered_no();
    let forbidden = policy.withholds.then(|| Forbidden::by(fate, condition, reasons(), looked));
    let no_charge = against_charge(fate, condition, reasons()).is_some();
    for one in &mut judged {
        let told = one.reason.settle.take().map(|text| Step { text, acts: one.settle_acts.clone() });
        one.reason.settle = match (told, &forbidden) {
            (Some(step), Some(forbidden)) => match forbidden.in_place_of(&step) {
                // Nobody is asked to handle a cell that may react at any time, also where no sign of it was seen.
                None if condition == CellState::Critical && !step.acts.is_empty() => None,
                None => Some(settle::filled_in(&step.text, evidence, false)),
                Some(instead) => (!instead.is_empty()).then(|| instead.to_owned()),
            },
            (told, _) => told.map(|step| settle::filled_in(&step.text, evidence, no_charge)),
        };
    }
    let statement = words::statement(fate, &judged, evidence);
    let next_steps = words::next_steps(fate, &judged, evidence, forbidden.as_ref());
    let reasons = judged.into_iter().map(|one| one.reason).collect();
    let forbids = forbidden.map(|forbidden| forbidden.acts().to_vec());
    Verdict { fate, condition, statement, reasons, next_steps, forbids, policy: policy.mark.clone() }
}

/// Returns the criteria that concern a cell: of those that look at the same number the ones about its class. Where none is,
/// the first stays, and says that no limit is known for such a cell.
fn concerning<'a>(policy: &'a Policy, evidence: &Evidence<'a>) -> impl Iterator<Item = &'a Criterion> {
    policy.criteria.iter().filter(move |one| {
        let same = || policy.criteria.iter().filter(|other| other.looks_at_the_same(one));
        let is_first = || same().next().is_some_and(|first| first.id == one.id);
        one.is_about(evidence) || (is_first() && !same().any(|other| other.is_about(evidence)))
    })
}

fn fate(judged: &[Judged<'_>], evidence: &Evidence<'_>, bounds: bool) -> Fate {
    let worst_failure =
        judged.iter().filter(|one| one.reason.finding == Finding::Fail).map(|one| one.reason.on_fail);
    let open = judged.iter().any(|one| match one.reason.finding {
        Finding::Pass | Finding::Fail => false,
        Finding::Inconclusive => true,
        Finding::Missing => one.reason.mandatory,
    });
    let capacity_counted = [Quantity::CapacityFraction, Quantity::Capacity]
        .into_iter()
        .any(|quantity| evidence.estimates.get(quantity).is_some());
    let capacity_counted = capacity_counted || (bounds && lower_bound(evidence).is_some());
    let proven =
        !open && capacity_counted && evidence.observations.all_answered_no() && evidence.run.is_finished();
    let without_failure = if proven { Fate::Reuse } else { Fate::Undecided };
    worst_failure.max().unwrap_or(without_failure).max(without_failure)
}

/// The worst state that a failure points to; without one the cell counts as intact only if every sign was looked for
/// and the measurement raised no suspicion.
fn condition(judged: &[Judged<'_>], evidence: &Evidence<'_>) -> CellState {
    let failed = judged.iter().filter(|one| one.reason.finding == Finding::Fail);
    let pointed_to = failed.filter_map(|one| one.condition).max();
    let suspicion = judged.iter().any(|one| {
        one.reason.on_fail == Fate::Quarantine
            && (matches!(one.reason.finding, Finding::Fail | Finding::Inconclusive)
                || (one.reason.finding == Finding::Missing
                    && one.reason.mandatory
                    && one.reason.sign.is_some()))
    });
    let seen_whole = evidence.observations.all_answered_no() && evidence.run.is_finished() && !suspicion;
    let otherwise = if seen_whole { CellState::Intact } else { CellState::Unknown };
    pointed_to.unwrap_or(otherwise).max(otherwise)
}

/// What decided comes first: failures by severity, then what is open, then what is missing, then what passed.
fn rank(one: &Judged<'_>) -> (u8, Fate, CellState) {
    let reason = &one.reason;
    let place = match (reason.finding, reason.mandatory) {
        (Finding::Fail, _) => 4,
        (Finding::Inconclusive, _) => 3,
        (Finding::Missing, true) => 2,
        (Finding::Pass, _) => 1,
        (Finding::Missing, false) => 0,
    };
    if place == 4 {
        (place, reason.on_fail, one.condition.unwrap_or(CellState::Intact))
    } else {
        (place, Fate::Reuse, CellState::Intact)
    }
}

fn of_criterion<'a>(criterion: &'a Criterion, evidence: &Evidence<'_>, bounds: bool) -> Judged<'a> {
    let mut reason = blank(&criterion.id, &criterion.title, &criterion.consequence, criterion.mandatory);
    let mut settle_acts = Vec::new();
    match &criterion.subject {
        Subject::Sign(sign) => {
            reason.sign = Some(*sign);
            reason.limit = Some(Value::Text(Answer::No.key().to_owned()));
            let answer = evidence.observations.answer(*sign);
            (reason.finding, reason.text) = match answer {
                Answer::No => (Finding::Pass, "Looked for and not found.".to_owned()),
                Answer::Yes => (Finding::Fail, criterion.consequence.sentence.clone()),
                Answer::NotObserved => (Finding::Missing, "Nobody has looked for this sign.".to_owned()),
            };
            if answer != Answer::NotObserved {
                reason.value = Some(Value::Text(answer.key().to_owned()));
            }
        }
        Subject::Number(number) if criterion.is_about(evidence) => {
            of_number(&mut reason, number, &criterion.consequence.sentence, evidence);
            if bounds && reason.finding == Finding::Missing {
                pass_by_bound(&mut reason, number, evidence);
            }
            flat::stand_in(&mut reason, number, evidence);
        }
        Subject::Number(number) => {
            let limit = number.for_label(evidence.nameplate);
            (reason.quantity, reason.unit) =
                (number.measurand.quantity(), Some(number.measurand.unit().to_owned()));
            reason.limit = Some(Value::Text(words::limit(limit, number.measurand.unit())));
            reason.text = words::of_another_class(&criterion.class, evidence.nameplate);
            reason.settle = Some(words::LIMIT_OF_ITS_CLASS.to_owned());
        }
    }
    if criterion.is_about(evidence) && matches!(reason.finding, Finding::Inconclusive | Finding::Missing) {
        let settle = criterion.settle.as_ref().map(|step| step.text.as_str());
        let open = left_open(&reason, settle);
        let out_of_reach = out_of_reach(&reason, evidence.estimates);
        // What says that nothing settles it asks for nothing.
        if let (None, Some(step)) = (&out_of_reach, &criterion.settle) {
            settle_acts.clone_from(&step.acts);
        }
        reason.settle = out_of_reach.or(open).or_else(|| settle.map(str::to_owned));
    }
    let Consequence { condition, advice, .. } = &criterion.consequence;
    Judged { reason, condition: *condition, advice: advice.as_ref(), settle_acts }
}

fn of_number(reason: &mut Reason, number: &NumberLimit, sentence: &str, evidence: &Evidence<'_>) {
    let unit = number.measurand.unit();
    let limit = number.for_label(evidence.nameplate);
    reason.quantity = number.measurand.quantity();
    reason.unit = Some(unit.to_owned());
    (reason.limit, reason.relation) = match limit {
        Limit::AtMost { limit, .. } => (Some(Value::Number(limit)), Some(Relation::AtMost)),
        Limit::AtLeast { limit, .. } => (Some(Value::Number(limit)), Some(Relation::AtLeast)),
        Limit::Within { .. } => (Some(Value::Text(words::limit(limit, unit))), None),
    };
    let measured = match number.measurand.look_up(evidence) {
        Ok(found) => {
            (reason.made_from, reason.budget) = (found.made_from, found.budget);
            found.measured
        }
        Err(why) => {
            reason.text = words::not_measured(&why);
            return;
        }
    };
    // Undefined numbers were sorted out when the value was looked up.
    let judged = judge(limit, &measured, number.guard);
    let finding = judged.as_ref().map(|(finding, _)| *finding);
    let too_early = unclear_before(number, evidence).and_then(|wanted_s| match finding? {
        Finding::Inconclusive => Some(words::too_early(measured, unit, wanted_s)),
        Finding::Fail => settles_since(number, &measured, evidence)
            .map(|lay_s| words::settles(measured, unit, lay_s, wanted_s)),
        _ => None,
    });
    if let Some(text) = too_early {
        reason.text = text;
        return;
    }
    reason.value = Some(Value::Number(measured.value));
    reason.standard_uncertainty = Some(measured.standard_uncertainty);
    let Some((finding, conformity)) = judged else { return };
    reason.conformity = Some(conformity);
    let not_counted = not_counted(number, reason.made_from, evidence).filter(|_| finding == Finding::Fail);
    (reason.finding, reason.text) = match (finding, &not_counted) {
        (_, Some(why)) => (Finding::Inconclusive, words::not_counted(measured, unit, why)),
        (Finding::Fail, _) => (finding, words::failed(sentence, measured, limit, unit)),
        (Finding::Inconclusive, _) => (finding, words::too_close(measured, limit, unit)),
        _ => (finding, words::passed(measured, limit, unit)),
    };
    // What a sound cell shows at such a current points to nothing.
    if matches!(not_counted, Some(NotCounted::TooFast { .. })) {
        reason.hazard = None;
    }
}

fn of_run<'a>(policy: &'a Policy, evidence: &Evidence<'_>) -> Judged<'a> {
    let run = evidence.run;
    let (consequence, value, sentence) = match run {
        RunOutcome::Complete => (&policy.unfinished, "complete", None),
        RunOutcome::Recorded => (&policy.unfinished, "recorded elsewhere", None),
        RunOutcome::Settled => (&policy.unfinished, "ended when settled", None),
        RunOutcome::Unfinished { why } => (&policy.unfinished, "unfinished", Some(why.clone())),
        RunOutcome::NotMeasured { why } => (&policy.not_measured, "not measured", Some(why.clone())),
        RunOutcome::Tripped { cause, value, limit, unit } => {
            return of_trip(policy, evidence.nameplate, cause, [*value, *limit], unit);
        }
    };
    let mut reason = blank("test_finished", "test finished", consequence, true);
    reason.limit = Some(Value::Text("complete".to_owned()));
    reason.value = Some(Value::Text(value.to_owned()));
    (reason.finding, reason.text) = match (&sentence, run) {
        (Some(why), _) => (Finding::Fail, words::with_why(&consequence.sentence, why)),
        (None, RunOutcome::Recorded) => {
            (Finding::Pass, "Recorded elsewhere: only what the trace shows is known.".to_owned())
        }
        (None, RunOutcome::Settled) => (
            Finding::Pass,
            "Ended by the program as soon as nothing that was still to be measured could change the answer."
                .to_owned(),
        ),
        (None, _) => (Finding::Pass, "The fixture ran the whole plan.".to_owned()),
    };
    let Consequence { condition, advice, .. } = consequence;
    Judged { reason, condition: *condition, advice: advice.as_ref(), settle_acts: Vec::new() }
}

fn of_trip<'a>(
    policy: &'a Policy,
    nameplate: &Nameplate,
    cause: &str,
    [value, limit]: [f64; 2],
    unit: &str,
) -> Judged<'a> {
    let several = several_cells::of_trip(cause, value, unit, nameplate);
    let named = policy.trips.get(cause);
    let own_words = named.unwrap_or(&policy.unfinished);
    let own_words = if several.is_some() { &policy.not_measured } else { own_words };
    let consequence = hidden::consequence_of_trip(policy, cause, value).unwrap_or(own_words);
    let mut reason = blank(&format!("{TRIP}{cause}"), "fixture's guard", consequence, true);
    reason.finding = Finding::Fail;
    // A trip is a fact of the guard; a number that is not one must not hide it.
    reason.value = value.is_finite().then_some(Value::Number(value));
    reason.limit = limit.is_finite().then_some(Value::Number(limit));
    reason.unit = (!unit.is_empty()).then(|| unit.to_owned());
    let why = several.unwrap_or_else(|| format!("the fixture's guard tripped: {}", cause.replace('_', " ")));
    let sentence = words::with_why(&own_words.sentence, &why);
    reason.text = words::with_figures(&sentence, value, limit, unit);
    let Consequence { condition, advice, .. } = consequence;
    Judged { reason, condition: *condition, advice: advice.as_ref(), settle_acts: Vec::new() }
}
