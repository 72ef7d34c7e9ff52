//! Plans of cells in the fixture's reach, and the words for those beyond it.

use super::*;
use crate::nameplate::{Chemistry, Form};

fn cell(rated_capacity_ah: f64) -> Nameplate {
    Nameplate {
        model: None,
        rated_capacity_ah,
        charge_limit_v: 4.35,
        end_of_discharge_v: 3.0,
        end_of_discharge_assumed: false,
        nominal_v: None,
        nominal_thickness_mm: None,
        thickness_from: Default::default(),
        chemistry: Chemistry::LithiumIon,
        form: Form::Unknown,
        mass_g: None,
        warnings: Vec::new(),
    }
}

#[test]
fn currents_are_those_of_the_standard_where_the_fixture_can() {
    let planned = plan(&cell(2.0), Extent::Full, 1).unwrap();
    let currents: Vec<i32> = planned.plan.steps.iter().map(|s| s.action.current().get()).collect();
    assert_eq!(currents, [0, 400_000, 2_000_000, 0, 1_000_000, 0, 400_000, 0, 400_000, 0]);
    assert!(planned.deviations.is_empty());
    let screen = 60 + 10 + 1 + 30 + 10 + 30 + 1 + 15;
    assert_eq!(planned.expected.get() / 1_000_000, screen + 5 * 3_600 + 30);
}

#[test]
fn a_rest_is_measured_without_permit_to_load() {
    let planned = plan(&cell(2.0), Extent::Rest, 1).unwrap();
    assert_eq!(planned.plan.permit, Permit::WatchOnly);
    assert!(planned.plan.steps.iter().all(|step| step.action.current().get() == 0));
}

#[test]
fn a_current_the_fixture_cannot_carry_is_cut_and_told() {
    let planned = plan(&cell(7.0), Extent::Screen, 1).unwrap();
    assert_eq!(planned.plan.steps[2].action.current(), limits::LARGEST_PULSE);
    assert_eq!(planned.deviations.len(), 2, "{:?}", planned.deviations);
    assert!(planned.deviations[0].contains("7.00 A"), "{:?}", planned.deviations);
}

#[test]
fn through_an_adapter_no_pulse_is_larger_than_it_bears_and_that_is_told() {
    let adapter = Adapter { id: 7, ..Adapter::NONE };
    for (rated_ah, deviations) in [(2.0, 0), (3.0, 0), (4.0, 2)] {
        let planned = plan_through(Some(adapter), &cell(rated_ah), Extent::Screen, 1).unwrap();
        let largest = planned.plan.steps.iter().map(|step| step.action.current()).max().unwrap();
        assert!(largest <= limits::LARGEST_ADAPTER_PULSE, "{rated_ah}: {largest}");
        assert_eq!(planned.deviations.len(), deviations, "{:?}", planned.deviations);
        assert_eq!(planned.adapter, Some(adapter));
    }
    let planned = plan_through(Some(adapter), &cell(4.0), Extent::Screen, 1).unwrap();
    assert!(planned.deviations[0].contains("the adapter carries 3.00 A"), "{:?}", planned.deviations);
}

#[test]
fn cells_out_of_the_fixtures_reach_are_refused_before_anything_is_sent() {
    let refused = |cell: &Nameplate| plan(cell, Extent::Full, 1).unwrap_err();
    let small = refused(&cell(0.05));
    assert!(matches!(small, PlanError::TooSmall { .. }) && small.to_string().contains("too small"));
    assert!(small.to_string().contains("from 0.075 Ah on"), "{small}");
}

fn ending_at(chemistry: Chemistry, end_of_discharge_v: f64) -> Nameplate {
    let charge_limit_v = if chemistry == Chemistry::Lfp { 3.65 } else { 4.2 };
    Nameplate { chemistry, end_of_discharge_v, charge_limit_v, ..cell(2.0) }
}

/// Chemistry, end of discharge, lowest floor of a full plan in mV, or the words of the refusal.
#[test]
fn a_full_discharge_ends_where_the_label_says_or_is_refused_with_what_to_do() {
    use Chemistry::{Lco, Lfp, LithiumIon, Lmo, Nca, Nmc};
    for (chemistry, end_v, expected) in [
        (LithiumIon, 3.0, Ok(2_600)),
        (LithiumIon, 2.5, Err("chemistry is not told to; give the chemistry")),
        (Lfp, 2.0, Ok(2_000)),
        (Lfp, 2.5, Ok(2_500)),
        (Lfp, 2.8, Ok(2_600)),
        (Lfp, 1.99, Err("2.00 V this fixture discharges iron phosphate to; give a higher")),
        (Lco, 2.75, Ok(2_600)),
        (Nmc, 2.5, Ok(2_500)),
        (Nca, 2.5, Ok(2_500)),
        (Lmo, 2.5, Ok(2_500)),
        (Nmc, 2.0, Err("an end-of-discharge voltage of 2.00 V is below the 2.50 V")),
    ] {
        let nameplate = ending_at(chemistry, end_v);
        match (plan(&nameplate, Extent::Full, 1), expected) {
            (Ok(planned), Ok(lowest_mv)) => {
                let floors: Vec<_> = planned.plan.steps.iter().filter(|s| s.action != Action::Rest).collect();
                let lowest = floors.iter().map(|step| step.bounds.lowest_voltage).min().unwrap();
                assert_eq!(lowest, MicroVolts::from_millivolts(lowest_mv), "{chemistry:?} {end_v}");
                // The pulse of 1 It is above the steady current.
                assert_eq!(floors[1].bounds.lowest_voltage, limits::LOWEST_PLAN_FLOOR);
                let end = MicroVolts::new((end_v * 1e6) as i32);
                assert!(matches!(floors[4].action, Action::Discharge { floor, .. } if floor == end));
                assert_eq!(planned.label.end_of_discharge, Some(end));
            }
            (Err(refused), Err(words)) => assert!(refused.to_string().contains(words), "{refused}"),
            (found, _) => panic!("{chemistry:?} {end_v}: {found:?}"),
        }
    }
}

#[test]
fn what_empties_no_cell_is_not_refused_for_an_end_that_is_not_reached() {
    for extent in [Extent::Rest, Extent::Screen] {
        let planned = plan(&ending_at(Chemistry::LithiumIon, 2.5), extent, 1).unwrap();
        let loads = planned.plan.steps.iter().filter(|step| step.action != Action::Rest);
        assert!(loads.map(|step| step.bounds.lowest_voltage).all(|low| low == limits::LOWEST_PLAN_FLOOR));
        // The fixture would refuse the label whatever the plan.
        assert!(plan(&ending_at(Chemistry::Nmc, 2.0), extent, 1).is_err());
    }
}

#[test]
fn no_floor_is_lowered_on_an_assumption_or_for_a_label_that_contradicts_itself() {
    let assumed = Nameplate { end_of_discharge_assumed: true, ..ending_at(Chemistry::Lfp, 2.5) };
    let refused = plan(&assumed, Extent::Full, 1).unwrap_err().to_string();
    assert!(refused.contains("gives no end-of-discharge voltage"), "{refused}");
    let screened = plan(&assumed, Extent::Screen, 1).unwrap();
    assert_eq!(screened.label.end_of_discharge, None);
    let usual = Nameplate { end_of_discharge_assumed: true, ..cell(2.0) };
    assert!(plan(&usual, Extent::Full, 1).is_ok());
    let other = Nameplate { charge_limit_v: 4.2, ..ending_at(Chemistry::Lfp, 2.0) };
    assert!(plan(&other, Extent::Rest, 1).unwrap_err().to_string().contains("3.70 V of iron phosphate"));
}
