//! Which part of a number's doubt other numbers have as well: errors that averaging over cells does not narrow and that a
//! ratio of two cells does not have.
//!
//! An instrument repeats the errors of its gains and contacts with every cell, until it is calibrated again; all cells
//! of a model share how their resistance changes with temperature, as far as the correction takes it for another.

use super::front_end::{CONTACT, CURRENT_GAIN, FrontEnd, VOLTAGE_GAIN};
use super::resistance_25c::WITH_TEMPERATURE;
use super::{Estimates, Quantity, unfolded};
use std::collections::BTreeMap;

/// Signed standard uncertainties, in the unit of the number, by what causes them. Numbers that name the same cause err with
/// it at the same time.
pub type SharedErrors = BTreeMap<String, f64>;

impl Estimates {
    /// Returns what an estimate shares with the same estimate of other cells; `instrument` names what measured, with its
    /// calibration. `None` if there is no such estimate.
    pub fn shared_errors(&self, quantity: Quantity, instrument: &str) -> SharedErrors {
        let Some(estimate) = self.get(quantity) else { return SharedErrors::new() };
        let of_instrument = |line: &str| format!("{line}, {instrument}");
        let mut shared = SharedErrors::new();
        for line in unfolded(&estimate.budget, &self.measured) {
            let cause = match line.input.as_ref() {
                VOLTAGE_GAIN | CURRENT_GAIN | CONTACT => of_instrument(&line.input),
                WITH_TEMPERATURE => WITH_TEMPERATURE.to_owned(),
                _ => continue,
            };
            *shared.entry(cause).or_default() += line.sensitivity * line.standard_uncertainty;
        }
        if estimate.budget.is_empty() {
            // Records of older versions tell no budget: what a fixture was budgeted with.
            let fixture = FrontEnd::fixture();
            let value = estimate.value;
            let of_resistance = quantity.unit() == "ohm";
            let lines = [
                (VOLTAGE_GAIN, if of_resistance { fixture.voltage_gain * value } else { 0.0 }),
                (CURRENT_GAIN, if of_resistance { -1.0 } else { 1.0 } * fixture.current_gain * value),
                (CONTACT, if of_resistance { fixture.contact.0 } else { 0.0 }),
            ];
            shared.extend(lines.map(|(line, amount)| (of_instrument(line), amount)));
        }
        shared.retain(|_, amount| *amount != 0.0);
        shared
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Estimate;
    use crate::uncertainty::{Input, Measurand};

    #[test]
    fn the_gain_of_a_count_is_found_behind_the_share_of_the_label() {
        let inputs =
            [Input::new("charge as counted", "Ah", 2.7, 0.01), Input::new(CURRENT_GAIN, "1", 0.0, 0.005)];
        let budget = Measurand::new(inputs, |[counted, gain]| counted * (1.0 + gain)).budget();
        let capacity = Estimate::of(Quantity::Capacity, budget, "counted");
        let whole = capacity.as_input("capacity", "Ah");
        let budget = Measurand::new([whole], |[capacity]| capacity / 3.0).budget();
        let mut estimates = Estimates::default();
        estimates.put(Quantity::Capacity, Ok(capacity));
        let share = Estimate::of(Quantity::CapacityFraction, budget, "over the rated one");
        estimates.put(Quantity::CapacityFraction, Ok(share));
        let shared = estimates.shared_errors(Quantity::CapacityFraction, "fixture 7");
        let (cause, amount) = shared.first_key_value().unwrap();
        assert_eq!((shared.len(), cause.as_str()), (1, "current gain, fixture 7"));
        approx::assert_relative_eq!(*amount, 0.9 * 0.005, max_relative = 1e-9);
    }

    #[test]
    fn without_a_budget_that_of_the_fixture_counts() {
        let mut estimates = Estimates::default();
        let resistance = Estimate::new(Quantity::Resistance25Celsius, 0.1, 0.002, "older record");
        estimates.put(Quantity::Resistance25Celsius, Ok(resistance));
        let shared = estimates.shared_errors(Quantity::Resistance25Celsius, "fixture 7");
        assert_eq!(shared.len(), 3);
        assert!(estimates.shared_errors(Quantity::CapacityFraction, "fixture 7").is_empty());
    }
}
