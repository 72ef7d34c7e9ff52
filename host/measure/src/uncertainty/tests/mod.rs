//! The engine against the worked examples of the guides it follows.

mod annex_h;
mod annex_h_counts;
mod gauge_block;
mod supplement_1;

/// Asserts that a number rounds to a printed one: it differs by at most one unit of the last printed digit over two.
fn assert_printed(found: f64, printed: f64, last_digit: f64, what: &str) {
    assert!((found - printed).abs() <= last_digit / 2.0 * 1.000_001, "{what}: {found}, printed {printed}");
}

/// Returns the correlation of two means of simultaneous readings (JCGM 100, 5.2.3).
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    let (of_a, of_b) = (mean(a), mean(b));
    let product: f64 = a.iter().zip(b).map(|(x, y)| (x - of_a) * (y - of_b)).sum();
    let square = |of: &[f64], mean: f64| of.iter().map(|x| (x - mean).powi(2)).sum::<f64>();
    product / (square(a, of_a) * square(b, of_b)).sqrt()
}
