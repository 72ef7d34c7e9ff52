//! Every way in which a test can end.

use super::*;

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
fn every_trip_is_quarantine_but_a_low_voltage_warmth_is_damage_and_heat_critical() {
    for cause in TRIP_CAUSES.map(trip_key) {
        let verdict =
            decided(&Observations::no_signs(), &estimates(&[]), &tripped(cause, 46.0, 45.0, "degC"));
        if cause != "voltage_low" {
            assert_eq!(verdict.fate, Fate::Quarantine, "{cause}");
        }
        assert_ne!(verdict.fate, Fate::Reuse, "{cause}");
        assert!(verdict.condition >= CellState::Unknown, "{cause}");
        let heat = ["over_temperature", "rise_rate"].contains(&cause);
        assert_eq!(verdict.condition == CellState::Critical, heat, "{cause}");
        let warm = ["temperature_high", "temperature_rise"].contains(&cause);
        assert!(!warm || verdict.condition == CellState::DamagedOrDefective, "{cause}");
        assert_eq!(verdict.next_steps.join(" ").contains("again in 10 min"), warm, "{cause}");
        assert!(!verdict.reasons[0].text.contains(['{', '}']), "{cause}: {}", verdict.reasons[0].text);
    }
    // A cause of a later fixture, or a number that is none, is no better.
    for run in [tripped("moisture", 1.0, 0.0, ""), tripped("over_temperature", f64::NAN, f64::NAN, "degC")] {
        assert_eq!(decided(&Observations::no_signs(), &estimates(&[]), &run).fate, Fate::Quarantine);
    }
}
