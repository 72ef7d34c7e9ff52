//! An assessment as an example, for the tests of this crate and of those above.

#![allow(clippy::expect_used)]

use crate::{Assessment, Circumstances, Subject};
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::nameplate::{Chemistry, Form, Nameplate};
use celltriage_measure::observation::Observations;
use celltriage_rules::Packs;
use celltriage_verdict::{Policy, RunOutcome};

/// A sound cell of the workshop, fully measured; `change` makes it another one.
pub fn example(change: impl FnOnce(&mut Subject)) -> Assessment {
    example_by(&Policy::built_in().expect("the built-in policy"), change)
}

/// The same, judged by another policy.
pub fn example_by(policy: &Policy, change: impl FnOnce(&mut Subject)) -> Assessment {
    let mut estimates = Estimates::default();
    let measured = [
        (Quantity::RestVoltage, 4.2013, 0.0021, "mean over the last 10 s of the rest"),
        (Quantity::RestDrift, -0.0011, 0.0004, "slope over the last 10 s of the rest"),
        (Quantity::ResistanceTwoLevel, 0.10412, 0.00058, "IEC 61960-3, two levels"),
        (Quantity::Resistance25Celsius, 0.10010, 0.0031, "two-level, corrected from 23.9 degC"),
        (Quantity::Capacity, 2.791, 0.014, "IEC 61960-3, full discharge at 0.2 It"),
        (Quantity::CapacityFraction, 0.9303, 0.0047, "capacity over rated capacity"),
        (Quantity::TemperatureRise, 0.91, 0.15, "largest rise over the air"),
        (Quantity::RestTemperatureRise, 0.05, 0.15, "largest rise over the air before a load"),
    ];
    for (quantity, value, doubt, method) in measured {
        let mut estimate = Estimate::new(quantity, value, doubt, method);
        estimate.conditions.temperature_c = Some(23.9);
        estimate.conditions.duration_s = Some(1800.0);
        estimates.put(quantity, Ok(estimate));
    }
    estimates.put(Quantity::SelfDischarge, Err("needs a second visit".to_owned()));
    let nameplate = Nameplate {
        model: None,
        rated_capacity_ah: 3.0,
        charge_limit_v: 4.35,
        end_of_discharge_v: 3.0,
        end_of_discharge_assumed: false,
        nominal_v: Some(3.8),
        nominal_thickness_mm: None,
        thickness_from: Default::default(),
        chemistry: Chemistry::LithiumIon,
        form: Form::Pouch,
        mass_g: None,
        warnings: vec!["nominal_thickness_mm is not given".to_owned()],
    };
    let date = jiff::civil::date(2026, 11, 25);
    let mut circumstances = Circumstances::new(date, "/dev/ttyACM0", RunOutcome::Complete);
    circumstances.place = "US".parse().ok();
    circumstances.program = "0.1.0".to_owned();
    let observations = Observations { lies_flat: Some(true), ..Observations::no_signs() };
    let cell_id = Some("PE-0412".to_owned());
    let mut subject = Subject {
        contradictions: Vec::new(),
        labels_of_model: Vec::new(),
        cell_id,
        nameplate,
        observations,
        estimates,
        circumstances,
        siblings: Vec::new(),
        known: Vec::new(),
        case_file: None,
        lifetime: None,
    };
    change(&mut subject);
    Assessment::build(subject, policy, &Packs::built_in().expect("the built-in packs"))
}
