//! What of a decision is compared with another of the same cell: plain data, small enough to be kept with each decision.

use celltriage_measure::estimate::{Estimate, Quantity};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Observations, SensedAt};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A number with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub doubt: f64,
}

/// What is compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// The label.
    pub nameplate: Nameplate,
    /// Thicknesses in mm, point by point.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub thickness_mm: Vec<f64>,
    /// Where the voltage was picked up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sensed_at: Option<SensedAt>,
    /// Through which adapter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adapter: Option<u32>,
    /// Resistance at 25 degC in ohm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resistance: Option<Figure>,
    /// Whether that is made from the two-level resistance, not from the one at 1 s.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub two_level: bool,
    /// State of charge at the beginning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<f64>,
    /// Counted capacity in Ah.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity: Option<Figure>,
    /// Rest voltage in V.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rest_v: Option<Figure>,
}

impl Facts {
    /// Takes them from what a decision is made from.
    pub fn of(
        nameplate: &Nameplate,
        observations: &Observations,
        estimates: &BTreeMap<Quantity, Estimate>,
    ) -> Self {
        let figure = |quantity| {
            let one: Option<&Estimate> = estimates.get(&quantity);
            one.map(|one| Figure { value: one.value, doubt: one.standard_uncertainty })
        };
        let corrected = estimates.get(&Quantity::Resistance25Celsius);
        Self {
            nameplate: Nameplate { warnings: Vec::new(), ..nameplate.clone() },
            thickness_mm: observations.thickness_mm.clone(),
            sensed_at: observations.sensed_at,
            adapter: observations.adapter,
            resistance: figure(Quantity::Resistance25Celsius),
            two_level: corrected.is_some_and(|one| one.conditions.second_current_a.is_some()),
            charge: estimates.get(&Quantity::StateOfCharge).map(|one| one.value),
            capacity: figure(Quantity::Capacity),
            rest_v: figure(Quantity::RestVoltage),
        }
    }
}
