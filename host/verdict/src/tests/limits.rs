//! Every limit of the built-in policy at its boundary, and for the cells that it is about.

use super::*;

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
        (RestTemperatureRise, 20.0, 0.0, "hot_at_rest", Pass, Fate::Quarantine),
        (RestTemperatureRise, 20.001, 0.0, "hot_at_rest", Fail, Fate::Quarantine),
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
        (ThicknessGrowth, 0.10, 0.0, "thickness_growth", Pass, Fate::Reuse),
        (ThicknessGrowth, 0.1001, 0.0, "thickness_growth", Fail, Fate::Quarantine),
        // Its own risk of one in a hundred: 2.326 standard uncertainties.
        (ThicknessGrowth, 0.0534, 0.02, "thickness_growth", Pass, Fate::Reuse),
        (ThicknessGrowth, 0.0536, 0.02, "thickness_growth", Inconclusive, Fate::Undecided),
        (ThicknessGrowth, 0.1464, 0.02, "thickness_growth", Inconclusive, Fate::Undecided),
        (ThicknessGrowth, 0.1466, 0.02, "thickness_growth", Fail, Fate::Quarantine),
        (SelfDischargePerMonth, 0.20, 0.0, "self_discharge", Pass, Fate::Reuse),
        (SelfDischargePerMonth, 0.2001, 0.0, "self_discharge", Fail, Fate::Quarantine),
        (SelfDischargePerMonth, 0.17, 0.02, "self_discharge", Inconclusive, Fate::Undecided),
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

/// Warm is hands off and look again; only what no hand and no charger explains may react at any time.
#[test]
fn a_warm_cell_is_damaged_and_a_hot_one_critical() {
    for (rise, state) in [
        (1.0, CellState::Intact),
        (3.0, CellState::DamagedOrDefective),
        (19.0, CellState::DamagedOrDefective),
        (21.0, CellState::Critical),
        (120.0, CellState::Critical),
    ] {
        let verdict = with(&[(Quantity::RestTemperatureRise, rise, 0.1)]);
        assert_eq!(verdict.condition, state, "{rise} K");
        let next = verdict.next_steps.join(" ");
        let looks_again = next.contains("again in 10 min");
        assert_eq!(looks_again, state == CellState::DamagedOrDefective, "{rise} K: {next}");
    }
}

#[test]
fn every_criterion_of_the_policy_is_tried_at_its_boundary_or_is_a_sign() {
    let tried = [
        "self_warming",
        "hot_at_rest",
        "own_voltage",
        "over_charged",
        "deeply_discharged",
        "deeply_discharged_phosphate",
        "empty_phosphate",
        "over_discharged",
        "reversed_or_empty",
        "falling_at_rest",
        "falling_at_rest_phosphate",
        "self_discharge",
        "temperature_rise",
        "thickness_growth",
        "thickness_growth_cylindrical",
        "resistance",
        "resistance_flat_bare",
        "resistance_flat_other",
        "resistance_cylindrical",
        "capacity",
    ];
    for criterion in &policy().criteria {
        let known = matches!(criterion.subject, Subject::Sign(_)) || tried.contains(&criterion.id.as_str());
        assert!(known, "{} needs a line in the table above", criterion.id);
    }
}

