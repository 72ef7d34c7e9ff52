//! Where a number's doubt comes from in the end: lines of a budget that are themselves estimates are taken apart.
//!
//! An estimate made of another has a line for it, whose value and standard uncertainty are the other's, to the last digit.
//! Such a line is replaced by the other's own lines, and theirs in turn.

use super::{Estimate, Quantity};
use crate::uncertainty::Contribution;
use std::collections::BTreeMap;

/// Estimates that are made of estimates that are made of estimates: deeper than any there is.
const DEEPEST: usize = 4;

/// Returns the lines of a budget with those taken apart that are among the estimates; all shares still add up to 1.
pub fn unfolded(budget: &[Contribution], among: &BTreeMap<Quantity, Estimate>) -> Vec<Contribution> {
    unfolded_to(budget, among, DEEPEST)
}

fn unfolded_to(
    budget: &[Contribution],
    among: &BTreeMap<Quantity, Estimate>,
    depth: usize,
) -> Vec<Contribution> {
    budget
        .iter()
        .flat_map(|line| match inner(line, among).filter(|_| depth > 0) {
            Some(inner) => unfolded_to(&inner.budget, among, depth - 1)
                .into_iter()
                .map(|deeper| Contribution {
                    sensitivity: line.sensitivity * deeper.sensitivity,
                    share: line.share * deeper.share,
                    ..deeper
                })
                .collect(),
            None => vec![line.clone()],
        })
        .collect()
}

/// Finds the estimate that a line stands for; only one that is told more finely than by the line itself.
fn inner<'a>(line: &Contribution, among: &'a BTreeMap<Quantity, Estimate>) -> Option<&'a Estimate> {
    let is_it = |one: &&Estimate| {
        one.value == line.value
            && one.standard_uncertainty == line.standard_uncertainty
            && one.unit == line.unit
            && !one.budget.is_empty()
    };
    among.values().find(is_it).filter(|_| line.standard_uncertainty > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::{Input, Measurand};

    #[test]
    fn a_line_that_is_an_estimate_is_taken_apart_and_the_shares_stay_whole() {
        let charge = [Input::new("counted", "Ah", 2.8, 0.01), Input::new("gain", "1", 0.0, 0.005)];
        let charge = Measurand::new(charge, |[counted, gain]| counted * (1.0 + gain)).budget();
        let capacity = Estimate::of(Quantity::Capacity, charge, "counted");
        let share = [capacity.as_input("capacity", "Ah"), Input::new("label", "Ah", 3.0, 0.03)];
        let share = Measurand::new(share, |[capacity, label]| capacity / label).budget();
        let share = Estimate::of(Quantity::CapacityFraction, share, "over the label");
        let among = [(Quantity::Capacity, capacity)].into();
        let lines = unfolded(&share.budget, &among);
        let names: Vec<&str> = lines.iter().map(|line| line.input.as_ref()).collect();
        assert_eq!(names, ["counted", "gain", "label"]);
        approx::assert_relative_eq!(lines.iter().map(|line| line.share).sum::<f64>(), 1.0, epsilon = 1e-12);
        let whole = lines.iter().map(|line| line.amount().powi(2)).sum::<f64>().sqrt();
        approx::assert_relative_eq!(whole, share.standard_uncertainty, max_relative = 1e-9);
        // Without the inner estimate the line stays.
        assert_eq!(unfolded(&share.budget, &BTreeMap::new()), share.budget);
    }
}
