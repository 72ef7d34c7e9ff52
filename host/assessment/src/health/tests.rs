//! What is said of a cell among its siblings, and that none of it reaches the decision.

use super::*;
use crate::test_support::example;
use celltriage_measure::estimate::{Estimate, FrontEnd};
use celltriage_verdict::Fate;
use proptest::prelude::*;

const FIXTURE: &str = "PE-F1, calibration 3";

/// As an older record tells it: no budget, so that of the fixture counts.
fn reading(quantity: Quantity, value: f64, doubt: f64, instrument: &str) -> Option<Reading> {
    let mut estimates = Estimates::default();
    estimates.put(quantity, Ok(Estimate::new(quantity, value, doubt, "measured")));
    Reading::of(&estimates, quantity, instrument)
}

fn sibling_at(number: u32, capacity: f64, new: bool, instrument: &str) -> Sibling {
    let ohm = 0.1 + 0.001 * f64::from(number % 3);
    Sibling {
        cell: format!("PE-{number}"),
        entry: number,
        new,
        capacity_fraction: reading(Quantity::CapacityFraction, capacity, 0.006, instrument),
        resistance_25c: reading(Quantity::Resistance25Celsius, ohm, 0.001, instrument),
        rated_ah: None,
        read_again: false,
        sensed_at: None,
    }
}

fn sibling(number: u32, capacity: f64, new: bool) -> Sibling {
    sibling_at(number, capacity, new, FIXTURE)
}

/// The statement of a cell that the same fixture measured.
fn health_of(estimates: &Estimates, siblings: &[Sibling]) -> Health {
    health(Some("PT-10"), estimates, Some(FIXTURE), siblings).unwrap()
}

fn siblings(capacities: &[f64]) -> Vec<Sibling> {
    capacities.iter().zip(1..).map(|(capacity, number)| sibling(number, *capacity, false)).collect()
}

fn measured(capacity: Option<(f64, f64)>) -> Estimates {
    let mut estimates = Estimates::default();
    if let Some((value, doubt)) = capacity {
        estimates.put(
            Quantity::CapacityFraction,
            Ok(Estimate::new(Quantity::CapacityFraction, value, doubt, "counted")),
        );
    }
    estimates
}

#[test]
fn what_came_from_the_cell_and_what_from_its_siblings_is_told_apart() {
    let others = siblings(&[0.90, 0.93, 0.95, 0.91, 0.94, 0.89]);
    let own = health_of(&measured(Some((0.93, 0.007))), &others);
    let found = own.siblings.unwrap();
    let (joined, weight) = (found.joined.unwrap(), found.weight_of_cell.unwrap());
    assert!(weight > 0.9, "a counted capacity outweighs six siblings: {weight}");
    // The gain that all counts share does not average out.
    assert!(joined.standard_uncertainty >= FrontEnd::fixture().current_gain * joined.value);
    assert!(joined.standard_uncertainty <= 0.007);
    insta::assert_snapshot!("counted_among_siblings", own.statement.join("\n"));
}

#[test]
fn an_expectation_is_called_one() {
    let others = siblings(&[0.90, 0.93, 0.95, 0.91, 0.94, 0.89]);
    let own = health_of(&measured(None), &others);
    assert_eq!(own.siblings.unwrap().joined, None);
    insta::assert_snapshot!("expected_from_siblings", own.statement.join("\n"));
}

#[test]
fn against_a_new_cell_the_shared_gain_cancels() {
    let new = vec![sibling(1, 0.97, true), sibling(2, 0.99, true)];
    let own = health_of(&measured(Some((0.882, 0.006))), &new);
    let of_new = own.of_new.unwrap();
    approx::assert_relative_eq!(of_new.share.value, 0.9, epsilon = 1e-12);
    assert_eq!((of_new.cells, own.siblings), (2, None));
    assert!(own.statement[2].contains("fewer than 5"), "{:?}", own.statement);
}

