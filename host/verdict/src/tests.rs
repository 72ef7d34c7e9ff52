//! The decision as a whole: every criterion at its boundary, every sign, every way a test can end.

mod class_resistance;

use super::*;
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::nameplate::{Chemistry, Form, Nameplate};
use celltriage_measure::observation::{Answer, Observations, Sign};
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

pub(super) fn decided(observations: &Observations, estimates: &Estimates, run: &RunOutcome) -> Verdict {
    let nameplate = nameplate();
    decide(policy(), &Evidence { nameplate: &nameplate, observations, estimates, run, known: &[] })
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
    assert!(verdict.reasons.iter().all(|reason| reason.finding == Finding::Pass));
}

/// Quantity, value, doubt, criterion, finding, fate. Values at, just inside and just outside of every limit; then
/// with a doubt of 1 the guard of 1.645 on both sides.
#[test]
fn every_limit_holds_at_its_boundary() {
    use Finding::{Fail, Inconclusive, Missing, Pass};
    use Quantity::{
        CapacityFraction, Resistance25Celsius, RestDrift, RestTemperatureRise, RestVoltage,
        SelfDischargePerMonth, TemperatureRise, ThicknessGrowth,
    };
    // 0.68 Ohm·Ah over 3 Ah; the sixth decimal keeps clear of the rounding of the division.
    let twice_class = 0.68 / 3.0;
    let table = [
        (RestTemperatureRise, 2.0, 0.0, "self_warming", Pass, Fate::Reuse),
        (RestTemperatureRise, 2.001, 0.0, "self_warming", Fail, Fate::Quarantine),
        (RestTemperatureRise, 1.8, 0.2, "self_warming", Inconclusive, Fate::Undecided),
        (RestTemperatureRise, 2.4, 0.2, "self_warming", Fail, Fate::Quarantine),
        (RestVoltage, 4.4, 0.0, "over_charged", Pass, Fate::Reuse),
        (RestVoltage, 4.4001, 0.0, "over_charged", Fail, Fate::Quarantine),
        (RestVoltage, 4.395, 0.01, "over_charged", Inconclusive, Fate::Undecided),
        (RestVoltage, 3.0, 0.0, "deeply_discharged", Pass, Fate::Reuse),
        (RestVoltage, 2.9999, 0.0, "deeply_discharged", Fail, Fate::Undecided),
        (RestVoltage, 3.01, 0.01, "deeply_discharged", Inconclusive, Fate::Undecided),
        (RestVoltage, 2.0, 0.0, "over_discharged", Pass, Fate::Undecided),
        (RestVoltage, 1.9999, 0.0, "over_discharged", Fail, Fate::Recycle),
        (RestVoltage, 1.5, 0.0, "reversed_or_empty", Pass, Fate::Recycle),
        (RestVoltage, 1.4999, 0.0, "reversed_or_empty", Fail, Fate::Recycle),
        (RestVoltage, 0.5, 0.0, "own_voltage", Pass, Fate::Recycle),
        (RestVoltage, 0.5, 0.0, "reversed_or_empty", Fail, Fate::Recycle),
        (RestVoltage, 0.4999, 0.0, "own_voltage", Fail, Fate::Undecided),
        (RestVoltage, 0.4999, 0.0, "reversed_or_empty", Missing, Fate::Undecided),
        (RestVoltage, -0.2, 0.0, "own_voltage", Fail, Fate::Undecided),
        (RestDrift, -0.020, 0.0, "falling_at_rest", Pass, Fate::Reuse),
        (RestDrift, -0.0201, 0.0, "falling_at_rest", Fail, Fate::Quarantine),
        (RestDrift, -0.020, 0.002, "falling_at_rest", Inconclusive, Fate::Undecided),
        (RestDrift, 0.5, 0.0, "falling_at_rest", Pass, Fate::Reuse),
        (TemperatureRise, 8.0, 0.0, "temperature_rise", Pass, Fate::Reuse),
        (TemperatureRise, 8.01, 0.0, "temperature_rise", Fail, Fate::Quarantine),
        (TemperatureRise, 7.0, 1.0, "temperature_rise", Inconclusive, Fate::Undecided),
        (ThicknessGrowth, 0.05, 0.0, "thickness_growth", Pass, Fate::Reuse),
        (ThicknessGrowth, 0.0501, 0.0, "thickness_growth", Inconclusive, Fate::Undecided),
        (ThicknessGrowth, 0.10, 0.0, "thickness_growth", Inconclusive, Fate::Undecided),
        (ThicknessGrowth, 0.1001, 0.0, "thickness_growth", Fail, Fate::Quarantine),
        (ThicknessGrowth, 0.14, 0.02, "thickness_growth", Fail, Fate::Quarantine),
        (SelfDischargePerMonth, 0.05, 0.0, "self_discharge", Pass, Fate::Reuse),
        (SelfDischargePerMonth, 0.0501, 0.0, "self_discharge", Inconclusive, Fate::Undecided),
        (SelfDischargePerMonth, 0.20, 0.0, "self_discharge", Inconclusive, Fate::Undecided),
        (SelfDischargePerMonth, 0.2001, 0.0, "self_discharge", Fail, Fate::Quarantine),
        (SelfDischargePerMonth, 0.02, 0.02, "self_discharge", Inconclusive, Fate::Undecided),
        (SelfDischargePerMonth, -0.01, 0.01, "self_discharge", Pass, Fate::Reuse),
        (Resistance25Celsius, twice_class - 1e-6, 0.0, "resistance", Pass, Fate::Reuse),
        (Resistance25Celsius, twice_class + 1e-6, 0.0, "resistance", Fail, Fate::Recycle),
        (Resistance25Celsius, twice_class, 0.005, "resistance", Inconclusive, Fate::Undecided),
        (CapacityFraction, 0.80, 0.0, "capacity", Pass, Fate::Reuse),
        (CapacityFraction, 0.7999, 0.0, "capacity", Fail, Fate::Recycle),
        (CapacityFraction, 0.81, 0.01, "capacity", Inconclusive, Fate::Undecided),
        (CapacityFraction, 0.79, 0.01, "capacity", Inconclusive, Fate::Undecided),
        (CapacityFraction, 0.82, 0.01, "capacity", Pass, Fate::Reuse),
        (CapacityFraction, 0.78, 0.01, "capacity", Fail, Fate::Recycle),
    ];
    for (quantity, value, doubt, criterion, finding, fate) in table {
        let verdict = with(&[(quantity, value, doubt)]);
        let found = reason(&verdict, criterion);
        let told = format!("{} = {value} ± {doubt}: {}", quantity.key(), found.text);
        assert_eq!(found.finding, finding, "{told}");
        assert_eq!(verdict.fate, fate, "{told}");
        assert!(!found.text.contains(['{', '}']), "{told}");
        if finding == Fail {
            assert!(verdict.points_to(found.hazard.unwrap_or(Hazard::Fixture)) || found.hazard.is_none());
        }
    }
}

