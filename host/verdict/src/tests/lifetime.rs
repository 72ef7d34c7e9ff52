//! What is recorded of a cell's life, and what a policy makes of it where it is not.

use super::*;
use crate::lifetime::{Lifetime, Noted, Source};
use jiff::civil::date;

fn noted<T>(value: T) -> Option<Noted<T>> {
    Some(Noted { value, entry: 7, on: date(2026, 11, 20), from: Source::Gauge })
}

/// Nothing, a job alone, a job and cycles; and the latter two of a cell that goes back into its device.
fn lives() -> [Lifetime; 5] {
    let job = Lifetime { job: noted("118".to_owned()), ..Lifetime::default() };
    let cycles = Lifetime { cycles: noted(214), ..job.clone() };
    let back = |life: &Lifetime| Lifetime { goes_back: noted(true), ..life.clone() };
    [Lifetime::default(), job.clone(), cycles.clone(), back(&job), back(&cycles)]
}

fn by(terms: &str, lifetime: &Lifetime, estimates: &Estimates) -> Verdict {
    let text = crate::DEFAULT_POLICY.replacen("missing = \"say\"\nsame_device = \"say\"", terms, 1);
    let policy = Policy::from_toml(&text, "mine.toml").unwrap();
    let (nameplate, observations) = (nameplate(), Observations::no_signs());
    let run = &RunOutcome::Complete;
    let lifetime = Some(lifetime);
    decide(
        &policy,
        &Evidence {
            nameplate: &nameplate,
            observations: &observations,
            estimates,
            run,
            known: &[],
            contradictions: &[],
            labels_of_model: &[],
            lifetime,
            from_file: false,
        },
    )
}

#[test]
fn the_policy_says_whether_a_life_that_is_not_recorded_bars_reuse() {
    let (reuse, undecided) = (Fate::Reuse, Fate::Undecided);
    for (terms, fates) in [
        ("missing = \"say\"\nsame_device = \"say\"", [reuse; 5]),
        ("", [reuse; 5]),
        ("missing = \"undecided\"", [undecided, undecided, reuse, reuse, reuse]),
        ("same_device = \"undecided\"", [reuse, reuse, reuse, undecided, reuse]),
        ("missing = \"undecided\"\nwants = [\"health\"]", [undecided, undecided, undecided, reuse, reuse]),
        (
            "missing = \"undecided\"\nwants = [\"device\", \"cycles\"]",
            [undecided, undecided, reuse, reuse, reuse],
        ),
    ] {
        for (life, fate) in lives().iter().zip(fates) {
            let verdict = by(terms, life, &estimates(&[]));
            assert_eq!(verdict.fate, fate, "{terms}: {life:?}");
            assert_eq!(verdict.condition, CellState::Intact);
            let said = reason(&verdict, LIFETIME_RECORD);
            assert!(
                said.text.contains("was not read") && said.text.contains("IEC 63338:2024"),
                "{}",
                said.text
            );
            if fate == undecided {
                assert_eq!(verdict.statement, "No fault found, no lifetime record.");
                assert!(verdict.next_steps.iter().any(|step| step.starts_with("Write down what is known")));
            }
        }
    }
}

#[test]
fn what_is_recorded_is_named_with_its_entry() {
    let [nothing, job, cycles, back, _] = lives();
    let text = |life: &Lifetime| reason(&by("", life, &estimates(&[])), LIFETIME_RECORD).text.clone();
    assert!(text(&nothing).starts_with("Nothing is recorded of its life. IEC 63338:2024 does not permit"));
    assert!(
        text(&job).starts_with("Recorded is only: from job 118 (entry 7); no date, cycles"),
        "{}",
        text(&job)
    );
    let told = text(&cycles);
    assert!(told.starts_with(
        "Recorded of its life: from job 118; 214 cycles by the device's gauge on 2026-11-20 (entry 7)."
    ));
    assert!(text(&back).contains("It is to go back into the device it came out of"), "{}", text(&back));
}

#[test]
fn a_cell_that_is_not_to_serve_again_is_asked_for_no_record() {
    for (quantity, value) in [(Quantity::CapacityFraction, 0.5), (Quantity::RestTemperatureRise, 3.0)] {
        let verdict =
            by("missing = \"undecided\"", &Lifetime::default(), &estimates(&[(quantity, value, 0.0)]));
        assert!(verdict.fate >= Fate::Recycle);
        assert!(verdict.reasons.iter().all(|reason| reason.criterion != LIFETIME_RECORD));
    }
    // What is open for another reason is asked for it at once, where the policy will ask for it.
    let mut open = estimates(&[]);
    lose(&mut open, Quantity::CapacityFraction, "not in the plan");
    let asked = |terms| {
        by(terms, &Lifetime::default(), &open).reasons.iter().any(|one| one.criterion == LIFETIME_RECORD)
    };
    assert!(asked("missing = \"undecided\"") && !asked("missing = \"say\""));
}

#[test]
fn a_policy_of_before_gives_the_decision_of_before() {
    let policy = Policy::built_in().unwrap().without_traceability();
    let (nameplate, observations, estimates) = (nameplate(), Observations::no_signs(), estimates(&[]));
    let run = &RunOutcome::Complete;
    let verdict = decide(
        &policy,
        &Evidence {
            nameplate: &nameplate,
            observations: &observations,
            estimates: &estimates,
            run,
            known: &[],
            contradictions: &[],
            labels_of_model: &[],
            lifetime: None,
            from_file: false,
        },
    );
    assert!(
        verdict.fate == Fate::Reuse && verdict.reasons.iter().all(|reason| reason.finding == Finding::Pass)
    );
}

#[test]
fn slips_in_the_table_are_told_with_their_place() {
    for (from, to, words) in [
        ("missing = \"say\"", "missing = \"sai\"", "did you mean `say`?"),
        ("same_device = \"say\"", "same_devices = \"say\"", "did you mean `same_device`?"),
    ] {
        let text = crate::DEFAULT_POLICY.replacen(from, to, 1);
        let told = Policy::from_toml(&text, "mine.toml").unwrap_err().to_string();
        assert!(told.contains(words) && told.starts_with("mine.toml:"), "{told}");
    }
}
