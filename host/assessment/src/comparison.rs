//! A decision beside the same decision made again: what differs, in figures and codes, never in words.
//!
//! Compared are every estimate (value, standard uncertainty, interval, degrees of freedom, to the last digit), which ones
//! are missing, the fate, the condition, and each criterion's finding. Sentences may be reworded by any version and are
//! shown as they were stored. Cautions follow the rule packs of the day, not the method, and are named by rule.

use crate::Assessment;
use celltriage_measure::estimate::Estimate;
use std::collections::BTreeSet;
use std::fmt::Debug;

/// Version of the methods: raised whenever the same evidence under the same policy may give another figure, fate or
/// finding. Version 1 is that of all entries that name none; 2 knows that iron phosphate settles far below its charge limit; 3 asks
/// whether it is the same cell where earlier decisions contradict it, and counts an alarm that a cell is warm as damage and only one
/// that it reacts as critical; 4 looks for what speaks against a count (jumps of the voltage, two counts, a current at rest, clock and
/// gain of unknown instruments) and against the label; 5 counts a discharge in stages, lets the cell tell what it gave less for being
/// faster than 0.2 It, knows lower bounds of a capacity, and takes a charger's word that a cell is full.
pub const METHOD: u32 = 5;

/// One thing that differs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// What it is, by its name in JSON.
    pub what: String,
    /// As it was stored.
    pub stored: String,
    /// As it comes out now.
    pub now: String,
}

/// Returns what differs between a stored decision and the one made from the same evidence now.
pub fn differences(stored: &Assessment, now: &Assessment) -> Vec<Difference> {
    let mut found = Vec::new();
    let quantities: BTreeSet<_> = stored.estimates.keys().chain(now.estimates.keys()).collect();
    for quantity in quantities {
        let figures = |one: &Assessment| one.estimates.get(quantity).map_or("missing".to_owned(), figures);
        note(&mut found, quantity.key(), figures(stored), figures(now));
    }
    note(&mut found, "fate", stored.verdict.fate.key().to_owned(), now.verdict.fate.key().to_owned());
    note(&mut found, "condition", words(&stored.verdict.condition), words(&now.verdict.condition));
    let criteria: BTreeSet<&str> = findings(stored).chain(findings(now)).map(|(name, _)| name).collect();
    for criterion in criteria {
        let finding = |one: &Assessment| {
            let of_it = findings(one).filter(|(name, _)| *name == criterion).map(|(_, finding)| finding);
            of_it.collect::<Vec<_>>().join(", ")
        };
        note(&mut found, criterion, finding(stored), finding(now));
    }
    found
}

/// Returns the rules whose cautions came with only one of two decisions: their packs have changed since.
pub fn changed_rules(stored: &Assessment, now: &Assessment) -> Vec<String> {
    let rules = |one: &Assessment| one.cautions.iter().map(|one| one.rule.clone()).collect::<BTreeSet<_>>();
    rules(stored).symmetric_difference(&rules(now)).cloned().collect()
}

fn findings(assessment: &Assessment) -> impl Iterator<Item = (&str, String)> {
    assessment.verdict.reasons.iter().map(|reason| (reason.criterion.as_str(), words(&reason.finding)))
}

/// All figures of an estimate; the shortest text that reads back as the same number, so equal texts are equal numbers.
fn figures(estimate: &Estimate) -> String {
    let mut text = format!("{:?} ± {:?} {}", estimate.value, estimate.standard_uncertainty, estimate.unit);
    if let Some([low, high]) = estimate.interval {
        text.push_str(&format!(", from {low:?} to {high:?}"));
    }
    if let Some(degrees) = estimate.degrees_of_freedom {
        text.push_str(&format!(", {degrees:?} degrees of freedom"));
    }
    text
}

fn words(value: &impl Debug) -> String {
    format!("{value:?}")
}

fn note(found: &mut Vec<Difference>, what: &str, stored: String, now: String) {
    if stored != now {
        found.push(Difference { what: what.to_owned(), stored, now });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::example;
    use celltriage_measure::estimate::Quantity;
    use celltriage_verdict::Finding;

    #[test]
    fn words_may_change_and_the_last_digit_may_not() {
        let stored = example(|_| {});
        let mut now = stored.clone();
        now.verdict.statement = "said in other words".to_owned();
        now.verdict.next_steps.push("another sentence".to_owned());
        now.verdict.reasons[0].text.push_str(", reworded");
        assert_eq!(differences(&stored, &now), []);
        let value = &mut now.estimates.get_mut(&Quantity::Capacity).unwrap().value;
        *value = value.next_up();
        let found = differences(&stored, &now);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].what, Quantity::Capacity.key());
        assert_ne!(found[0].stored, found[0].now);
    }

    #[test]
    fn a_fate_a_finding_and_what_is_missing_differ_by_name() {
        let stored = example(|_| {});
        let mut now = example(|subject| drop(subject.estimates.measured.remove(&Quantity::CapacityFraction)));
        let names = |found: Vec<Difference>| found.into_iter().map(|one| one.what).collect::<Vec<_>>();
        let found = names(differences(&stored, &now));
        for name in [Quantity::CapacityFraction.key(), "fate", "capacity"] {
            assert!(found.iter().any(|one| one == name), "{name} in {found:?}");
        }
        now = stored.clone();
        now.verdict.reasons[0].finding = Finding::Inconclusive;
        assert_eq!(names(differences(&stored, &now)), [stored.verdict.reasons[0].criterion.clone()]);
    }

    #[test]
    fn cautions_are_compared_by_rule() {
        let stored = example(|_| {});
        let mut now = stored.clone();
        now.cautions[0].text.push_str(" And more.");
        assert_eq!(changed_rules(&stored, &now), [] as [String; 0]);
        let gone = now.cautions.remove(0).rule;
        assert_eq!(changed_rules(&stored, &now), [gone]);
        assert_eq!(differences(&stored, &now), []);
    }
}
