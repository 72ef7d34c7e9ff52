//! What holds for every decision, whatever the evidence.

use super::tests::{SOUND, decided, evidence_of, policy, tripped, with};
use super::*;
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_measure::test_support::nameplate;
use proptest::prelude::*;

fn any_answer() -> impl Strategy<Value = Option<Answer>> {
    prop_oneof![8 => Just(Some(Answer::No)), 1 => Just(Some(Answer::Yes)), 1 => Just(Some(Answer::NotObserved)), 1 => Just(None)]
}

fn any_run() -> impl Strategy<Value = RunOutcome> {
    prop_oneof![
        4 => Just(RunOutcome::Complete),
        4 => Just(RunOutcome::Recorded),
        1 => Just(RunOutcome::Unfinished { why: "link lost".to_owned() }),
        1 => Just(RunOutcome::NotMeasured { why: "none".to_owned() }),
        1 => (0..TRIP_CAUSES.len(), -10.0..50.0).prop_map(|(cause, value)| tripped(trip_key(TRIP_CAUSES[cause]), value, 1.0, "V")),
    ]
}

/// Values around the sound ones, some far off, some no numbers at all; some left out.
fn any_estimates() -> impl Strategy<Value = Vec<Option<(Quantity, f64, f64)>>> {
    SOUND
        .map(|(quantity, sound)| {
            let value = prop_oneof![12 => Just(sound), 2 => -1.0..10.0, 1 => Just(f64::NAN)];
            let doubt =
                prop_oneof![12 => Just(0.0), 2 => 0.0..0.1, 1 => Just(f64::INFINITY), 1 => Just(-1.0)];
            prop_oneof![14 => (value, doubt).prop_map(move |(v, u)| Some((quantity, v, u))), 1 => Just(None)]
        })
        .to_vec()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4096))]

    /// The reverse is told too: the same evidence without any lack is reused, so this test cannot pass emptily.
    #[test]
    fn reuse_needs_every_sign_answered_no_a_finished_test_and_every_mandatory_number(
        answers in proptest::collection::vec(any_answer(), Sign::ALL.len()),
        numbers in any_estimates(),
        run in any_run(),
    ) {
        let mut observations = Observations::default();
        for (sign, answer) in Sign::ALL.into_iter().zip(&answers) {
            if let Some(answer) = answer { observations.set(sign, *answer); }
        }
        let mut estimates = Estimates::default();
        for (quantity, value, doubt) in numbers.iter().flatten() {
            // Straight into the map: an undefined number must not get past the decision either.
            estimates.measured.insert(*quantity, Estimate::new(*quantity, *value, *doubt, "test"));
        }
        let verdict = decided(&observations, &estimates, &run);
        let looked = answers.iter().all(|answer| *answer == Some(Answer::No));
        let finished = matches!(run, RunOutcome::Complete | RunOutcome::Recorded);
        let sound = |wanted: Quantity| numbers.iter().flatten().any(|(quantity, value, doubt)| {
            *quantity == wanted && value.is_finite() && doubt.is_finite() && *doubt >= 0.0
        });
        let measured = [
            Quantity::RestVoltage, Quantity::RestTemperatureRise, Quantity::TemperatureRise,
            Quantity::CapacityFraction,
        ].into_iter().all(sound) && (sound(Quantity::Resistance25Celsius) || sound(Quantity::ResistanceTwoLevel));
        if verdict.fate == Fate::Reuse {
            prop_assert!(looked && finished && measured);
            prop_assert!(verdict.reasons.iter().all(|r| r.finding == Finding::Pass || !r.mandatory));
            prop_assert_eq!(verdict.condition, CellState::Intact);
        }
        let without_lack = numbers.iter().all(|one| {
            one.is_some_and(|(q, v, u)| u == 0.0 && SOUND.contains(&(q, v)))
        });
        if looked && finished && without_lack {
            prop_assert_eq!(verdict.fate, Fate::Reuse);
        }
        if answers.contains(&Some(Answer::Yes)) || matches!(run, RunOutcome::Unfinished { .. }) {
            prop_assert_eq!(verdict.fate, Fate::Quarantine);
        }
    }

    /// What replaces a missing number is tested the same way: without a temperature and without the resistance at
    /// 25 degC, a two-level value of no known doubt is no evidence.
    #[test]
    fn no_stand_in_passes_with_a_doubt_that_is_none(doubt in prop_oneof![
        Just(f64::INFINITY), Just(f64::NAN), Just(-1.0), -10.0..-1e-9f64,
    ]) {
        let mut estimates = Estimates::default();
        for (quantity, value) in SOUND {
            if quantity != Quantity::Resistance25Celsius {
                estimates.measured.insert(quantity, Estimate::new(quantity, value, 0.0, "test"));
            }
        }
        let two_level = Estimate::new(Quantity::ResistanceTwoLevel, 0.05, doubt, "test");
        estimates.measured.insert(Quantity::ResistanceTwoLevel, two_level);
        let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Complete);
        prop_assert!(verdict.fate != Fate::Reuse, "{:?}", verdict.reasons);
    }

    /// Neither the order of the criteria nor that of the answers changes what becomes of the cell.
    #[test]
    fn the_order_of_the_criteria_does_not_matter(
        numbers in any_estimates(), run in any_run(), turn in 0usize..30, sign in 0..Sign::ALL.len(), found: bool,
    ) {
        let mut observations = Observations::no_signs();
        if found { observations.set(Sign::ALL[sign], Answer::Yes); }
        let mut estimates = Estimates::default();
        for (quantity, value, doubt) in numbers.iter().flatten() {
            estimates.measured.insert(*quantity, Estimate::new(*quantity, *value, *doubt, "test"));
        }
        let mut turned = policy().clone();
        let by = turn % turned.criteria.len();
        turned.criteria.rotate_left(by);
        let plate = nameplate();
        let evidence = evidence_of(&plate, &observations, &estimates, &run);
        let (first, second) = (decide(policy(), &evidence), decide(&turned, &evidence));
        prop_assert_eq!((first.fate, first.condition), (second.fate, second.condition));
    }

    #[test]
    fn more_doubt_never_turns_a_cell_into_reuse(doubt in 0.0..0.2f64, more in 0.0..0.2f64, share in 0.5..1.1f64) {
        let less = with(&[(Quantity::CapacityFraction, share, doubt)]).fate;
        let wider = with(&[(Quantity::CapacityFraction, share, doubt + more)]).fate;
        prop_assert!(wider != Fate::Reuse || less == Fate::Reuse);
    }
}
