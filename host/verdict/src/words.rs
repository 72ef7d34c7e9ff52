//! The sentences of a verdict: why, what it means, what to measure next.

use crate::criterion::Class;
use crate::evidence::{Evidence, RunOutcome};
use crate::figure::{figure, figure_with_few, limit_figure};
use crate::forbidden::Forbidden;
use crate::judged::Judged;
use crate::limit::Limit;
use crate::measured::Measured;
use crate::not_counted::NotCounted;
use crate::reason::Finding;
use crate::settle::emptied;
use crate::step::{Act, Step};
use crate::traceability::LIFETIME_RECORD;
use crate::types::Fate;
use celltriage_measure::estimate::{Estimate, Quantity};
use celltriage_measure::nameplate::Nameplate;

/// Writes a limit for people.
pub fn limit(limit: Limit, unit: &str) -> String {
    match limit {
        Limit::AtMost { limit, .. } => format!("at most {}", limit_figure(limit, unit)),
        Limit::AtLeast { limit, .. } => format!("at least {}", limit_figure(limit, unit)),
        Limit::Within { low, high } => format!("{} to {}", limit_figure(low, unit), limit_figure(high, unit)),
    }
}

pub(super) fn passed(measured: Measured, held: Limit, unit: &str) -> String {
    format!("{}, {}.", with_doubt(measured, unit), limit(held, unit))
}

/// Either the guard band reaches over the limit, or the value lies where the policy says nothing.
pub(super) fn too_close(measured: Measured, held: Limit, unit: &str) -> String {
    let value = with_doubt(measured, unit);
    match held {
        Limit::AtMost { limit, doubtful } | Limit::AtLeast { limit, doubtful } if limit != doubtful => {
            let (from, to) = (limit_figure(doubtful, unit), limit_figure(limit, unit));
            format!("{value} is not clear of the doubtful range from {from} to {to}.")
        }
        _ => format!("{value} is too close to the limit ({}) to tell.", limit(held, unit)),
    }
}

pub(super) fn not_counted(measured: Measured, unit: &str, why: &NotCounted) -> String {
    let why = match why {
        NotCounted::RestedTooShort { wanted_s } => {
            format!("counts only after {:.0} min of rest", wanted_s / 60.0)
        }
        NotCounted::Cools => "the cell cools towards the air, as one does that was warmed in a hand, in use or by a charger: let \
                              it lie in still air for an hour, then look again"
            .to_owned(),
        NotCounted::WithLeads => "leads and clips may be in it: the cell has this or less. Say how many wires measured, or measure \
                                  again with four"
            .to_owned(),
        NotCounted::TooFast { share, up_to } => format!(
            "the limit is for a test at up to {up_to} It, and the cell was worked like {share:.2} It: what a sound cell warms by \
             there is not known"
        ),
    };
    format!("{} is beyond the limit, but {why}.", with_doubt(measured, unit))
}

/// What is said of a value after a rest too short to tell it.
pub(super) fn too_early(measured: Measured, unit: &str, wanted_s: f64) -> String {
    let minutes = wanted_s / 60.0;
    format!(
        "Not measured: the rest was too short to tell ({}, which is not beyond the limit); it takes {minutes:.0} min.",
        with_doubt(measured, unit)
    )
}

/// What is said of a fall that a cell shows which was charged or used a short time ago.
pub(super) fn settles(measured: Measured, unit: &str, lay_s: f64, wanted_s: f64) -> String {
    let [lay, wanted] = [lay_s, wanted_s].map(|seconds| seconds / 60.0);
    format!(
        "Not measured: {} is no more than a cell still settles by {lay:.0} min after it was charged or used; it takes {wanted:.0} min.",
        with_doubt(measured, unit)
    )
}

pub(super) fn not_measured(why: &str) -> String {
    if why.is_empty() {
        "Not measured.".to_owned()
    } else {
        format!("Not measured: {}.", why.trim_end_matches('.'))
    }
}

/// What helps where no limit is known for a class.
pub(super) const LIMIT_OF_ITS_CLASS: &str = "Find out what such cells have when new, best from new cells of the model, and write \
                                             the limit for them into the policy (chemistries, forms).";

pub(super) fn of_another_class(class: &Class, nameplate: &Nameplate) -> String {
    format!(
        "Not judged: the limit is that of other cells ({}); this one is {}, {}.",
        class.words(),
        nameplate.chemistry.key(),
        nameplate.form.key()
    )
}

pub(super) fn failed(sentence: &str, measured: Measured, held: Limit, unit: &str) -> String {
    match held {
        Limit::AtMost { limit, .. } | Limit::AtLeast { limit, .. } => {
            with_figures(sentence, measured.value, limit, unit)
        }
        Limit::Within { .. } => {
            sentence.replace("{value}", &figure(measured.value, unit)).replace("{limit}", &limit(held, unit))
        }
    }
}

pub(super) fn with_why(sentence: &str, why: &str) -> String {
    sentence.replace("{why}", why.trim_end_matches('.'))
}

pub(super) fn with_figures(sentence: &str, value: f64, limit: f64, unit: &str) -> String {
    // A fall of -25 mV/h below -20 mV/h reads "falls by 25 mV/h, faster than 20 mV/h".
    let shown = |number: f64| if unit == "V/h" || unit == "V/d" { number.abs() } else { number };
    sentence
        .replace("{value}", &figure(shown(value), unit))
        .replace("{limit}", &limit_figure(shown(limit), unit))
}

