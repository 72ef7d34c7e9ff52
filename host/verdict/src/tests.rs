//! The decision as a whole: every criterion at its boundary, every sign, every way a test can end.

mod bound;
mod class_resistance;
mod device;
mod known;
mod label;
mod lacking;
mod lifetime;
mod limits;
mod same_cell;
mod several_cells;
mod test_end;

use super::*;
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::nameplate::{Chemistry, Form, Nameplate};
use celltriage_measure::observation::{Answer, Observations, SensedAt, Sign};
use celltriage_measure::test_support::nameplate;
use std::sync::LazyLock;

/// What a sound cell shows, with no doubt at all so that boundaries can be tried.
pub(super) const SOUND: [(Quantity, f64); 9] = [
    (Quantity::RestVoltage, 4.2),
    (Quantity::RestDrift, -0.001),
    (Quantity::RestTemperatureRise, 0.1),
    (Quantity::TemperatureRise, 0.9),
    (Quantity::ThicknessGrowth, 0.02),
    (Quantity::ResistanceTwoLevel, 0.1),
    (Quantity::Resistance25Celsius, 0.1),
    (Quantity::CapacityFraction, 0.93),
    (Quantity::SelfDischargePerMonth, 0.02),
];

fn estimates(changes: &[(Quantity, f64, f64)]) -> Estimates {
    let mut estimates = Estimates::default();
    let sound = SOUND.iter().map(|(quantity, value)| (*quantity, *value, 0.0));
    for (quantity, value, doubt) in sound.chain(changes.iter().copied()) {
        let mut estimate = Estimate::new(quantity, value, doubt, "test");
        estimate.conditions.duration_s = Some(3600.0);
        estimate.conditions.temperature_c = Some(23.0);
        estimates.put(quantity, Ok(estimate));
    }
    estimates
}

/// Takes one estimate away and says why it is not there.
fn lose(estimates: &mut Estimates, quantity: Quantity, why: &str) {
    estimates.measured.remove(&quantity);
    estimates.put(quantity, Err(why.to_owned()));
}

pub(super) fn policy() -> &'static Policy {
    static POLICY: LazyLock<Policy> = LazyLock::new(|| Policy::built_in().unwrap());
    &POLICY
}

/// What is known of a cell of which the book has nothing.
pub(crate) fn evidence_of<'a>(
    nameplate: &'a Nameplate,
    observations: &'a Observations,
    estimates: &'a Estimates,
    run: &'a RunOutcome,
) -> Evidence<'a> {
    Evidence {
        nameplate,
        observations,
        estimates,
        run,
        known: &[],
        lifetime: None,
        contradictions: &[],
        labels_of_model: &[],
        from_file: false,
    }
}

pub(super) fn decided(observations: &Observations, estimates: &Estimates, run: &RunOutcome) -> Verdict {
    let nameplate = nameplate();
    decide(policy(), &evidence_of(&nameplate, observations, estimates, run))
}

pub(super) fn with(changes: &[(Quantity, f64, f64)]) -> Verdict {
    decided(&Observations::no_signs(), &estimates(changes), &RunOutcome::Complete)
}

fn without(quantity: Quantity) -> Verdict {
    let mut estimates = estimates(&[]);
    lose(&mut estimates, quantity, "not in the plan");
    decided(&Observations::no_signs(), &estimates, &RunOutcome::Complete)
}

fn reason<'a>(verdict: &'a Verdict, criterion: &str) -> &'a Reason {
    verdict
        .reasons
        .iter()
        .find(|reason| reason.criterion == criterion)
        .expect("the criterion is in the verdict")
}

#[test]
fn a_sound_cell_with_full_evidence_is_reused() {
    let verdict = with(&[]);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Reuse, CellState::Intact));
    assert!(verdict.statement.contains("93.0 %"), "{}", verdict.statement);
    let [emptied] = verdict.next_steps.as_slice() else { panic!("{:?}", verdict.next_steps) };
    assert!(emptied.contains("empty") && emptied.contains("1.50 A for 1 h"), "{emptied}");
    let (lifetime, others): (Vec<_>, Vec<_>) =
        verdict.reasons.iter().partition(|reason| reason.criterion == LIFETIME_RECORD);
    assert!(others.iter().all(|reason| reason.finding == Finding::Pass));
    let [said] = lifetime.as_slice() else { panic!("{lifetime:?}") };
    assert!(said.text.contains("does not permit reuse") && !said.mandatory, "{}", said.text);
}

