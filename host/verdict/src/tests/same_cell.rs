//! What contradicts earlier decisions keeps a cell from reuse until a person answers, and hides no failure.

use super::{estimates, policy, reason};
use crate::{Contradicted, Contradiction, Evidence, Fate, Finding, RunOutcome, SAME_CELL, Verdict, decide};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::Observations;
use celltriage_measure::test_support::nameplate;

fn decided(observations: &Observations, capacity: f64, contradictions: &[Contradiction]) -> Verdict {
    let (nameplate, estimates) = (nameplate(), estimates(&[(Quantity::CapacityFraction, capacity, 0.0)]));
    let run = &RunOutcome::Complete;
    let evidence = Evidence {
        nameplate: &nameplate,
        observations,
        estimates: &estimates,
        run,
        known: &[],
        contradictions,
        labels_of_model: &[],
        lifetime: None,
        from_file: false,
    };
    decide(policy(), &evidence)
}

fn thinner() -> [Contradiction; 1] {
    [Contradiction {
        what: Contradicted::Thickness,
        entry: 3,
        on: jiff::civil::date(2026, 11, 25),
        before: "thickness 4.60 mm".to_owned(),
        now: "4.05 mm".to_owned(),
        because: "a cell does not become thinner".to_owned(),
    }]
}

#[test]
fn without_an_answer_nothing_is_reused_and_a_failure_stays_one() {
    let seen = Observations::no_signs();
    assert_eq!(decided(&seen, 0.93, &[]).fate, Fate::Reuse);
    let verdict = decided(&seen, 0.93, &thinner());
    assert_eq!(verdict.fate, Fate::Undecided);
    let asked = reason(&verdict, SAME_CELL);
    assert_eq!(asked.finding, Finding::Inconclusive);
    assert!(asked.text.contains("thickness 4.60 mm on 2026-11-25 (entry 3), 4.05 mm now"), "{}", asked.text);
    assert!(verdict.next_steps.iter().any(|step| step.contains("Compare the tag with the cell")));
    assert_eq!(decided(&seen, 0.5, &thinner()).fate, Fate::Recycle);
}

#[test]
fn only_a_reason_with_a_name_is_an_answer() {
    let answer = |by: Option<&str>, because: &str| {
        let (assessor, same_cell) = (by.map(str::to_owned), Some(because.to_owned()));
        decided(&Observations { assessor, same_cell, ..Observations::no_signs() }, 0.93, &thinner())
    };
    for (by, because) in
        [(None, "measured over the pouch's seam"), (Some("Ines Harrow"), " "), (Some(" "), "seam")]
    {
        assert_eq!(answer(by, because).fate, Fate::Undecided, "{by:?} {because}");
    }
    let verdict = answer(Some("Ines Harrow"), "measured over the seam");
    assert_eq!(verdict.fate, Fate::Reuse);
    let told = reason(&verdict, SAME_CELL);
    assert_eq!(told.finding, Finding::Pass);
    assert!(
        told.text.contains("Ines Harrow says that it is the same cell: measured over the seam"),
        "{}",
        told.text
    );
    // An answer to a question that nobody asked changes nothing.
    let seen = Observations {
        assessor: Some("A".to_owned()),
        same_cell: Some("b".to_owned()),
        ..Observations::no_signs()
    };
    assert!(decided(&seen, 0.93, &[]).reasons.iter().all(|one| one.criterion != SAME_CELL));
}