#[test]
fn every_criterion_of_the_policy_is_tried_at_its_boundary_or_is_a_sign() {
    let tried = [
        "self_warming",
        "own_voltage",
        "over_charged",
        "deeply_discharged",
        "over_discharged",
        "reversed_or_empty",
        "falling_at_rest",
        "self_discharge",
        "temperature_rise",
        "thickness_growth",
        "resistance",
        "resistance_cylindrical",
        "capacity",
    ];
    for criterion in &policy().criteria {
        let known = matches!(criterion.subject, Subject::Sign(_)) || tried.contains(&criterion.id.as_str());
        assert!(known, "{} needs a line in the table above", criterion.id);
    }
}

/// A bare cylindrical cell of 73 mOhm and 3 Ah has three times what such cells have when new, and kept the flat cells' limit.
#[test]
fn a_limit_judges_only_the_class_that_it_is_about() {
    let of = |policy: &Policy, chemistry, form| {
        let plate = Nameplate { chemistry, form, ..nameplate() };
        let (observations, estimates) = (Observations::no_signs(), estimates(&[]));
        let run = RunOutcome::Complete;
        decide(
            policy,
            &Evidence {
                nameplate: &plate,
                observations: &observations,
                estimates: &estimates,
                run: &run,
                known: &[],
            },
        )
    };
    for (chemistry, form) in
        [(Chemistry::Nmc, Form::Pouch), (Chemistry::Nca, Form::Prismatic), (Chemistry::Lfp, Form::Unknown)]
    {
        let verdict = of(policy(), chemistry, form);
        let found = reason(&verdict, "resistance");
        assert!(verdict.reasons.iter().all(|one| one.criterion != "resistance_cylindrical"));
        assert_eq!((verdict.fate, found.finding), (Fate::Undecided, Finding::Missing));
        assert!(found.text.contains(chemistry.key()) && found.text.contains(form.key()), "{}", found.text);
        assert!(
            verdict.next_steps.iter().any(|step| step.contains("chemistries, forms")),
            "{:?}",
            verdict.next_steps
        );
    }
    assert_eq!(of(policy(), Chemistry::LithiumIon, Form::Unknown).fate, Fate::Reuse);

    // A second criterion on the same number takes over for its class, and is not missed elsewhere.
    let strict = Policy::from_toml(&DEFAULT_POLICY.replace("limit = 0.35", "limit = 0.2"), "own").unwrap();
    for (policy, finding) in [(policy(), Finding::Pass), (&strict, Finding::Fail)] {
        let round = of(policy, Chemistry::Nmc, Form::Cylindrical);
        assert_eq!(reason(&round, "resistance_cylindrical").finding, finding);
        assert!(round.reasons.iter().all(|one| one.criterion != "resistance"));
        let flat = of(policy, Chemistry::Lco, Form::Pouch);
        assert!(flat.fate == Fate::Reuse);
        assert!(flat.reasons.iter().all(|one| one.criterion != "resistance_cylindrical"));
    }
    let on_a_sign = DEFAULT_POLICY.replace("sign = \"leaked\"", "sign = \"leaked\"\nforms = [\"pouch\"]");
    assert!(Policy::from_toml(&on_a_sign, "own").unwrap_err().to_string().contains("every cell"));
}

