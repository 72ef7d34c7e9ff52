//! JCGM 101:2008 clause 9.5: a gauge block against a standard, with nine inputs of five shapes.
//!
//! Shapes and their figures (table 10) as in the manual of the R package `propagate` (example "GUM 2008 Supplement 1 (4)"),
//! which also quotes both standard uncertainties of table 11; the ends of the intervals are from memory.

use super::assert_printed;
use crate::uncertainty::{Input, Measurand, Trials, coverage_factor};
use std::f64::consts::TAU;

/// Nominal length in nm.
const NOMINAL: f64 = 50_000_000.0;

/// Equally likely between 0 and 1: what the shapes that the engine does not need elsewhere are made from.
fn evenly(name: &'static str) -> Input {
    Input::rectangular(name, "1", 0.5, 0.5)
}

/// A temperature that swings between the limits (6.4.6: arcsine).
fn swinging(half_width: f64, even: f64) -> f64 {
    half_width * (TAU * even).sin()
}

/// Rectangular with limits that are known to `edge` only (6.4.3: curvilinear trapezoid, drawn as 6.4.3.4 says).
fn blurred(half_width: f64, edge: f64, [which_edge, where_within]: [f64; 2]) -> f64 {
    let low = -half_width - edge + 2.0 * edge * which_edge;
    low + 2.0 * low.abs() * where_within
}

/// Variances of both shapes as 6.4.3.3 and 6.4.6.3 print them, and so that the two functions above draw them.
#[test]
fn the_two_shapes_have_the_variances_of_the_clauses() {
    let trials = Trials { seed: 6, digits: 3, most_blocks: 100, ..Trials::default() };
    let of_blurred = Measurand::new([evenly("edge"), evenly("within")], |draw| blurred(0.050, 0.025, draw));
    let found = of_blurred.monte_carlo(&trials).unwrap().standard_uncertainty;
    approx::assert_relative_eq!(
        found * found,
        (0.1f64).powi(2) / 12.0 + 0.025f64.powi(2) / 9.0,
        max_relative = 0.01
    );
    let of_swinging = Measurand::new([evenly("phase")], |[even]| swinging(0.5, even));
    let found = of_swinging.monte_carlo(&trials).unwrap().standard_uncertainty;
    approx::assert_relative_eq!(found * found, 0.5f64.powi(2) / 2.0, max_relative = 0.01);
}

/// Table 11: 838 nm with u = 32 nm and 745 to 931 nm (99 %) to first order; 838 nm with u = 36 nm and 745 to 932 nm by
/// Monte Carlo, since t distributions of few degrees of freedom are wider than their scale says.
#[test]
fn gauge_block() {
    let inputs = [
        Input::new("length of the standard", "nm", 50_000_623.0, 25.0).with_degrees_of_freedom(18.0),
        Input::new("mean difference", "nm", 215.0, 6.0).with_degrees_of_freedom(24.0),
        Input::new("random effects of the comparator", "nm", 0.0, 4.0).with_degrees_of_freedom(5.0),
        Input::new("systematic effects of the comparator", "nm", 0.0, 7.0).with_degrees_of_freedom(8.0),
        Input::rectangular("expansion of the standard", "1/K", 11.5e-6, 2.0e-6),
        Input::new("mean temperature off 20 degC", "K", -0.1, 0.2),
        evenly("swing of the temperature"),
        evenly("difference of expansion: edge"),
        evenly("difference of expansion"),
        evenly("difference of temperature: edge"),
        evenly("difference of temperature"),
    ];
    let deviation = |[standard, mean, random, systematic, expansion, off, swing, a, b, c, d]: [f64; 11]| {
        let bed = off + swinging(0.5, swing);
        let of_expansion = blurred(1.0e-6, 0.1e-6, [a, b]);
        let of_temperature = blurred(0.050, 0.025, [c, d]);
        let moved = standard * (of_expansion * bed + expansion * of_temperature);
        standard + mean + random + systematic - moved - NOMINAL
    };
    let trials = Trials { seed: 95, probability: 0.99, digits: 3, block: 500_000, most_blocks: 2 };
    let drawn = Measurand::new(inputs.clone(), deviation).monte_carlo(&trials).unwrap();
    assert_printed(drawn.value, 838.0, 1.0, "value in nm");
    assert_printed(drawn.standard_uncertainty, 36.0, 1.0, "standard uncertainty in nm");
    // Closed form: the variance of each shape, and of a product of independent quantities.
    let wider = |u: f64, degrees: f64| u * u * degrees / (degrees - 2.0);
    let of_expansion = (2e-6f64.powi(2) / 12.0 + 0.1e-6f64.powi(2) / 9.0) * 50_000_623f64.powi(2);
    let of_temperature = (0.1f64.powi(2) / 12.0 + 0.025f64.powi(2) / 9.0) * 50_000_623f64.powi(2);
    let variance = wider(25.0, 18.0)
        + wider(6.0, 24.0)
        + wider(4.0, 5.0)
        + wider(7.0, 8.0)
        + of_expansion * (0.2f64.powi(2) + 0.1f64.powi(2) + 0.5f64.powi(2) / 2.0)
        + of_temperature * (11.5e-6f64.powi(2) + 4e-6f64.powi(2) / 12.0);
    approx::assert_relative_eq!(drawn.standard_uncertainty, variance.sqrt(), max_relative = 3e-3);
    // The shortest of a flat optimum scatters by a nanometre.
    let [low, high] = drawn.shortest(0.99);
    assert!((low - 745.0).abs() < 1.5 && (high - 932.0).abs() < 1.5, "[{low}, {high}]");

    // First order: the same inputs, the four made ones by the standard uncertainties of their clauses.
    let [standard, mean, random, systematic, expansion, off, ..] = inputs;
    let lines = [
        standard,
        mean,
        random,
        systematic,
        expansion,
        off,
        Input::new("swing of the temperature", "K", 0.0, 0.5 / 2f64.sqrt()),
        Input::new("difference of expansion", "1/K", 0.0, 1e-6 / 3f64.sqrt()).with_degrees_of_freedom(50.0),
        Input::new("difference of temperature", "K", 0.0, 0.05 / 3f64.sqrt()).with_degrees_of_freedom(2.0),
    ];
    let budget = Measurand::new(lines, |[s, mean, random, systematic, expansion, off, swing, da, dt]| {
        s + mean + random + systematic - s * (da * (off + swing) + expansion * dt) - NOMINAL
    })
    .budget();
    assert_printed(budget.value, 838.0, 1.0, "first order, nm");
    assert_printed(budget.standard_uncertainty, 32.0, 1.0, "first order, u in nm");
    // Printed with 16 degrees of freedom, cut off; here 16.98.
    assert_eq!(budget.degrees_of_freedom.floor(), 16.0);
    let half = coverage_factor(0.99, budget.degrees_of_freedom.floor()) * budget.standard_uncertainty;
    assert_printed(budget.value - half, 745.0, 1.0, "first order, low end in nm");
    assert_printed(budget.value + half, 931.0, 1.0, "first order, high end in nm");
}