#[test]
fn a_cell_unlike_its_siblings_is_named() {
    let others = siblings(&[0.90, 0.91, 0.92, 0.91, 0.90, 0.91, 0.92, 0.90]);
    let own = health_of(&measured(Some((0.6, 0.006))), &others);
    assert!(own.statement.iter().any(|line| line.contains("below its siblings")), "{:?}", own.statement);
    // What contradicts is not joined: a mean of both would lie where neither of them does.
    let found = own.siblings.unwrap();
    assert_eq!((found.joined, found.weight_of_cell), (None, None));
    assert!(own.statement.iter().any(|line| line.contains("not joined")), "{:?}", own.statement);
}

#[test]
fn what_another_fixture_or_calibration_measured_shares_no_gain() {
    let capacities = [0.90, 0.93, 0.95, 0.91, 0.94, 0.89];
    let at = |instrument: &str| -> Vec<Sibling> {
        (1..).zip(capacities).map(|(number, one)| sibling_at(number, one, false, instrument)).collect()
    };
    let compared = |others: &[Sibling], instrument: Option<&str>| {
        let own = measured(Some((0.80, 0.006)));
        health(Some("PT-10"), &own, instrument, others).unwrap().siblings.unwrap().distance.unwrap()
    };
    let same = compared(&at(FIXTURE), Some(FIXTURE));
    for (others, own) in [
        (at("PE-F1, calibration 4"), Some(FIXTURE)),
        (at("PE-F2, calibration 3"), Some(FIXTURE)),
        (at("an unknown instrument"), None),
    ] {
        let apart = compared(&others, own);
        assert!(apart.abs() < same.abs(), "{apart} {same}");
    }
}

#[test]
fn a_resistance_among_siblings_keeps_what_all_of_them_share() {
    let ohms = [0.0734, 0.0736, 0.0732, 0.0735, 0.0733];
    let readings: Vec<Reading> =
        ohms.iter().filter_map(|one| reading(Quantity::Resistance25Celsius, *one, 1.0e-3, FIXTURE)).collect();
    let mean = Expectation::of(&readings).unwrap().mean().known;
    let fixture = FrontEnd::fixture();
    let shared = fixture.contact.0.hypot(mean.value * fixture.voltage_gain.hypot(fixture.current_gain));
    assert!(mean.standard_uncertainty >= shared && mean.standard_uncertainty < 1.0e-3, "{mean:?}");
    assert!(mean.standard_uncertainty > 1.0e-3 / 5f64.sqrt());
}

#[test]
fn a_resistance_behind_the_protection_is_compared_with_its_like_alone() {
    let with_place = |place: Option<SensedAt>, from: u32, ohm: f64| -> Vec<Sibling> {
        let one = |number| Sibling {
            sensed_at: place,
            resistance_25c: reading(Quantity::Resistance25Celsius, ohm, 0.001, FIXTURE),
            ..sibling(number, 0.9, false)
        };
        (from..from + 6).map(one).collect()
    };
    let others = [with_place(None, 1, 0.05), with_place(Some(SensedAt::Connector), 11, 0.12)].concat();
    let ratio = |place: Option<SensedAt>, ohm: f64| {
        let mut own = measured(Some((0.9, 0.006)));
        let mut estimate = Estimate::new(Quantity::Resistance25Celsius, ohm, 0.001, "measured");
        estimate.conditions.sensed_at = place;
        own.put(Quantity::Resistance25Celsius, Ok(estimate));
        let found = health_of(&own, &others).resistance.unwrap();
        (found.cells, found.ratio)
    };
    for (place, ohm) in [
        (None, 0.05),
        (Some(SensedAt::Tabs), 0.05),
        (Some(SensedAt::PackPads), 0.12),
        (Some(SensedAt::Connector), 0.12),
    ] {
        let (cells, ratio) = ratio(place, ohm);
        assert!(cells == 6 && (ratio - 1.0).abs() < 1e-9, "{place:?}: {cells} {ratio}");
    }
}

