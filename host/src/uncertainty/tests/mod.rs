//! The engine against the worked examples of the guides it follows.

mod annex_h;
mod supplement_1;

/// Asserts that a number rounds to a printed one: it differs by at most one unit of the last printed digit over two.
fn assert_printed(found: f64, printed: f64, last_digit: f64, what: &str) {
    assert!((found - printed).abs() <= last_digit / 2.0 * 1.000_001, "{what}: {found}, printed {printed}");
}