#[test]
fn the_limit_of_cylindrical_cells_holds_at_its_boundary() {
    let limit = 0.35 / 3.0;
    for (resistance, doubt, finding, fate) in [
        (limit - 1e-6, 0.0, Finding::Pass, Fate::Reuse),
        (limit + 1e-6, 0.0, Finding::Fail, Fate::Recycle),
        (limit, 0.005, Finding::Inconclusive, Fate::Undecided),
    ] {
        let plate = Nameplate { chemistry: Chemistry::Nmc, form: Form::Cylindrical, ..nameplate() };
        let estimates = estimates(&[(Quantity::Resistance25Celsius, resistance, doubt)]);
        let (observations, run) = (Observations::no_signs(), RunOutcome::Complete);
        let evidence = Evidence {
            nameplate: &plate,
            observations: &observations,
            estimates: &estimates,
            run: &run,
            known: &[],
        };
        let verdict = decide(policy(), &evidence);
        let found = reason(&verdict, "resistance_cylindrical").finding;
        assert_eq!((found, verdict.fate), (finding, fate), "{resistance}");
    }
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
fn nothing_observed_is_never_reuse_and_the_cell_counts_as_unknown() {
    let verdict = decided(&Observations::default(), &estimates(&[]), &RunOutcome::Recorded);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Undecided, CellState::Unknown));
    assert_eq!(verdict.statement, "No fault found, 9 signs of damage not looked for.");
    assert!(verdict.next_steps[0].contains("swollen"), "{:?}", verdict.next_steps);
}

#[test]
fn rest_voltage_and_resistance_alone_say_no_fault_found_and_what_would_settle_it() {
    let verdict = without(Quantity::CapacityFraction);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Undecided, CellState::Intact));
    assert_eq!(verdict.statement, "No fault found, capacity not measured.");
    let settle = "Charge it to its limit of 4.35 V, rest 1 h, then run a full discharge at 0.20 It (0.60 A) to 3 V: \
                  about 5 h 0 min.";
    assert_eq!(verdict.next_steps, [settle]);
    let missing = reason(&verdict, "capacity");
    assert_eq!((missing.finding, &missing.value), (Finding::Missing, &None));
    assert_eq!(missing.text, "Not measured: not in the plan.");
}