#[test]
fn every_sign_leads_to_quarantine_and_its_state() {
    for sign in Sign::ALL {
        let mut observations = Observations::no_signs();
        observations.set(sign, Answer::Yes);
        let verdict = decided(&observations, &estimates(&[]), &RunOutcome::Complete);
        let state = match sign {
            Sign::ActiveNow => CellState::Critical,
            Sign::CasingBreached => CellState::CasingBreached,
            _ => CellState::DamagedOrDefective,
        };
        assert_eq!((verdict.fate, verdict.condition), (Fate::Quarantine, state), "{sign:?}");
        assert_eq!(verdict.reasons[0].sign, Some(sign));
        assert_eq!(verdict.statement, verdict.reasons[0].text);
        assert_eq!(verdict.active_now(), sign == Sign::ActiveNow);
    }
}

#[test]
fn the_worst_failure_decides_and_stands_first() {
    let mut observations = Observations::no_signs();
    observations.set(Sign::Swollen, Answer::Yes);
    let faded =
        estimates(&[(Quantity::CapacityFraction, 0.5, 0.01), (Quantity::RestTemperatureRise, 30.0, 0.1)]);
    let verdict = decided(&observations, &faded, &RunOutcome::Complete);
    let first: Vec<_> = verdict.reasons.iter().take(3).map(|reason| reason.criterion.as_str()).collect();
    assert_eq!(first, ["hot_at_rest", "sign_swollen", "self_warming"]);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Quarantine, CellState::Critical));
}

#[test]
fn a_faded_cell_that_nobody_looked_at_is_recycled_but_counts_as_unknown() {
    let faded = estimates(&[(Quantity::CapacityFraction, 0.6, 0.01)]);
    let verdict = decided(&Observations::default(), &faded, &RunOutcome::Complete);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Recycle, CellState::Unknown));
    assert_eq!(verdict.statement, "The capacity is 60.0 % of the rated one, below 80 %.");
    let looked_at = decided(&Observations::no_signs(), &faded, &RunOutcome::Complete);
    assert_eq!((looked_at.fate, looked_at.condition), (Fate::Recycle, CellState::Intact));
}

pub(super) fn tripped(cause: &str, value: f64, limit: f64, unit: &str) -> RunOutcome {
    RunOutcome::Tripped { cause: cause.to_owned(), value, limit, unit: unit.to_owned() }
}

#[test]
fn the_names_in_json_are_those_of_the_contract() {
    let verdict = with(&[(Quantity::CapacityFraction, 0.5, 0.01)]);
    let json = serde_json::to_value(&verdict).unwrap();
    assert_eq!(json["fate"], "recycle");
    let first = &json["reasons"][0];
    assert_eq!(first["criterion"], "capacity");
    assert_eq!(first["finding"], "fail");
    assert_eq!(first["value"], 0.5);
    assert_eq!(first["limit"], 0.8);
    assert!(first["source"].as_str().unwrap().contains("workshop's policy"));
    assert!(first["note"].as_str().unwrap().contains("2023/1670"));
    let sign =
        json["reasons"].as_array().unwrap().iter().find(|one| one["criterion"] == "sign_swollen").unwrap();
    assert_eq!((&sign["value"], &sign["limit"]), (&"no".into(), &"no".into()));
    assert_eq!(serde_json::from_value::<Verdict>(json).unwrap(), verdict);
}

#[test]
fn a_deeply_discharged_cell_does_not_count_as_intact_even_in_a_recorded_trace() {
    for volts in [1.0, 1.8, 2.5] {
        let discharged = estimates(&[(Quantity::RestVoltage, volts, 0.0)]);
        let verdict = decided(&Observations::no_signs(), &discharged, &RunOutcome::Recorded);
        assert_eq!(verdict.condition, CellState::Unknown, "{volts}");
        assert_ne!(verdict.fate, Fate::Reuse);
    }
}
