//! Round cells that end their discharge below 2.6 V: a mixed-oxide cell down to 2.5 V, an iron phosphate cell down to 2.0 V.
//!
//! Rested voltages are those of the equilibria of two published models, computed from their electrode potentials between
//! the states that they call full and empty (PyBaMM's sets Chen2020, 2.5 to 4.2 V, and Prada2013, 2.0 to 3.6 V); resistance
//! times capacity at 1 s are those that `host/verdict/policy/default.toml` names for the same two. A phosphate cell does not
//! stay where the charger leaves it: full is taken as 3.45 V instead of the model's 3.60 V (from memory, 3.4 to 3.5 V an hour
//! after the charge).

use super::{LibraryCell, Recipe, SOUND};
use celltriage_protocol::label::Chemistry;

const MIXED_SOC: [f64; 17] =
    [0.0, 0.005, 0.01, 0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0];
const MIXED_V: [f64; 17] = [
    2.500, 2.614, 2.710, 2.860, 2.968, 3.107, 3.191, 3.292, 3.431, 3.484, 3.578, 3.664, 3.746, 3.835, 3.941,
    4.034, 4.181,
];
const PHOSPHATE_SOC: [f64; 17] =
    [0.0, 0.005, 0.01, 0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.7, 0.9, 0.97, 0.98, 1.0];
const PHOSPHATE_V: [f64; 17] = [
    2.000, 2.143, 2.266, 2.460, 2.603, 2.785, 2.887, 2.978, 3.108, 3.169, 3.206, 3.253, 3.274, 3.314, 3.327,
    3.350, 3.450,
];

/// Returns a mixed-oxide cell of 18 mm, 3.0 Ah, whose label lets it be discharged to 2.5 V.
pub fn cylindrical() -> LibraryCell {
    Recipe {
        name: "cylindrical",
        soc: &MIXED_SOC,
        class_v: &MIXED_V,
        chemistry: Chemistry::Nmc,
        is_round: true,
        charge_limit_v: 4.20,
        end_of_discharge_v: 2.5,
        ohm_ah: 0.17,
        nominal_thickness_mm: 18.4,
        thickness_factor: 1.0,
        ..SOUND
    }
    .cell()
}

/// Returns an iron phosphate cell of 26 mm, 2.5 Ah, whose label lets it be discharged to 2.0 V.
pub fn iron_phosphate() -> LibraryCell {
    Recipe {
        name: "iron phosphate",
        soc: &PHOSPHATE_SOC,
        class_v: &PHOSPHATE_V,
        chemistry: Chemistry::Lfp,
        is_round: true,
        charge_limit_v: 3.65,
        end_of_discharge_v: 2.0,
        rated_ah: 2.5,
        ohm_ah: 0.11,
        nominal_thickness_mm: 26.0,
        thickness_factor: 1.0,
        ..SOUND
    }
    .cell()
}