#[test]
fn a_large_cell_is_told_the_longer_time_at_the_largest_steady_current() {
    let nameplate = Nameplate { rated_capacity_ah: 10.0, ..nameplate() };
    let mut estimates = estimates(&[(Quantity::Resistance25Celsius, 0.03, 0.0)]);
    lose(&mut estimates, Quantity::CapacityFraction, "");
    let observations = Observations::no_signs();
    let evidence = Evidence {
        nameplate: &nameplate,
        observations: &observations,
        estimates: &estimates,
        run: &RunOutcome::Complete,
        known: &[],
    };
    let verdict = decide(policy(), &evidence);
    assert!(
        verdict.next_steps[0].contains("0.15 It (1.50 A) to 3 V: about 6 h 40 min"),
        "{:?}",
        verdict.next_steps
    );
}

#[test]
fn each_mandatory_number_that_is_missing_leaves_the_cell_undecided() {
    let needed = [
        Quantity::RestVoltage,
        Quantity::RestTemperatureRise,
        Quantity::TemperatureRise,
        Quantity::Resistance25Celsius,
        Quantity::CapacityFraction,
    ];
    for quantity in needed {
        assert_eq!(without(quantity).fate, Fate::Undecided, "{quantity:?}");
    }
    for quantity in [Quantity::RestDrift, Quantity::ThicknessGrowth, Quantity::SelfDischargePerMonth] {
        assert_eq!(without(quantity).fate, Fate::Reuse, "{quantity:?}");
    }
}

#[test]
fn a_resistance_without_a_temperature_counts_with_a_wide_doubt_and_a_cold_one_not_at_all() {
    let at = |ohms: f64, temperature: Option<f64>| {
        let mut estimates = estimates(&[]);
        lose(&mut estimates, Quantity::Resistance25Celsius, "needs a temperature");
        let mut two_level = Estimate::new(Quantity::ResistanceTwoLevel, ohms, 0.0, "test");
        two_level.conditions.temperature_c = temperature;
        estimates.put(Quantity::ResistanceTwoLevel, Ok(two_level));
        reason(&decided(&Observations::no_signs(), &estimates, &RunOutcome::Complete), "resistance").finding
    };
    assert_eq!(at(0.1, None), Finding::Pass);
    assert_eq!(at(0.25, None), Finding::Inconclusive);
    assert_eq!(at(0.5, None), Finding::Fail);
    assert_eq!(at(0.1, Some(5.0)), Finding::Missing);
    assert_eq!(at(0.5, Some(5.0)), Finding::Missing);
}

#[test]
fn a_fall_soon_after_the_load_may_be_settling_and_is_not_a_failure() {
    for (rested, finding) in
        [(Some(60.0), Finding::Inconclusive), (None, Finding::Inconclusive), (Some(1800.0), Finding::Fail)]
    {
        let mut estimates = estimates(&[]);
        let mut drift = Estimate::new(Quantity::RestDrift, -0.2, 0.001, "test");
        drift.conditions.duration_s = rested;
        estimates.put(Quantity::RestDrift, Ok(drift));
        let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Complete);
        assert_eq!(reason(&verdict, "falling_at_rest").finding, finding, "{rested:?}");
        assert_ne!(verdict.fate, Fate::Reuse);
    }
}

#[test]
fn the_worst_failure_decides_and_stands_first() {
    let mut observations = Observations::no_signs();
    observations.set(Sign::Swollen, Answer::Yes);
    let faded =
        estimates(&[(Quantity::CapacityFraction, 0.5, 0.01), (Quantity::RestTemperatureRise, 3.0, 0.1)]);
    let verdict = decided(&observations, &faded, &RunOutcome::Complete);
    let first: Vec<_> = verdict.reasons.iter().take(3).map(|reason| reason.criterion.as_str()).collect();
    assert_eq!(first, ["self_warming", "sign_swollen", "capacity"]);
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

#[test]
fn a_test_that_was_not_finished_is_quarantine_however_good_the_numbers() {
    let run = RunOutcome::Unfinished { why: "stopped by hand".to_owned() };
    let verdict = decided(&Observations::no_signs(), &estimates(&[]), &run);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Quarantine, CellState::Unknown));
    assert!(verdict.statement.contains("stopped by hand"), "{}", verdict.statement);
    let run = RunOutcome::NotMeasured { why: "no fixture at hand".to_owned() };
    let verdict = decided(&Observations::no_signs(), &Estimates::default(), &run);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Undecided, CellState::Unknown));
}

