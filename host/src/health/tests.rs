//! What is said of a cell among its siblings, and that none of it reaches the decision.

use super::*;
use crate::assessment::tests::example;
use crate::estimate::Estimate;
use crate::verdict::Fate;
use proptest::prelude::*;

fn sibling(number: u32, capacity: f64, new: bool) -> Sibling {
    Sibling {
        cell: format!("PE-{number}"),
        entry: number,
        new,
        capacity_fraction: Some(Known { value: capacity, standard_uncertainty: 0.006 }),
        resistance_25c: Some(Known {
            value: 0.1 + 0.001 * f64::from(number % 3),
            standard_uncertainty: 0.001,
        }),
    }
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
    let own = health(Some("PT-10"), &measured(Some((0.93, 0.007))), &others).unwrap();
    let found = own.siblings.unwrap();
    let (joined, weight) = (found.joined.unwrap(), found.weight_of_cell.unwrap());
    assert!(weight > 0.9, "a counted capacity outweighs six siblings: {weight}");
    // The gain that all counts share does not average out.
    assert!(joined.standard_uncertainty >= budgeted_gain() * joined.value);
    assert!(joined.standard_uncertainty <= 0.007);
    insta::assert_snapshot!("counted_among_siblings", own.statement.join("\n"));
}

#[test]
fn an_expectation_is_called_one() {
    let others = siblings(&[0.90, 0.93, 0.95, 0.91, 0.94, 0.89]);
    let own = health(Some("PT-10"), &measured(None), &others).unwrap();
    assert_eq!(own.siblings.unwrap().joined, None);
    insta::assert_snapshot!("expected_from_siblings", own.statement.join("\n"));
}

#[test]
fn against_a_new_cell_the_shared_gain_cancels() {
    let new = vec![sibling(1, 0.97, true), sibling(2, 0.99, true)];
    let own = health(Some("PT-10"), &measured(Some((0.882, 0.006))), &new).unwrap();
    let of_new = own.of_new.unwrap();
    approx::assert_relative_eq!(of_new.share.value, 0.9, epsilon = 1e-12);
    assert_eq!((of_new.cells, own.siblings), (2, None));
    assert!(own.statement[2].contains("fewer than 5"), "{:?}", own.statement);
}

#[test]
fn a_cell_unlike_its_siblings_is_named() {
    let others = siblings(&[0.90, 0.91, 0.92, 0.91, 0.90, 0.91, 0.92, 0.90]);
    let own = health(Some("PT-10"), &measured(Some((0.6, 0.006))), &others).unwrap();
    assert!(own.statement.iter().any(|line| line.contains("below its siblings")), "{:?}", own.statement);
}

#[test]
fn without_model_and_capacity_nothing_is_said() {
    assert_eq!(health(None, &measured(None), &siblings(&[0.9; 9])), None);
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
    use crate::uncertainty::{Input, Measurand};
    let others = siblings(&[0.90, 0.93, 0.95, 0.91, 0.94, 0.89]);
    let counted_with = |gain: f64| {
        let mut estimates = measured(Some((0.93, 0.007)));
        let inputs =
            [Input::new("charge as counted", "Ah", 2.79, 0.0), Input::new("current gain", "1", 0.0, gain)];
        let budget = Measurand::new(inputs, |[counted, gain]| counted * (1.0 + gain)).budget();
        estimates.put(Quantity::Capacity, Ok(Estimate::of(Quantity::Capacity, budget, "counted")));
        let siblings = health(Some("PT-10"), &estimates, &others).unwrap().siblings.unwrap();
        siblings.joined.unwrap().standard_uncertainty
    };
    assert!(counted_with(0.001) < counted_with(0.005));
    assert!(counted_with(0.02) >= 0.02 * 0.9);
}
