//! A count above the label, another label than the model's, a second look: what each proves and what confirms it.

use super::{estimates, policy, reason};
use crate::{Evidence, Fate, Finding, LABEL, LabelOfModel, Policy, RunOutcome, Verdict, decide};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::test_support::nameplate;

fn by(policy: &Policy, looks: &Observations, capacity: f64, labels: &[LabelOfModel]) -> Verdict {
    // A label of 3 Ah.
    let (nameplate, estimates) = (nameplate(), estimates(&[(Quantity::CapacityFraction, capacity, 0.005)]));
    decide(policy, &evidence(&nameplate, looks, &estimates, labels))
}

fn evidence<'a>(
    nameplate: &'a Nameplate,
    observations: &'a Observations,
    estimates: &'a celltriage_measure::estimate::Estimates,
    labels_of_model: &'a [LabelOfModel],
) -> Evidence<'a> {
    Evidence {
        nameplate,
        observations,
        estimates,
        run: &RunOutcome::Complete,
        known: &[],
        lifetime: None,
        contradictions: &[],
        labels_of_model,
        from_file: false,
    }
}

fn decided(looks: &Observations, capacity: f64, labels: &[LabelOfModel]) -> Verdict {
    by(policy(), looks, capacity, labels)
}

fn seen(again: Option<f64>) -> Observations {
    Observations {
        label_again_ah: again,
        assessor: Some("Ines Harrow".to_owned()),
        ..Observations::no_signs()
    }
}

fn cells(rated_ah: f64, cells: u32, read_again: u32) -> LabelOfModel {
    LabelOfModel { rated_ah, cells, read_again }
}

#[test]
fn a_count_far_above_the_label_waits_for_a_second_look() {
    let table = [
        (0.93, Fate::Reuse, None),
        (1.05, Fate::Reuse, None),
        (1.09, Fate::Reuse, None),
        // Too close to 1.10 for an uncertainty of 0.005.
        (1.095, Fate::Undecided, Some(Finding::Inconclusive)),
        (1.23, Fate::Undecided, Some(Finding::Inconclusive)),
    ];
    for (capacity, fate, finding) in table {
        let verdict = decided(&seen(None), capacity, &[]);
        assert_eq!(verdict.fate, fate, "{capacity}");
        let told = verdict.reasons.iter().find(|one| one.criterion == LABEL);
        assert_eq!(told.map(|one| one.finding), finding, "{capacity}");
        if finding.is_some() {
            assert!(
                verdict.next_steps.iter().any(|step| step.contains("label on the cell again")),
                "{capacity}"
            );
        }
        let confirmed = decided(&seen(Some(3.0)), capacity, &[]);
        assert_eq!(confirmed.fate, Fate::Reuse, "{capacity} and read again");
    }
    let confirmed = decided(&seen(Some(3.0)), 1.23, &[]);
    let text = &reason(&confirmed, LABEL).text;
    assert!(text.contains("read again by Ines Harrow: 3 Ah") && text.contains("123.0 %"), "{text}");
}

#[test]
fn a_second_look_that_reads_something_else_proves_nothing_either_way() {
    for capacity in [0.93, 1.23] {
        let verdict = decided(&seen(Some(1.8)), capacity, &[]);
        assert_eq!(verdict.fate, Fate::Undecided);
        assert!(reason(&verdict, LABEL).text.contains("given as 3 Ah and reads 1.8 Ah"));
    }
    // A label too high makes a good cell look worn: that is no reason to recycle it.
    let verdict = decided(&seen(Some(1.8)), 0.55, &[]);
    assert_eq!(verdict.fate, Fate::Undecided);
    let capacity = reason(&verdict, "capacity");
    assert_eq!(capacity.finding, Finding::Inconclusive);
    assert!(capacity.text.contains("another label"), "{}", capacity.text);
}

