//! A capacity that is known to be some charge or more: it passes with its guard, never fails, and needs a label that was confirmed.

use super::{decided, estimates, lose, policy, reason};
use crate::{Evidence, Fate, Finding, LABEL, LabelOfModel, Policy, RunOutcome, Verdict, decide};
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::observation::Observations;
use celltriage_measure::test_support::nameplate;

/// What is measured of a sound cell whose discharge ended at a bound.
fn bound(share: f64, doubt: f64) -> Estimates {
    let mut found = estimates(&[(Quantity::CapacityFractionAtLeast, share, doubt)]);
    lose(
        &mut found,
        Quantity::CapacityFraction,
        "the load ends at 3.550 V, above the end-of-discharge voltage",
    );
    found
}

/// Looks of a person who has read the label of 3 Ah twice, or has not.
fn looks(again: bool) -> Observations {
    Observations { label_again_ah: again.then_some(3.0), ..Observations::no_signs() }
}

#[test]
fn a_lower_bound_passes_with_its_guard_and_never_fails() {
    // A limit of 80 % and a risk of 5 %: 1.645 standard uncertainties above it.
    for (share, doubt, expected) in [
        (0.81, 0.005, Finding::Pass),
        (0.809, 0.005, Finding::Pass),
        (0.808, 0.005, Finding::Missing),
        (0.80, 0.0, Finding::Pass),
        (0.79, 0.0, Finding::Missing),
        (0.30, 0.001, Finding::Missing),
        (1.20, 0.01, Finding::Pass),
    ] {
        let verdict = decided(&looks(true), &bound(share, doubt), &RunOutcome::Settled);
        let capacity = reason(&verdict, "capacity");
        assert_eq!(capacity.finding, expected, "{share} ± {doubt}: {}", capacity.text);
        let fate = if expected == Finding::Pass { Fate::Reuse } else { Fate::Undecided };
        assert_eq!(verdict.fate, fate, "{share}: {}", verdict.statement);
        if expected == Finding::Pass {
            assert!(capacity.is_lower_bound() && capacity.text.starts_with("At least"), "{}", capacity.text);
            assert!(verdict.statement.contains("capacity at least"), "{}", verdict.statement);
        } else {
            assert!(capacity.text.contains("which does not show it"), "{}", capacity.text);
        }
    }
}

#[test]
fn a_bound_waits_for_a_second_look_at_the_label() {
    let by = |again: bool, labels: &[LabelOfModel], policy: &Policy| -> Verdict {
        let (nameplate, estimates, looks) = (nameplate(), bound(0.82, 0.005), looks(again));
        let evidence = Evidence {
            nameplate: &nameplate,
            observations: &looks,
            estimates: &estimates,
            run: &RunOutcome::Settled,
            known: &[],
            lifetime: None,
            contradictions: &[],
            labels_of_model: labels,
            from_file: false,
        };
        decide(policy, &evidence)
    };
    let read = |read_again| [LabelOfModel { rated_ah: 3.0, cells: 4, read_again }];
    for (again, labels, fate) in [
        (true, [].as_slice(), Fate::Reuse),
        (false, &[], Fate::Undecided),
        (false, &read(0), Fate::Undecided),
        (false, &read(1), Fate::Reuse),
    ] {
        let verdict = by(again, labels, policy());
        assert_eq!(verdict.fate, fate, "{again} {labels:?}: {}", verdict.statement);
        let label = reason(&verdict, LABEL);
        assert!(label.text.contains("stopped before it could show"), "{}", label.text);
        assert_eq!(label.finding == Finding::Pass, fate == Fate::Reuse);
    }
    // A decision of before bounds were known is not changed by one.
    let before = by(true, &[], &Policy::built_in().unwrap().without_bounds());
    assert_eq!((before.fate, reason(&before, "capacity").finding), (Fate::Undecided, Finding::Missing));
}

#[test]
fn a_run_that_was_ended_when_settled_is_finished_and_one_that_a_person_stopped_is_not() {
    let bound = bound(0.85, 0.005);
    let settled = decided(&looks(true), &bound, &RunOutcome::Settled);
    assert_eq!(reason(&settled, "test_finished").finding, Finding::Pass);
    assert!(settled.next_steps.iter().any(|step| step.contains("nearly empty")), "{:?}", settled.next_steps);
    let stopped = RunOutcome::Unfinished { why: "stopped by a person".to_owned() };
    assert_eq!(decided(&looks(true), &bound, &stopped).fate, Fate::Quarantine);
    // Ended for something else that was found: that decides, and nothing is held against it for the end.
    let mut weak = bound.clone();
    weak.put(
        Quantity::Resistance25Celsius,
        Ok(Estimate::new(Quantity::Resistance25Celsius, 0.4, 0.001, "test")),
    );
    assert_eq!(decided(&looks(true), &weak, &RunOutcome::Settled).fate, Fate::Recycle);
}
