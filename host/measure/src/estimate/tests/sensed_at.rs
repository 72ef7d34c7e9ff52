//! Where the voltage was picked up is said beside each resistance, changes no value, and what nobody said changes nothing.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Run};
use crate::observation::SensedAt;

fn sensed(place: Option<SensedAt>) -> Estimates {
    let trace = Run::new(&Cell::default(), &two_level(IT)).record(&Instrument::default());
    let observations = Observations { sensed_at: place, ..Observations::default() };
    all(&trace, &nameplate(IT), &observations, &FrontEnd::fixture())
}

fn warned(estimates: &Estimates, quantity: Quantity, words: &str) -> bool {
    estimates.measured[&quantity].warnings.iter().any(|warning| warning.contains(words))
}

#[test]
fn a_place_that_nobody_said_leaves_everything_as_it_was() {
    let nothing = sensed(None);
    let text = serde_json::to_string(&nothing).unwrap();
    assert!(!text.contains("sensed"), "{text}");
    let at_tabs = sensed(Some(SensedAt::Tabs));
    for (quantity, estimate) in &nothing.measured {
        let other = &at_tabs.measured[quantity];
        assert_eq!(
            (estimate.value, estimate.standard_uncertainty),
            (other.value, other.standard_uncertainty)
        );
    }
}

#[test]
fn a_resistance_behind_the_protection_says_so_and_is_the_same_number_with_more_doubt() {
    let (nothing, connector) = (sensed(None), sensed(Some(SensedAt::Connector)));
    for quantity in [Quantity::ResistanceTwoLevel, Quantity::Resistance1Second] {
        let (before, behind) = (&nothing.measured[&quantity], &connector.measured[&quantity]);
        assert_eq!(before.value, behind.value);
        assert!(behind.standard_uncertainty > before.standard_uncertainty, "{quantity:?}");
        assert_eq!(behind.conditions.sensed_at, Some(SensedAt::Connector));
        assert!(warned(&connector, quantity, "protection, lead and connector are in the path"));
    }
    assert_eq!(connector.measured[&Quantity::RestVoltage], nothing.measured[&Quantity::RestVoltage]);
    let pads = sensed(Some(SensedAt::PackPads));
    assert!(warned(&pads, Quantity::ResistanceTwoLevel, "the protection is in the path"));
}

#[test]
fn the_class_is_of_packs_and_a_bare_cell_says_that_it_is_none() {
    let words = "packs with protection";
    for (place, is_told) in [(SensedAt::Tabs, true), (SensedAt::CellPads, true), (SensedAt::Connector, false)]
    {
        assert_eq!(warned(&sensed(Some(place)), Quantity::ResistanceOverClass, words), is_told, "{place:?}");
    }
}

#[test]
fn leads_may_be_in_a_resistance_of_two_wires_and_where_nobody_knows() {
    let trace = Run::new(&Cell::default(), &two_level(IT)).record(&Instrument::default());
    for (wires, front_end, told) in [
        (Some(2), FrontEnd::fixture(), true),
        (Some(4), FrontEnd::fixture(), false),
        (None, FrontEnd::fixture(), false),
        (Some(2), FrontEnd::unknown(), true),
        (Some(4), FrontEnd::unknown(), false),
        (None, FrontEnd::unknown(), true),
    ] {
        let observations = Observations { wires, ..Observations::default() };
        let found = all(&trace, &nameplate(IT), &observations, &front_end);
        for quantity in [Quantity::ResistanceTwoLevel, Quantity::Resistance25Celsius] {
            let conditions = &found.measured[&quantity].conditions;
            assert_eq!(conditions.with_leads, told.then_some(true), "{wires:?} {}", front_end.name);
            assert_eq!(warned(&found, quantity, "this number or less"), told);
        }
        assert_eq!(found.measured[&Quantity::RestVoltage].conditions.with_leads, None);
    }
}