/// An iron phosphate cell that the fixture has discharged to 2.0 V rests below 3 V, and is to be charged again.
#[test]
fn iron_phosphate_is_empty_below_three_volts_and_deeply_discharged_below_its_label() {
    let charge_limit_v = 3.65;
    let chemistry = Chemistry::Lfp;
    let plate = Nameplate {
        chemistry,
        charge_limit_v,
        end_of_discharge_v: 2.0,
        form: Form::Cylindrical,
        ..nameplate()
    };
    for (rest_v, deep, empty) in [
        (3.3, Finding::Pass, Finding::Pass),
        (3.0, Finding::Pass, Finding::Pass),
        (2.999, Finding::Pass, Finding::Fail),
        (2.0, Finding::Pass, Finding::Fail),
        (1.999, Finding::Fail, Finding::Fail),
    ] {
        let (observations, estimates) =
            (Observations::no_signs(), estimates(&[(Quantity::RestVoltage, rest_v, 0.0)]));
        let run = RunOutcome::Complete;
        let verdict = decide(policy(), &evidence_of(&plate, &observations, &estimates, &run));
        assert_eq!(reason(&verdict, "deeply_discharged_phosphate").finding, deep, "{rest_v}");
        assert_eq!(reason(&verdict, "empty_phosphate").finding, empty, "{rest_v}");
        assert!(verdict.reasons.iter().all(|one| one.criterion != "deeply_discharged"));
        let ruled_out = against_charge(verdict.fate, verdict.condition, &verdict.reasons);
        assert_eq!(ruled_out.is_some(), rest_v < 2.0, "{rest_v}: {ruled_out:?}");
    }
}

