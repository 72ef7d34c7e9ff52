//! JCGM 100:2008 annex H: H.4 activity from correlated repeated counts, H.5 a voltage standard on ten days.
//!
//! H.6 (hardness on a scale defined by its own procedure) is left out: it adds up independent lines, as H.1 does.

use super::{assert_printed, correlation};
use crate::normal_model::{Known, Population};
use crate::uncertainty::{Input, Measurand, coverage_factor};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// Decay constant of radon 222 in 1/min (H.4.1; also in the manual of the R package `propagate`, data set H.4).
const DECAY: f64 = 1.258_94e-4;
/// Table H.7, six cycles: minutes to the middle of the count and counts in 60 min of the standard, of the blank
/// (counts only) and of the sample. From memory; that it is right shows in table H.8, whose 18 figures follow from it.
const CYCLES: [(f64, f64, f64, f64, f64); 6] = [
    (243.74, 15_380.0, 4_054.0, 367.37, 41_432.0),
    (984.53, 14_978.0, 3_922.0, 1_107.66, 38_706.0),
    (1_723.87, 14_394.0, 4_200.0, 1_846.99, 35_860.0),
    (2_463.17, 13_254.0, 3_830.0, 2_586.28, 32_238.0),
    (3_217.56, 12_516.0, 3_956.0, 3_340.68, 29_640.0),
    (3_956.83, 11_058.0, 3_980.0, 4_079.94, 26_356.0),
];

/// Returns the decay-corrected rates of sample and standard in 1/min (H.20).
fn rates() -> ([f64; 6], [f64; 6]) {
    let rate = |count: f64, blank: f64, time: f64| (count - blank) / 60.0 * (DECAY * time).exp();
    let sample = CYCLES.map(|(_, _, blank, time, count)| rate(count, blank, time));
    let standard = CYCLES.map(|(time, count, blank, _, _)| rate(count, blank, time));
    (sample, standard)
}

/// Activity of the standard in Bq/g, mass of standard and of sample in g (H.4.3), then the ratio of rates.
fn activity<const N: usize>(rates: [Input; N]) -> Vec<Input> {
    let known = [
        Input::new("activity of the standard", "Bq/g", 0.1368, 0.0018),
        Input::new("mass of the standard", "g", 5.0192, 0.0050),
        Input::new("mass of the sample", "g", 5.0571, 0.0010),
    ];
    known.into_iter().chain(rates).collect()
}

/// H.4: radon in water by liquid scintillation. First way: means of both rates with their correlation; second way: the
/// mean of the ratios, which needs none. Printed results from memory; both ways check each other.
#[test]
fn h4_activity_of_radon_both_ways() {
    let (sample, standard) = rates();
    let ratio: [f64; 6] = std::array::from_fn(|cycle| sample[cycle] / standard[cycle]);
    // Table H.8, line by line.
    let printed_sample = [652.46, 666.48, 665.80, 655.68, 651.87, 623.31];
    let printed_standard = [194.65, 208.58, 211.08, 214.17, 213.92, 194.13];
    let printed_ratio = [3.3520, 3.1953, 3.1543, 3.0615, 3.0473, 3.2107];
    for cycle in 0..6 {
        assert_printed(sample[cycle], printed_sample[cycle], 0.01, "R_x");
        assert_printed(standard[cycle], printed_standard[cycle], 0.01, "R_S");
        assert_printed(ratio[cycle], printed_ratio[cycle], 1e-4, "R");
    }
    let [of_sample, of_standard, of_ratio] = [
        Input::mean_of("rate of the sample", "1/min", &sample),
        Input::mean_of("rate of the standard", "1/min", &standard),
        Input::mean_of("ratio of the rates", "1", &ratio),
    ];
    assert_printed(of_sample.value, 652.60, 0.01, "mean R_x");
    assert_printed(of_sample.standard_uncertainty, 6.42, 0.01, "s(R_x)");
    assert_printed(of_standard.value, 206.09, 0.01, "mean R_S");
    assert_printed(of_standard.standard_uncertainty, 3.79, 0.01, "s(R_S)");
    assert_printed(of_ratio.value, 3.170, 1e-3, "mean R");
    assert_printed(of_ratio.standard_uncertainty, 0.046, 1e-3, "s(R)");
    let together = correlation(&sample, &standard);
    assert_printed(together, 0.646, 1e-3, "r(R_x, R_S)");

    let quotient = Measurand::new([of_sample.clone(), of_standard.clone()], |[x, s]: [f64; 2]| x / s);
    let quotient = quotient.correlated(0, 1, together).budget();
    assert_printed(quotient.value, 3.167, 1e-3, "R_x / R_S");
    assert_printed(quotient.standard_uncertainty, 0.045, 1e-3, "u(R_x / R_S)");

    let inputs: [Input; 5] = activity([of_sample, of_standard]).try_into().unwrap();
    let first = Measurand::new(inputs, |[a, ms, mx, x, s]: [f64; 5]| a * ms / mx * x / s);
    let known = first.clone().correlated(3, 4, together).budget();
    // The first way of the guide gives 0.4299 unrounded; it prints 0.4300 from 3.167.
    assert_printed(known.value, 0.4300, 2e-4, "A_x in Bq/g");
    assert_printed(known.standard_uncertainty, 0.0083, 1e-4, "u(A_x) in Bq/g");
    // Without the correlation it would be far too much: the point of the example.
    assert!(first.budget().standard_uncertainty > 1.2 * known.standard_uncertainty);

    let inputs: [Input; 4] = activity([of_ratio]).try_into().unwrap();
    let second = Measurand::new(inputs, |[a, ms, mx, ratio]: [f64; 4]| a * ms / mx * ratio).budget();
    assert_printed(second.value, 0.4304, 1e-4, "A_x in Bq/g");
    assert_printed(second.standard_uncertainty, 0.0084, 1e-4, "u(A_x) in Bq/g");
    assert!((second.value - known.value).abs() < 0.1 * known.standard_uncertainty);
}