/// One new cell: its own count, and the spread between new cells, known as well as from five. Two that agree tell hardly
/// more than that; many that agree do.
#[test]
fn few_new_cells_are_not_believed_to_be_alike() {
    let doubt = |counts: &[f64]| {
        let new: Vec<Sibling> = (1..).zip(counts).map(|(number, one)| sibling(number, *one, true)).collect();
        let share = health_of(&measured(Some((0.98, 0.006))), &new).of_new.unwrap().share;
        share.standard_uncertainty / share.value
    };
    let usual = 0.02 * (4.0f64 / 2.0).sqrt();
    // The part of a count that is not the gain, of this cell and of the new one.
    let counting = (0.006f64.powi(2) - (FrontEnd::fixture().current_gain * 0.98).powi(2)).sqrt() / 0.98;
    approx::assert_relative_eq!(doubt(&[0.98]), usual.hypot(counting * 2f64.sqrt()), max_relative = 1e-6);
    assert!(doubt(&[0.98, 0.98]) > 0.02 / 2f64.sqrt());
    assert!(doubt(&[0.95, 1.01]) > doubt(&[0.98, 0.98]));
    assert!(doubt(&[0.98; 12]) < doubt(&[0.98; 3]));
}

#[test]
fn without_model_and_capacity_nothing_is_said() {
    assert_eq!(health(None, &measured(None), Some(FIXTURE), &siblings(&[0.9; 9])), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// However good the siblings: without the cell's own count it is not reused, and with it the fate is the same as
    /// without any sibling.
    #[test]
    fn siblings_never_change_a_fate(
        capacities in proptest::collection::vec(0.5..1.1f64, 0..20), own in proptest::option::of(0.6..1.05f64),
    ) {
        let decided = |others: &[Sibling]| example(|subject| {
            subject.siblings = others.to_vec();
            subject.nameplate.model = Some("PT-10".to_owned());
            match own {
                Some(value) => {
                    let estimate = Estimate::new(Quantity::CapacityFraction, value, 0.006, "counted");
                    subject.estimates.put(Quantity::CapacityFraction, Ok(estimate));
                }
                None => {
                    for quantity in [Quantity::Capacity, Quantity::CapacityFraction] {
                        subject.estimates.measured.remove(&quantity);
                        subject.estimates.put(quantity, Err("not counted".to_owned()));
                    }
                }
            }
        });
        let (with, without) = (decided(&siblings(&capacities)), decided(&[]));
        prop_assert_eq!(&with.verdict, &without.verdict);
        if own.is_none() { prop_assert!(with.verdict.fate != Fate::Reuse); }
    }
}

#[test]
fn what_counts_share_is_the_gain_of_the_calibration_that_counted() {
    use celltriage_measure::uncertainty::{Input, Measurand};
    let counted = |gain: f64, value: f64| {
        let inputs = [
            Input::new("charge as counted", "Ah", 3.0 * value, 0.003),
            Input::new("current gain", "1", 0.0, gain),
        ];
        let budget = Measurand::new(inputs, |[counted, gain]| counted * (1.0 + gain) / 3.0).budget();
        let mut estimates = Estimates::default();
        let estimate = Estimate::of(Quantity::CapacityFraction, budget, "counted");
        estimates.put(Quantity::CapacityFraction, Ok(estimate));
        estimates
    };
    let joined = |gain: f64| {
        let others: Vec<Sibling> = (1..)
            .zip([0.90, 0.93, 0.95, 0.91, 0.94, 0.89])
            .map(|(number, value)| {
                let estimates = counted(gain, value);
                let capacity_fraction = Reading::of(&estimates, Quantity::CapacityFraction, FIXTURE);
                Sibling { capacity_fraction, ..sibling(number, value, false) }
            })
            .collect();
        health_of(&counted(gain, 0.93), &others).siblings.unwrap().joined.unwrap().standard_uncertainty
    };
    assert!(joined(0.001) < joined(0.005));
    assert!(joined(0.02) >= 0.02 * 0.9);
}