fn with_doubt(measured: Measured, unit: &str) -> String {
    figure_with_few(measured.value, measured.standard_uncertainty, measured.degrees_of_freedom, unit)
}

/// The decision in one sentence: the failure that decided, or what is open, or that all is well.
pub(super) fn statement(fate: Fate, judged: &[Judged<'_>], evidence: &Evidence<'_>) -> String {
    let first = |finding| judged.iter().map(|one| &one.reason).find(|reason| reason.finding == finding);
    if fate == Fate::Reuse {
        let share =
            |quantity| evidence.estimates.get(quantity).map(|share: &Estimate| figure(share.value, "1"));
        let at_least = || share(Quantity::CapacityFractionAtLeast).map(|share| format!("at least {share}"));
        let share =
            share(Quantity::CapacityFraction).or_else(at_least).unwrap_or_else(|| "measured".to_owned());
        let stored = judged.iter().find(|one| one.reason.quantity == Some(Quantity::SelfDischargePerMonth));
        let is_proven = stored.is_none_or(|one| one.reason.finding == Finding::Pass);
        let storage = if is_proven { "" } else { " Loss in storage is not proven." };
        return format!(
            "Every mandatory criterion passes on measured evidence; capacity {share} of rated.{storage}"
        );
    }
    if let Some(reason) = first(Finding::Fail) {
        return reason.text.clone();
    }
    if let Some(reason) = first(Finding::Inconclusive) {
        return format!("Not clear yet, {}: {}", reason.title, reason.text);
    }
    no_fault_found(judged)
}

/// Says what was not looked at, the capacity first: it is what most often stands between a cell and its second life.
fn no_fault_found(judged: &[Judged<'_>]) -> String {
    let missing = || {
        judged
            .iter()
            .map(|one| &one.reason)
            .filter(|reason| reason.finding == Finding::Missing && reason.mandatory)
    };
    let of_capacity = |quantity: Option<Quantity>| {
        matches!(quantity, Some(Quantity::CapacityFraction | Quantity::Capacity))
    };
    let mut parts = Vec::new();
    if missing().any(|reason| of_capacity(reason.quantity)) {
        parts.push("capacity not measured".to_owned());
    }
    let unseen = missing().filter(|reason| reason.sign.is_some()).count();
    if unseen > 0 {
        let signs = if unseen == 1 { "one sign".to_owned() } else { format!("{unseen} signs") };
        parts.push(format!("{signs} of damage not looked for"));
    }
    let mut others: Vec<&str> = missing()
        .filter(|reason| reason.sign.is_none() && !of_capacity(reason.quantity))
        .filter(|reason| reason.criterion != LIFETIME_RECORD)
        .map(|reason| reason.title.as_str())
        .collect();
    others.dedup();
    if !others.is_empty() {
        parts.push(format!("not measured: {}", others.join(", ")));
    }
    if missing().any(|reason| reason.criterion == LIFETIME_RECORD) {
        parts.push("no lifetime record".to_owned());
    }
    match parts.is_empty() {
        true => "No fault found, but the evidence does not suffice.".to_owned(),
        false => format!("No fault found, {}.", parts.join("; ")),
    }
}

/// What to do: about failures first, then what would settle what is open, then what the test has left. Each step that the
/// decision speaks against is withheld; nothing is where a decision of before that rule is computed again.
pub(super) fn next_steps(
    fate: Fate,
    judged: &[Judged<'_>],
    evidence: &Evidence<'_>,
    forbidden: Option<&Forbidden>,
) -> Vec<String> {
    let mut steps: Vec<String> = Vec::new();
    let mut push = |step: &Step| {
        let allowed = forbidden.is_none_or(|forbidden| forbidden.allows(step));
        if allowed && !step.text.is_empty() && !steps.contains(&step.text) {
            steps.push(step.text.clone());
        }
    };
    let failed = judged.iter().filter(|one| one.reason.finding == Finding::Fail);
    failed.filter_map(|one| one.advice).for_each(&mut push);

    let missing = |one: &&Judged<'_>| one.reason.finding == Finding::Missing && one.reason.mandatory;
    let unseen: Vec<_> = judged.iter().filter(missing).filter_map(|one| one.reason.sign).collect();
    if !unseen.is_empty() {
        let names: Vec<_> = unseen.iter().map(|sign| sign.words()).collect();
        let names = names.join(", ");
        let no_load = forbidden.is_some_and(|forbidden| forbidden.has(Act::Load));
        push(&match no_load {
            true => Step::new(
                format!("Look for the signs nobody has answered yet ({names}) before a person judges it."),
                &[Act::Look],
            ),
            false => Step::new(
                format!("Look for the signs nobody has answered yet ({names}) and assess again."),
                &[Act::Look, Act::Load],
            ),
        });
    }
    // A cell that is at its end or suspect is not measured further for a better number.
    if fate == Fate::Undecided && !matches!(evidence.run, RunOutcome::Tripped { .. }) {
        let open = judged.iter().filter(|one| one.reason.finding == Finding::Inconclusive || missing(one));
        // What was withheld has been replaced where the reason was written.
        open.filter_map(|one| one.reason.settle.clone()).for_each(|text| push(&Step::new(text, &[])));
    }
    if forbidden.is_some() {
        emptied(evidence).iter().for_each(&mut push);
    }
    steps
}