/// H.5, table H.9: means of five readings on each of ten days and their standard deviations, in uV above 10 V. Data,
/// mean, scatters and F also in the tests of the Python package `suncal` 1.7.1 (test_dataset.py, "From GUM Table H.9").
const DAYS: [(f64, f64); 10] = [
    (172.0, 60.0),
    (116.0, 77.0),
    (13.0, 111.0),
    (144.0, 101.0),
    (106.0, 67.0),
    (31.0, 93.0),
    (60.0, 80.0),
    (125.0, 73.0),
    (163.0, 88.0),
    (41.0, 86.0),
];
/// Readings on a day.
const A_DAY: f64 = 5.0;

/// H.5.2: the days differ by more than their readings lead one to expect, so the mean's uncertainty is that of ten days and not
/// that of fifty readings. The variance between days is the one that the statistics of a cell model find between cells.
#[test]
fn h5_a_voltage_standard_between_and_within_days() {
    let mean = Input::mean_of("mean of ten days", "uV", &DAYS.map(|day| day.0));
    assert_printed(mean.value, 97.0, 1.0, "mean in uV above 10 V");
    let between_means = mean.standard_uncertainty * (DAYS.len() as f64).sqrt();
    assert_printed(between_means, 57.0, 1.0, "s(V_j)");
    let within = (DAYS.iter().map(|day| day.1 * day.1).sum::<f64>() / DAYS.len() as f64).sqrt();
    assert_printed(within, 85.0, 1.0, "s_b");
    assert_printed(between_means * A_DAY.sqrt(), 128.0, 1.0, "s_a");
    // Printed 2.25; the unrounded data give 2.26.
    let ratio = A_DAY * (between_means / within).powi(2);
    assert_printed(ratio, 2.25, 0.03, "F");
    let f = FisherSnedecor::new(9.0, 40.0).unwrap();
    assert_printed(f.inverse_cdf(0.95), 2.12, 0.01, "F 95 %");
    assert_printed(f.inverse_cdf(0.975), 2.45, 0.01, "F 97.5 %");
    assert!(ratio > f.inverse_cdf(0.95) && ratio < f.inverse_cdf(0.975));

    // With a scatter between days: 18 uV with 9 degrees of freedom; without: 13 uV with 49.
    let budget = Measurand::new([mean], |[volts]: [f64; 1]| volts).budget();
    assert_printed(budget.standard_uncertainty, 18.0, 1.0, "u(V) in uV");
    assert_printed(budget.degrees_of_freedom, 9.0, 1e-6, "degrees of freedom");
    assert_printed(budget.expanded(0.95), coverage_factor(0.95, 9.0) * 18.05, 0.1, "U(V) in uV");
    let all = (9.0 * A_DAY * between_means.powi(2) + 40.0 * within * within) / 49.0 / 50.0;
    assert_printed(all.sqrt(), 13.0, 1.0, "u(V) without a scatter between days");

    // H.5.3: s_B = 43 uV between days; the mean of a day is known to s_b / sqrt(5).
    let days = DAYS.map(|day| Known { value: day.0, standard_uncertainty: within / A_DAY.sqrt() });
    let population = Population::of(&days).unwrap();
    assert_printed(population.spread, 43.0, 1.0, "s_B");
    assert_printed(population.mean.value, 97.0, 1.0, "mean");
    approx::assert_relative_eq!(
        population.mean.standard_uncertainty,
        budget.standard_uncertainty,
        max_relative = 1e-9
    );
}
