//! A connector that shows next to nothing says nothing about the cell.

use super::tests::{SOUND, decided, evidence_of, policy, tripped};
use super::*;
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::observation::Observations;
use celltriage_measure::test_support::nameplate;

fn resting_at(volts: f64, doubt: f64) -> Estimates {
    let mut estimates = Estimates::default();
    for (quantity, value) in SOUND {
        estimates.put(quantity, Ok(Estimate::new(quantity, value, 0.0, "test")));
    }
    estimates.put(Quantity::RestVoltage, Ok(Estimate::new(Quantity::RestVoltage, volts, doubt, "test")));
    estimates
}

fn finding(verdict: &Verdict, criterion: &str) -> Finding {
    verdict.reasons.iter().find(|one| one.criterion == criterion).unwrap().finding
}

#[test]
fn nothing_at_the_connector_is_not_measured_and_never_charged() {
    for (volts, doubt) in [(-0.2, 0.0), (0.0, 0.0), (0.1, 0.003), (0.2, 0.003), (0.48, 0.0)] {
        let trip = tripped("voltage_low", volts, 3.0, "V");
        for (estimates, run) in [
            (resting_at(volts, doubt), RunOutcome::Complete),
            (resting_at(volts, doubt), trip.clone()),
            (Estimates::default(), trip),
        ] {
            let verdict = decided(&Observations::no_signs(), &estimates, &run);
            assert_eq!((verdict.fate, verdict.condition), (Fate::Undecided, CellState::Unknown), "{volts}");
            assert!(verdict.points_to(Hazard::VoltageHidden));
            assert!(!verdict.points_to(Hazard::DeeplyDischarged), "that would be said of the cell");
            assert!(verdict.statement.contains("not measured"), "{}", verdict.statement);
            for criterion in ["reversed_or_empty", "over_discharged", "deeply_discharged", "over_charged"] {
                assert_eq!(finding(&verdict, criterion), Finding::Missing, "{criterion} at {volts}");
            }
            assert_ne!(finding(&verdict, "falling_at_rest"), Finding::Pass, "a drift of nothing");
            assert!(verdict.next_steps.iter().any(|step| step.contains("own tabs")));
            let forbids = verdict.forbids.unwrap();
            assert!([Act::Load, Act::PreCharge, Act::Charge].iter().all(|act| forbids.contains(act)));
            assert!(!forbids.contains(&Act::Look));
        }
    }
}

#[test]
fn above_half_a_volt_it_is_the_cell_and_close_to_it_nothing_is_said() {
    let at =
        |volts, doubt| decided(&Observations::no_signs(), &resting_at(volts, doubt), &RunOutcome::Complete);
    for volts in [0.5, 0.8, 1.0, 1.49, 1.99] {
        let verdict = at(volts, 0.0);
        assert_eq!(verdict.fate, Fate::Recycle, "{volts}");
        assert!(verdict.points_to(Hazard::DeeplyDischarged) && !verdict.points_to(Hazard::VoltageHidden));
    }
    let close = at(0.503, 0.005);
    assert_eq!((close.fate, finding(&close, "own_voltage")), (Fate::Undecided, Finding::Inconclusive));
    assert_eq!(finding(&close, "over_discharged"), Finding::Missing);
    assert!(close.forbids.unwrap().contains(&Act::Charge));
}

#[test]
fn a_protection_that_opens_under_load_is_not_told_of_the_cell() {
    let at = |volts| {
        let run = tripped("voltage_floor", volts, 2.5, "V");
        decided(&Observations::no_signs(), &resting_at(3.9, 0.002), &run)
    };
    let opened = at(0.05);
    assert_eq!((opened.fate, opened.condition), (Fate::Undecided, CellState::Unknown));
    assert!(opened.points_to(Hazard::VoltageHidden) && opened.forbids.unwrap().contains(&Act::Load));
    assert_eq!((at(1.8).fate, at(1.8).condition), (Fate::Quarantine, CellState::DamagedOrDefective));
    assert_eq!(at(f64::NAN).fate, Fate::Quarantine);
}

#[test]
fn under_a_policy_of_before_the_same_voltage_is_decided_as_it_was() {
    let before = Policy::from_toml(include_str!("../tests/data/policy_2.toml"), "before").unwrap();
    let (plate, observations) = (nameplate(), Observations::no_signs());
    let (estimates, run) = (resting_at(0.1, 0.003), tripped("voltage_low", 0.1, 3.0, "V"));
    let evidence = evidence_of(&plate, &observations, &estimates, &run);
    let verdict = decide(&before.clone().without_withholding(), &evidence);
    assert_eq!((verdict.fate, verdict.forbids), (Fate::Recycle, None));
    assert!(verdict.next_steps.iter().any(|step| step.contains("pre-charge")), "as it was written then");
    let today = decide(&before, &evidence);
    assert_eq!(today.fate, Fate::Recycle);
    assert!(today.next_steps.iter().all(|step| !step.contains("pre-charge")), "{:?}", today.next_steps);
    assert_eq!(decide(policy(), &evidence).fate, Fate::Undecided);
}

/// Each step of the built-in policy says what it does; what it says is no less than its words, but for words that forbid.
#[test]
fn every_step_of_the_built_in_policy_says_what_it_does() {
    let lines: Vec<&str> = DEFAULT_POLICY.lines().filter(|line| !line.starts_with('#')).collect();
    for (key, acts) in [("advice = ", "advice_acts = "), ("settle = ", "settle_acts = ")] {
        for pair in lines.windows(2).filter(|pair| pair[0].starts_with(key)) {
            assert!(pair[1].starts_with(acts), "{}", pair[0]);
        }
    }
}
