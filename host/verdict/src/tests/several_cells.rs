//! Two cells in series measured as one: nothing is said of a cell, and nothing against one.

use super::*;
use celltriage_measure::estimate::without_trace;

#[test]
fn a_refused_pair_is_not_measured_and_an_over_charged_cell_is() {
    // The limit of charge is 4.35 V.
    for (volts, fate, said) in [
        (8.2, Fate::Undecided, "cells in series"),
        (5.5, Fate::Undecided, "cells in series"),
        (5.4, Fate::Quarantine, "past"),
        (4.45, Fate::Quarantine, "past"),
        (f64::NAN, Fate::Quarantine, "past"),
    ] {
        let run = tripped("voltage_high", volts, 4.4, "V");
        let verdict = decided(&Observations::no_signs(), &Estimates::default(), &run);
        assert_eq!(verdict.fate, fate, "{volts}: {:?}", verdict.reasons);
        assert!(verdict.statement.contains(said), "{volts}: {}", verdict.statement);
        assert_eq!(verdict.points_to(Hazard::OverCharged), fate == Fate::Quarantine);
    }
    // So high a number of another unit is no voltage.
    let hot = tripped("over_temperature", 60.0, 45.0, "degC");
    assert_eq!(
        decided(&Observations::no_signs(), &Estimates::default(), &hot).condition,
        CellState::Critical
    );
}

#[test]
fn a_trace_of_a_pair_leaves_both_cells_undecided_and_a_hot_one_is_still_kept_apart() {
    let why = "8.20 V at rest: two or more cells in series were measured as one";
    let mut estimates = without_trace(&nameplate(), &Observations::no_signs(), why);
    let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Recorded);
    assert_eq!(verdict.fate, Fate::Undecided);
    assert!(reason(&verdict, "over_charged").text.contains("cells in series"));
    assert!(!verdict.points_to(Hazard::OverCharged));
    let hot = Estimate::new(Quantity::RestTemperatureRise, 25.0, 0.1, "test");
    estimates.put(Quantity::RestTemperatureRise, Ok(hot));
    let verdict = decided(&Observations::no_signs(), &estimates, &RunOutcome::Recorded);
    assert_eq!((verdict.fate, verdict.condition), (Fate::Quarantine, CellState::Critical));
}
