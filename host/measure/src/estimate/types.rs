//! What an estimate is: a value with standard uncertainty, unit, method, conditions and warnings.
//!
//! Estimators return an [`Estimate`] or a sentence that says why there is none; [`Estimates`] keeps both, so that a
//! missing number is never silent.

use super::Circuit;
use super::front_end::CURRENT_GAIN;
use super::quantity::Quantity;
use crate::observation::SensedAt;
use crate::uncertainty::{
    AS_TWO, Budget, Contribution, Input, PRACTICALLY_NORMAL, coverage_factor, effective_degrees_of_freedom,
};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Under what circumstances a number was measured; what is not known is absent.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Conditions {
    /// Current, positive discharging.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub current_a: Option<f64>,
    /// Second current of a two-level method.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub second_current_a: Option<f64>,
    /// How long the current had flowed, or how long the cell had rested.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub duration_s: Option<f64>,
    /// Cell temperature.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub temperature_c: Option<f64>,
    /// Rest voltage before the load.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rest_voltage_v: Option<f64>,
    /// Where the voltage of a resistance was picked up, where somebody said it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub sensed_at: Option<SensedAt>,
    /// Constant current that would warm the cell in the end as much as what flowed until it was warmest.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub warming_current_a: Option<f64>,
    /// Whether leads and clips may be in a resistance, so that the cell has this or less: two wires measured, or nobody knows.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub with_leads: Option<bool>,
    /// State of charge at which it was taken, where a trace has the same at several and tells them.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub charge: Option<f64>,
    /// Whether a cell that rests warmer than the air cools towards it, where its temperatures tell.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cools: Option<bool>,
}

/// A number with everything needed to judge it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Best value, in `unit`.
    pub value: f64,
    /// Standard uncertainty (one standard deviation), in `unit`.
    pub standard_uncertainty: f64,
    /// Symbol of the unit.
    pub unit: String,
    /// How it was found, in a few words with the standard where there is one.
    pub method: String,
    /// Interval that holds the value, where a symmetric uncertainty would mislead.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub interval: Option<[f64; 2]>,
    /// Circumstances.
    pub conditions: Conditions,
    /// What the reader must know before using it.
    pub warnings: Vec<String>,
    /// Effective degrees of freedom of the uncertainty; absent where it is taken as known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub degrees_of_freedom: Option<f64>,
    /// Where the uncertainty comes from, input by input; empty in records of older versions.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub budget: Vec<Contribution>,
}

impl Estimate {
    /// Makes an estimate from its budget, without conditions or warnings.
    pub fn of(quantity: Quantity, budget: Budget, method: &str) -> Self {
        // A line that is zero and certain did not apply; degrees of freedom beyond the normal's say nothing more.
        let applies = |line: &Contribution| line.standard_uncertainty != 0.0 || line.value != 0.0;
        Self {
            degrees_of_freedom: Some(budget.degrees_of_freedom)
                .filter(|degrees| *degrees < PRACTICALLY_NORMAL),
            budget: budget.contributions.into_iter().filter(applies).collect(),
            ..Self::new(quantity, budget.value, budget.standard_uncertainty, method)
        }
    }

    /// Makes an estimate of a quantity without budget, conditions or warnings.
    pub fn new(quantity: Quantity, value: f64, standard_uncertainty: f64, method: &str) -> Self {
        Self {
            value,
            standard_uncertainty,
            unit: quantity.unit().to_owned(),
            method: method.to_owned(),
            interval: None,
            conditions: Conditions::default(),
            warnings: Vec::new(),
            degrees_of_freedom: None,
            budget: Vec::new(),
        }
    }

    /// Returns the factor of the standard uncertainty that covers what two of them cover where all is known.
    pub fn coverage(&self) -> f64 {
        self.degrees_of_freedom.map_or(2.0, |degrees| coverage_factor(AS_TWO, degrees))
    }

    /// Returns the estimate as an input of another number, with the degrees of freedom of its uncertainty.
    pub(super) fn as_input(&self, name: &'static str, unit: &'static str) -> Input {
        Input::new(name, unit, self.value, self.standard_uncertainty)
            .with_degrees_of_freedom(self.degrees_of_freedom.unwrap_or(f64::INFINITY))
    }

    /// Returns the same with the uncertainty that is left without these lines of the budget.
    pub(super) fn as_input_without(&self, name: &'static str, unit: &'static str, lines: &[&str]) -> Input {
        let others = || self.budget.iter().filter(|line| !lines.contains(&line.input.as_ref()));
        let left = others().map(|line| line.amount().powi(2)).sum::<f64>().sqrt();
        let parts = others().map(|line| (line.amount(), line.degrees_of_freedom.unwrap_or(f64::INFINITY)));
        let degrees = Some(effective_degrees_of_freedom(left, parts));
        let few = degrees.filter(|degrees| *degrees < PRACTICALLY_NORMAL);
        Input::new(name, unit, self.value, left).with_degrees_of_freedom(few.unwrap_or(f64::INFINITY))
    }
}

/// All estimates of one assessment, and for the missing ones why.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Estimates {
    /// What was measured.
    pub measured: BTreeMap<Quantity, Estimate>,
    /// Why the others were not.
    pub missing: BTreeMap<Quantity, String>,
    /// Description of the largest pulse's curve, where there is one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub circuit: Option<Circuit>,
}

impl Estimates {
    /// Returns the estimate of a quantity, if there is one.
    pub fn get(&self, quantity: Quantity) -> Option<&Estimate> {
        self.measured.get(&quantity)
    }

    /// Returns how well the gain of the current channel was known that the capacity was counted with, as a share; `None`
    /// where no capacity was counted, or by a version that kept no budget.
    pub fn gain_of_count(&self) -> Option<f64> {
        let counted = self.get(Quantity::Capacity)?;
        counted.budget.iter().find(|line| line.input == CURRENT_GAIN).map(|line| line.standard_uncertainty)
    }

    /// Keeps an estimate or the reason for its absence. A number that is not finite counts as absent.
    pub fn put(&mut self, quantity: Quantity, result: Result<Estimate, String>) {
        match result {
            Ok(estimate) if estimate.value.is_finite() && estimate.standard_uncertainty.is_finite() => {
                self.missing.remove(&quantity);
                self.measured.insert(quantity, estimate);
            }
            Ok(_) => {
                self.missing.insert(quantity, "the calculation gave no finite number".to_owned());
            }
            Err(why) => {
                self.missing.insert(quantity, why);
            }
        }
    }
}
