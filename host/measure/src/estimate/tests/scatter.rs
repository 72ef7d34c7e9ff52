//! Scatter of repeated measurements against the least that noise allows (Cramer and Rao).
//!
//! Two bounds. For a voltage read as a straight line through M rows with independent noise s, seen at a moment, the
//! Fisher matrix gives var = s^2 (1/M + d^2 / S), d the moment's distance from the rows' middle and S their spread:
//! that is the estimators' model, and the bound they must come within 15 % of. Where the moment is the middle of its
//! rows it becomes s^2 / M; with a rest mean of N rows the closed form is sd(R) = (s / I) sqrt(1/M + 1/N).

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Rows, Run};

const TRACES: u64 = 500;
const NOISE: f64 = 200e-6;
/// Most that the scatter may exceed the bound by.
const ABOVE_BOUND: f64 = 1.15;
/// Of 500 traces a standard deviation is known to 1 / sqrt(2 * 499) = 3.2 %; three of these.
const CHANCE: f64 = 0.095;

/// A cell that stands still while it is read, so that noise alone makes scatter.
fn plain() -> Cell {
    Cell { fall_v_per_ah: 0.0, pairs: [(0.012, 0.002), (0.018, 0.02)], ..Cell::default() }
}

/// Variance of a line through evenly spaced rows from `first` to `last`, seen at `at`, in units of the noise's.
fn line(first: f64, last: f64, period: f64, at: f64) -> f64 {
    let rows = ((last - first) / period).round() + 1.0;
    let middle = (first + last) / 2.0;
    let spread = (rows * rows - 1.0) * rows / 12.0 * period * period;
    1.0 / rows + (at - middle).powi(2) / spread
}

struct Scatter {
    mean: f64,
    deviation: f64,
    told: f64,
}

/// Records the same run with other noise, again and again; only the one estimator looks at it.
fn scatter(
    steps: &[(f64, f64)],
    estimator: impl Fn(&Measurement<'_>) -> Result<Estimate, String>,
) -> Scatter {
    let run = Run::new(&plain(), steps);
    let (plate, front_end) = (nameplate(IT), FrontEnd::fixture());
    let found: Vec<Estimate> = (1..=TRACES)
        .map(|seed| {
            let rows = Rows::PerStep { period: 0.001 };
            let trace = run.record(&Instrument { rows, voltage_noise: NOISE, seed, ..Instrument::default() });
            estimator(&Measurement::new(&trace, &plate, &front_end)).unwrap()
        })
        .collect();
    let count = found.len() as f64;
    let mean = found.iter().map(|estimate| estimate.value).sum::<f64>() / count;
    let square: f64 = found.iter().map(|estimate| (estimate.value - mean).powi(2)).sum();
    // What the budget's lines of noise say about one trace.
    let noise = |estimate: &Estimate| {
        let lines = estimate.budget.iter().filter(|line| line.input.starts_with("voltage "));
        let lines = lines.filter(|line| line.input != "voltage gain");
        lines.map(|line| line.amount().powi(2)).sum::<f64>()
    };
    let told = (found.iter().map(noise).sum::<f64>() / count).sqrt();
    Scatter { mean, deviation: (square / (count - 1.0)).sqrt(), told }
}

fn assert_near_bound(what: &str, found: &Scatter, bound: f64, truth: f64) {
    println!(
        "{what}: error of the mean {:+.2} uOhm, scatter {:.2} uOhm, bound {:.2} uOhm, ratio {:.3}; told {:.2} uOhm",
        (found.mean - truth) * 1e6,
        found.deviation * 1e6,
        bound * 1e6,
        found.deviation / bound,
        found.told * 1e6
    );
    assert!(found.deviation <= ABOVE_BOUND * bound, "{what}: {:.3} of the bound", found.deviation / bound);
    // Below the bound by more than chance would mean that the bound is not one.
    assert!(found.deviation >= (1.0 - CHANCE) * bound, "{what}: {:.3}", found.deviation / bound);
    // And what each trace says of its own noise is what the scatter shows.
    assert!((found.told / found.deviation - 1.0).abs() < 0.25, "{what}: told {}", found.told);
    assert!((found.mean - truth).abs() < 4.0 * found.deviation / (TRACES as f64).sqrt() + 1e-6, "{what}");
}

#[test]
fn two_level_resistance_scatters_no_more_than_noise_demands() {
    let (rest, low, high) = (0.5, 2.0, 1.0);
    let current = 0.8 * IT;
    let steps = [(0.0, rest), (0.2 * IT, low), (IT, high), (0.0, 0.1)];
    let found = scatter(&steps, resistance_two_level::resistance_two_level);
    // The last fifth of each level, seen at its end.
    let variance = line(0.8 * low, low, 0.001, low) + line(high - 0.2, high, 0.001, high);
    let truth = Run::new(&plain(), &steps).two_level();
    assert_near_bound("two-level", &found, NOISE / current * variance.sqrt(), truth);
}

#[test]
fn resistance_at_an_instant_scatters_no_more_than_noise_demands() {
    let (rest, current) = (4.0, 0.5 * IT);
    let steps = [(0.0, rest), (current, 2.3), (0.0, 0.1)];
    let run = Run::new(&plain(), &steps);
    for (quantity, after) in [(Quantity::Resistance1Second, 1.0), (Quantity::Resistance2Seconds, 2.0)] {
        let found =
            scatter(&steps, |m| resistance_at::resistance_at(m, &pulse::pulses(m), quantity, Seconds(after)));
        // Rows within a tenth of the time on either side; the last fifth of the rest, seen at its end.
        let pulse = line(0.9 * after, 1.1 * after, 0.001, after);
        let variance = pulse + line(0.8 * rest, rest, 0.001, rest);
        let what = format!("{after} s");
        assert_near_bound(&what, &found, NOISE / current * variance.sqrt(), run.resistance_at(after));
        // The closed form of a mean of M rows is the part of the pulse.
        approx::assert_relative_eq!(pulse, 1.0 / (0.2 * after / 0.001 + 1.0), max_relative = 1e-9);
    }
}