#[test]
fn other_cells_of_the_model_speak_against_a_label_or_for_it() {
    let other = |labels: &[LabelOfModel], capacity| decided(&seen(None), capacity, labels);
    // One other cell with another label is enough to ask, whatever was counted.
    for capacity in [0.55, 0.93, 1.3] {
        let verdict = other(&[cells(5.0, 1, 0)], capacity);
        assert_eq!(verdict.fate, Fate::Undecided, "{capacity}");
        assert!(reason(&verdict, LABEL).text.contains("1 other cell of this model has 5 Ah on the label"));
    }
    // As many or more with this one: the others are the odd ones.
    assert_eq!(other(&[cells(5.0, 1, 0), cells(3.0, 1, 0)], 0.93).fate, Fate::Reuse);
    assert_eq!(other(&[cells(5.0, 4, 0), cells(3.0, 1, 0)], 0.93).fate, Fate::Undecided);
    // One whose label was read twice confirms it for all.
    assert_eq!(other(&[cells(5.0, 4, 0), cells(3.0, 1, 1)], 0.93).fate, Fate::Reuse);
    assert_eq!(other(&[cells(3.0, 1, 1)], 1.23).fate, Fate::Reuse);
    // Typed from the same file ever since, it was read once.
    assert_eq!(other(&[cells(3.0, 12, 0)], 1.23).fate, Fate::Undecided);
    // The same print, rounded.
    assert_eq!(other(&[cells(3.01, 3, 0)], 0.93).fate, Fate::Reuse);
    // A second look settles it.
    assert_eq!(decided(&seen(Some(3.0)), 0.93, &[cells(5.0, 4, 0)]).fate, Fate::Reuse);
    assert_eq!(decided(&seen(Some(3.0)), 0.55, &[cells(5.0, 4, 0)]).fate, Fate::Recycle);
}

#[test]
fn what_else_speaks_against_a_cell_stays() {
    let mut swollen = seen(None);
    swollen.set(celltriage_measure::observation::Sign::Swollen, celltriage_measure::observation::Answer::Yes);
    assert_eq!(decided(&swollen, 1.3, &[cells(5.0, 4, 0)]).fate, Fate::Quarantine);
}

#[test]
fn a_policy_may_name_another_share_and_older_decisions_come_out_as_they_did() {
    let text = crate::DEFAULT_POLICY.replace("most_of_rated = 1.10", "most_of_rated = 1.30");
    let looser = Policy::from_toml(&text, "mine.toml").unwrap();
    assert_eq!(by(&looser, &seen(None), 1.23, &[]).fate, Fate::Reuse);
    let begin = text.find("\n[label]").unwrap() + 1;
    let end = begin + text[begin..].find("\n\n").unwrap();
    let without = Policy::from_toml(&(text[..begin].to_owned() + &text[end..]), "mine.toml").unwrap();
    assert_eq!(by(&without, &seen(None), 1.23, &[]).fate, Fate::Undecided, "the usual share holds");
    let before = without.without_label();
    assert_eq!(by(&before, &seen(None), 1.23, &[cells(5.0, 4, 0)]).fate, Fate::Reuse);
    let wrong = text.replace("most_of_rated = 1.30", "most_of_rated = 110");
    let fault = Policy::from_toml(&wrong, "mine.toml").unwrap_err().to_string();
    assert!(fault.contains("between 1 and 3"), "{fault}");
}

#[test]
fn no_second_look_explains_a_third_more_than_the_label() {
    for (capacity, fate) in
        [(1.25, Fate::Reuse), (1.29, Fate::Reuse), (1.295, Fate::Undecided), (1.598, Fate::Undecided)]
    {
        // A label that was read twice, and one of a model whose label was.
        for (again, labels) in [(Some(3.0), &[][..]), (None, &[cells(3.0, 5, 2)])] {
            let verdict = decided(&seen(again), capacity, labels);
            assert_eq!(verdict.fate, fate, "{capacity}: {}", verdict.statement);
            if fate == Fate::Undecided {
                let text = &reason(&verdict, LABEL).text;
                assert!(
                    text.contains("the count or the label is wrong") && text.contains("of its rated"),
                    "{text}"
                );
            }
        }
    }
    // A decision of before this was asked comes out as it did.
    let before = Policy::built_in().unwrap().without_bounds();
    assert_eq!(by(&before, &seen(Some(3.0)), 1.598, &[]).fate, Fate::Reuse);
}