#[test]
fn a_swollen_cell_that_was_never_loaded_is_quarantined_for_the_swelling() {
    let mut observations = Observations::no_signs();
    observations.set(Sign::Swollen, Answer::Yes);
    let run = RunOutcome::NotMeasured { why: "swollen, so it is not loaded".to_owned() };
    let verdict = decided(&observations, &Estimates::default(), &run);
    assert_eq!(verdict.fate, Fate::Quarantine);
    assert_eq!(verdict.statement, "The cell is swollen: it has made gas inside.");
}

pub(super) fn tripped(cause: &str, value: f64, limit: f64, unit: &str) -> RunOutcome {
    RunOutcome::Tripped { cause: cause.to_owned(), value, limit, unit: unit.to_owned() }
}

#[test]
fn a_voltage_that_the_fixture_refused_decides_by_its_value() {
    for (volts, fate) in [(2.6, Fate::Undecided), (1.8, Fate::Recycle), (0.6, Fate::Recycle)] {
        let run = tripped("voltage_low", volts, 3.0, "V");
        let verdict = decided(&Observations::no_signs(), &Estimates::default(), &run);
        assert_eq!(verdict.fate, fate, "{volts}");
        assert!(verdict.points_to(Hazard::DeeplyDischarged));
        assert_eq!(verdict.condition, CellState::Unknown);
    }
    let run = tripped("voltage_high", 4.43, 4.40, "V");
    assert_eq!(decided(&Observations::no_signs(), &Estimates::default(), &run).fate, Fate::Quarantine);
}

#[test]
fn every_trip_is_quarantine_but_a_low_voltage_and_heat_is_critical() {
    for cause in TRIP_CAUSES.map(trip_key) {
        let verdict =
            decided(&Observations::no_signs(), &estimates(&[]), &tripped(cause, 46.0, 45.0, "degC"));
        if cause != "voltage_low" {
            assert_eq!(verdict.fate, Fate::Quarantine, "{cause}");
        }
        assert_ne!(verdict.fate, Fate::Reuse, "{cause}");
        assert!(verdict.condition >= CellState::Unknown, "{cause}");
        let heat = ["temperature_high", "over_temperature", "temperature_rise", "rise_rate"].contains(&cause);
        assert_eq!(verdict.condition == CellState::Critical, heat, "{cause}");
        assert!(!verdict.reasons[0].text.contains(['{', '}']), "{cause}: {}", verdict.reasons[0].text);
    }
    // A cause of a later fixture, or a number that is none, is no better.
    for run in [tripped("moisture", 1.0, 0.0, ""), tripped("over_temperature", f64::NAN, f64::NAN, "degC")] {
        assert_eq!(decided(&Observations::no_signs(), &estimates(&[]), &run).fate, Fate::Quarantine);
    }
}

/// A hot cell is not clipped, cleaned or measured to settle what else is open.
#[test]
fn nobody_is_asked_to_handle_a_critical_cell_for_what_is_still_open() {
    let open = |rise: f64| {
        let mut found = estimates(&[(Quantity::RestTemperatureRise, rise, 0.1)]);
        for quantity in [Quantity::RestVoltage, Quantity::RestDrift, Quantity::ThicknessGrowth] {
            lose(&mut found, quantity, "not measured");
        }
        decided(&Observations::no_signs(), &found, &RunOutcome::Complete)
    };
    let asked = |verdict: &Verdict| {
        verdict.reasons.iter().filter_map(|one| one.settle.clone()).collect::<Vec<_>>().join("\n")
    };
    let cool = open(0.1);
    assert_ne!(cool.condition, CellState::Critical);
    assert!(asked(&cool).contains("Measure the thickness") && asked(&cool).contains("rest voltage"));
    let hot = open(120.0);
    assert_eq!(hot.condition, CellState::Critical);
    for line in asked(&hot).lines() {
        assert!(line.starts_with("Nothing on this cell"), "{line}");
    }
    assert!(hot.next_steps.iter().any(|step| step.starts_with("Watch it from a distance")));
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
    assert!(first["source"].as_str().unwrap().contains("2023/1670"));
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