/// A bare cylindrical cell of 73 mOhm and 3 Ah has three times what such cells have when new, and kept the flat cells' limit.
#[test]
fn a_limit_judges_only_the_class_that_it_is_about() {
    let of = |policy: &Policy, chemistry, form| {
        let plate = Nameplate { chemistry, form, ..nameplate() };
        let (observations, estimates) = (Observations::no_signs(), estimates(&[]));
        let run = RunOutcome::Complete;
        decide(policy, &evidence_of(&plate, &observations, &estimates, &run))
    };
    // A workshop's own policy that knows no limit for such cells.
    let others = "chemistries = [\"nmc\", \"nca\", \"lmo\", \"lfp\"]";
    assert_eq!(DEFAULT_POLICY.matches(others).count(), 1);
    let narrow = DEFAULT_POLICY.replace(others, "chemistries = [\"lmo\"]");
    let narrow = Policy::from_toml(&narrow, "own").unwrap();
    for (chemistry, form) in
        [(Chemistry::Nmc, Form::Pouch), (Chemistry::Nca, Form::Prismatic), (Chemistry::Lfp, Form::Unknown)]
    {
        let verdict = of(&narrow, chemistry, form);
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

/// What is measured of cells of a class against its limit, in Ohm·Ah over the 3 Ah of the label.
#[test]
fn the_limits_of_resistance_hold_at_their_boundaries_for_their_class() {
    use SensedAt::{CellPads, Connector, PackPads, Tabs};
    for (chemistry, form, sensed_at, criterion, limit) in [
        (Chemistry::Nmc, Form::Cylindrical, None, "resistance_cylindrical", 0.35),
        (Chemistry::Lco, Form::Cylindrical, Some(Tabs), "resistance_cylindrical", 0.35),
        (Chemistry::Lco, Form::Pouch, None, "resistance", 0.68),
        (Chemistry::LithiumIon, Form::Unknown, Some(Connector), "resistance", 0.68),
        (Chemistry::Lco, Form::Pouch, Some(Tabs), "resistance_flat_bare", 0.36),
        (Chemistry::Nmc, Form::Prismatic, Some(CellPads), "resistance_flat_bare", 0.36),
        (Chemistry::Nmc, Form::Pouch, Some(PackPads), "resistance_flat_other", 0.68),
        (Chemistry::Lmo, Form::Unknown, None, "resistance_flat_other", 0.68),
    ] {
        let limit = limit / 3.0;
        for (resistance, doubt, finding, fate) in [
            (limit - 1e-6, 0.0, Finding::Pass, Fate::Reuse),
            (limit + 1e-6, 0.0, Finding::Fail, Fate::Recycle),
            (limit, 0.005, Finding::Inconclusive, Fate::Undecided),
        ] {
            let plate = Nameplate { chemistry, form, ..nameplate() };
            let looks = Observations { sensed_at, ..Observations::no_signs() };
            let estimates = estimates(&[(Quantity::Resistance25Celsius, resistance, doubt)]);
            let verdict = judged_of(&plate, &looks, &estimates);
            let found = reason(&verdict, criterion).finding;
            assert_eq!((found, verdict.fate), (finding, fate), "{criterion}: {resistance}");
            let judged = verdict.reasons.iter().filter(|one| one.criterion.starts_with("resistance"));
            assert_eq!(judged.count(), 1, "{criterion}");
        }
    }
}

/// Within half an hour of rest only a fall that is clear beyond the limit says anything, and asks for a longer rest.
#[test]
fn the_drift_of_a_short_rest_keeps_no_cell_that_it_does_not_speak_against() {
    let lfp = Nameplate { chemistry: Chemistry::Lfp, charge_limit_v: 4.2, ..nameplate() };
    let lco = nameplate();
    let (oxide, phosphate) = ("falling_at_rest", "falling_at_rest_phosphate");
    for (plate, criterion, rested_s, drift, doubt, finding, fate) in [
        (&lco, oxide, 60.0, -0.012, 0.0055, Finding::Missing, Fate::Reuse),
        (&lco, oxide, 1799.0, -0.020, 0.0055, Finding::Missing, Fate::Reuse),
        (&lco, oxide, 1800.0, -0.020, 0.0055, Finding::Inconclusive, Fate::Undecided),
        (&lco, oxide, 60.0, -0.002, 0.0055, Finding::Pass, Fate::Reuse),
        (&lco, oxide, 60.0, -0.040, 0.0055, Finding::Inconclusive, Fate::Undecided),
        (&lco, oxide, 1800.0, -0.040, 0.0055, Finding::Fail, Fate::Quarantine),
        (&lfp, phosphate, 2700.0, -0.025, 0.001, Finding::Pass, Fate::Reuse),
        (&lfp, phosphate, 2700.0, -0.040, 0.0, Finding::Pass, Fate::Reuse),
        (&lfp, phosphate, 2700.0, -0.0401, 0.0, Finding::Fail, Fate::Quarantine),
    ] {
        let mut estimates = estimates(&[(Quantity::RestDrift, drift, doubt)]);
        if let Some(found) = estimates.measured.get_mut(&Quantity::RestDrift) {
            found.conditions.duration_s = Some(rested_s);
        }
        let verdict = judged_of(plate, &Observations::no_signs(), &estimates);
        let found = reason(&verdict, criterion);
        assert_eq!((found.finding, verdict.fate), (finding, fate), "{rested_s} s, {drift}: {}", found.text);
        assert_eq!(found.value.is_some(), finding != Finding::Missing, "{}", found.text);
    }
}

/// Nobody has to measure the diameter of a steel can, and a flat cell's thickness has to be known in one way or the other.
#[test]
fn a_flat_cell_needs_its_thickness_or_a_plate() {
    let with = Nameplate { nominal_thickness_mm: Some(5.0), ..nameplate() };
    let without = Nameplate { nominal_thickness_mm: None, ..nameplate() };
    let round = Nameplate { form: Form::Cylindrical, ..without.clone() };
    let round_with = Nameplate { form: Form::Cylindrical, ..with.clone() };
    let (yes, no) = (Some(true), Some(false));
    for (plate, growth, lies_flat, finding, fate) in [
        (&with, Some(0.02), None, Finding::Pass, Fate::Reuse),
        (&with, Some(0.02), no, Finding::Fail, Fate::Quarantine),
        (&with, None, None, Finding::Missing, Fate::Undecided),
        // Where it could have been measured, a plate is not enough: an even growth lies flat.
        (&with, None, yes, Finding::Missing, Fate::Undecided),
        (&with, Some(0.12), yes, Finding::Fail, Fate::Quarantine),
        (&without, None, None, Finding::Missing, Fate::Undecided),
        (&without, None, yes, Finding::Pass, Fate::Reuse),
        (&without, None, no, Finding::Fail, Fate::Quarantine),
        (&round, None, None, Finding::Missing, Fate::Reuse),
        // What is measured of it counts, with the guard of one in a hundred on both sides of 10 %.
        (&round_with, Some(0.0976), None, Finding::Pass, Fate::Reuse),
        (&round_with, Some(0.0978), None, Finding::Inconclusive, Fate::Undecided),
        (&round_with, Some(0.1022), None, Finding::Inconclusive, Fate::Undecided),
        (&round_with, Some(0.1024), None, Finding::Fail, Fate::Quarantine),
        (&round, None, no, Finding::Missing, Fate::Reuse),
    ] {
        let mut estimates = estimates(&[(Quantity::Resistance25Celsius, 0.1, 0.0)]);
        lose(&mut estimates, Quantity::ThicknessGrowth, "not measured");
        if let Some(growth) = growth {
            let found = Estimate::new(Quantity::ThicknessGrowth, growth, 0.001, "test");
            estimates.put(Quantity::ThicknessGrowth, Ok(found));
        }
        let looks = Observations { lies_flat, ..Observations::no_signs() };
        let verdict = judged_of(plate, &looks, &estimates);
        let named = |one: &&Reason| one.criterion.starts_with("thickness_growth");
        let found = verdict.reasons.iter().find(named).unwrap();
        let told = format!("{growth:?} {lies_flat:?}: {}", found.text);
        assert_eq!((found.finding, verdict.fate), (finding, fate), "{told}");
        if finding == Finding::Fail {
            assert_eq!(verdict.condition, CellState::DamagedOrDefective, "{told}");
        }
    }
}

fn judged_of(nameplate: &Nameplate, observations: &Observations, estimates: &Estimates) -> Verdict {
    let run = RunOutcome::Complete;
    decide(policy(), &evidence_of(nameplate, observations, estimates, &run))
}

/// Soon after a charge or use a voltage falls by what settling explains; what falls faster, or lay longer, or of which nobody knows
/// how long it lay, is asked about.
#[test]
fn a_fall_that_settling_explains_speaks_against_no_cell_that_was_just_charged() {
    let lfp = Nameplate { chemistry: Chemistry::Lfp, charge_limit_v: 4.2, ..nameplate() };
    let lco = nameplate();
    let (oxide, phosphate) = ("falling_at_rest", "falling_at_rest_phosphate");
    for (plate, criterion, lay_h, drift, finding) in [
        // 15 mV per factor e: 150 mV/h a tenth of an hour after the charge.
        (&lco, oxide, Some(0.1), -0.149, Finding::Missing),
        (&lco, oxide, Some(0.1), -0.151, Finding::Inconclusive),
        (&lco, oxide, Some(0.4), -0.050, Finding::Inconclusive),
        (&lco, oxide, Some(24.0), -0.030, Finding::Inconclusive),
        (&lco, oxide, None, -0.030, Finding::Inconclusive),
        // The minute that the fixture has seen is the least that it lay: 900 mV/h.
        (&lco, oxide, Some(0.0), -0.890, Finding::Missing),
        (&lco, oxide, Some(0.0), -0.910, Finding::Inconclusive),
        (&lfp, phosphate, Some(0.1), -0.290, Finding::Missing),
        (&lfp, phosphate, Some(0.1), -0.310, Finding::Inconclusive),
    ] {
        let mut estimates = estimates(&[(Quantity::RestDrift, drift, 0.001)]);
        if let Some(found) = estimates.measured.get_mut(&Quantity::RestDrift) {
            found.conditions.duration_s = Some(60.0);
        }
        let looks = Observations { rested_h: lay_h, ..Observations::no_signs() };
        let verdict = judged_of(plate, &looks, &estimates);
        let found = reason(&verdict, criterion);
        assert_eq!(found.finding, finding, "{lay_h:?} h, {drift}: {}", found.text);
    }
}
