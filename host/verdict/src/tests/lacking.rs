//! What is missing, unknown or too early never proves a cell, and what would settle it is said.

use super::*;

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
        lifetime: None,
        contradictions: &[],
        labels_of_model: &[],
        from_file: false,
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
        Quantity::ThicknessGrowth,
    ];
    for quantity in needed {
        assert_eq!(without(quantity).fate, Fate::Undecided, "{quantity:?}");
    }
    for quantity in [Quantity::RestDrift, Quantity::SelfDischargePerMonth] {
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
fn a_warm_cell_that_cools_is_left_alone_and_looked_at_again() {
    for (cools, rise, finding, fate) in [
        (Some(true), 4.0, Finding::Inconclusive, Fate::Undecided),
        (Some(false), 4.0, Finding::Fail, Fate::Quarantine),
        (None, 4.0, Finding::Fail, Fate::Quarantine),
        (Some(true), 1.0, Finding::Pass, Fate::Reuse),
        (Some(true), 21.0, Finding::Inconclusive, Fate::Quarantine),
    ] {
        let mut estimates = estimates(&[]);
        let mut warm = Estimate::new(Quantity::RestTemperatureRise, rise, 0.1, "test");
        warm.conditions.cools = cools;
        estimates.put(Quantity::RestTemperatureRise, Ok(warm));
        let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Complete);
        let found = reason(&verdict, "self_warming");
        assert_eq!((found.finding, verdict.fate), (finding, fate), "{cools:?} {rise}: {}", found.text);
        if finding == Finding::Inconclusive && fate == Fate::Undecided {
            assert!(found.text.contains("cools towards the air"), "{}", found.text);
            assert!(verdict.next_steps.iter().any(|step| step.contains("still air for an hour")));
            let forbids = verdict.forbids.clone().unwrap();
            assert!(forbids.contains(&Act::Charge), "not charged while it is warm");
        }
        // No hand warms a cell so far, whether it cools or not.
        assert_eq!(reason(&verdict, "hot_at_rest").finding == Finding::Fail, rise > 20.0);
    }
}

#[test]
fn warming_at_a_higher_current_than_the_limit_is_for_is_no_failure() {
    // It is 3 A.
    for (current, rise, finding, fate) in [
        (Some(0.6), 11.0, Finding::Fail, Fate::Quarantine),
        (Some(0.9), 11.0, Finding::Fail, Fate::Quarantine),
        (Some(0.91), 11.0, Finding::Inconclusive, Fate::Undecided),
        (Some(12.0), 41.0, Finding::Inconclusive, Fate::Undecided),
        (Some(12.0), 7.0, Finding::Pass, Fate::Reuse),
        (None, 11.0, Finding::Fail, Fate::Quarantine),
        (Some(f64::NAN), 11.0, Finding::Fail, Fate::Quarantine),
    ] {
        let mut estimates = estimates(&[]);
        let mut warmed = Estimate::new(Quantity::TemperatureRise, rise, 0.1, "test");
        warmed.conditions.warming_current_a = current;
        estimates.put(Quantity::TemperatureRise, Ok(warmed));
        let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Recorded);
        let found = reason(&verdict, "temperature_rise");
        assert_eq!((found.finding, verdict.fate), (finding, fate), "{current:?} {rise}: {}", found.text);
        if finding == Finding::Inconclusive {
            assert!(found.text.contains("up to 0.3 It"), "{}", found.text);
            assert!(verdict.next_steps.iter().any(|step| step.contains("Test again at 0.2 It")));
            assert!(!verdict.points_to(Hazard::Warming) && needed(found).is_none());
        }
    }
}

#[test]
fn a_resistance_with_leads_in_it_may_keep_its_limit_and_not_break_it() {
    for (with_leads, ohms, finding) in [
        (Some(true), 0.1, Finding::Pass),
        (Some(true), 0.5, Finding::Inconclusive),
        (None, 0.5, Finding::Fail),
        (Some(false), 0.5, Finding::Fail),
    ] {
        let mut estimates = estimates(&[]);
        let mut resistance = Estimate::new(Quantity::Resistance25Celsius, ohms, 0.001, "test");
        resistance.conditions.with_leads = with_leads;
        estimates.put(Quantity::Resistance25Celsius, Ok(resistance));
        let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Recorded);
        let found = reason(&verdict, "resistance");
        assert_eq!(found.finding, finding, "{with_leads:?} {ohms}: {}", found.text);
        assert_eq!(found.text.contains("leads and clips"), finding == Finding::Inconclusive);
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
    assert!(hot.next_steps.iter().any(|step| step.starts_with("Leave it where it is")));
}
