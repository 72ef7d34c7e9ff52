//! A person with a calliper: how thick the cell is, what the label says of it, and what is read.

use celltriage_measure::observation::Observations;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Thickness on the drawing, mm; the label rounds it to 0.1 mm.
const NOMINAL_MM: f64 = 4.0;
/// What all readings of a day share, and the scatter of one on a soft cell, mm (what the estimator states).
const SHARED_MM: f64 = 0.03;
const SCATTER_MM: f64 = 0.04;
/// Growth from empty to full: 1 to 3 %, and the charge at which makers state the thickness (what the estimator states).
const BREATHING: [f64; 2] = [0.01, 0.03];
const STATED_AT: f64 = 0.4;

/// What was read, and what is true.
#[derive(Debug)]
pub struct Reading {
    /// Growth since the cell was made, at the charge at which makers state the thickness.
    pub growth: f64,
    /// On the label, mm.
    pub label_mm: f64,
    /// As a person noted it; no sign was found.
    pub observations: Observations,
}

/// Measures a cell at a state of charge.
pub fn read(random: &mut ChaCha8Rng, soc: f64) -> Reading {
    let nominal_mm: f64 = NOMINAL_MM + random.random_range(-0.5..0.5);
    // One cell in seven has swollen.
    let growth = if random.random_bool(0.15) {
        random.random_range(0.04..0.16)
    } else {
        random.random_range(-0.01..0.03)
    };
    let breathed = random.random_range(BREATHING[0]..BREATHING[1]) * (soc - STATED_AT);
    let thickest_mm = nominal_mm * (1.0 + growth + breathed);
    // A swollen cell bulges in the middle; the other points lie lower, by more the more it has swollen.
    let bulge_mm = nominal_mm * growth.max(0.0);
    let places = [thickest_mm, thickest_mm - 0.5 * bulge_mm, thickest_mm - 0.7 * bulge_mm];
    let mut normal = |deviation: f64| {
        let z: f64 = StandardNormal.sample(random);
        z * deviation
    };
    let shared_mm = normal(SHARED_MM);
    let mut observations = Observations::no_signs();
    for place in places {
        observations.add_thickness(vec![place + shared_mm + normal(SCATTER_MM)]);
    }
    Reading { growth, label_mm: (nominal_mm * 10.0).round() / 10.0, observations }
}
