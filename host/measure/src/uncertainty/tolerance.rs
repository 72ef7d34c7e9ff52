//! How far a number may be off where its standard uncertainty counts with so many digits (JCGM 101, 7.9.2).

/// Returns half of the last of the significant digits of a standard uncertainty (JCGM 101, 7.9.2).
pub fn numerical_tolerance(standard_uncertainty: f64, digits: u32) -> f64 {
    if standard_uncertainty <= 0.0 {
        return 0.0;
    }
    // u = c x 10^l with an integer c of `digits` digits.
    let scale = |u: f64| u.log10().floor() as i32 - (digits.max(1) as i32 - 1);
    let last = scale(standard_uncertainty);
    // 0.0996 rounds to 0.10: the rounded figure counts.
    let rounded = (standard_uncertainty / 10f64.powi(last)).round() * 10f64.powi(last);
    0.5 * 10f64.powi(scale(rounded))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 101, 7.9.2, its examples: 0.000 35 g with two digits gives 0.000 005 g; 2 K with one digit gives 0.5 K.
    #[test]
    fn tolerances_are_those_of_the_examples() {
        approx::assert_relative_eq!(numerical_tolerance(0.000_35, 2), 0.000_005, max_relative = 1e-9);
        approx::assert_relative_eq!(numerical_tolerance(2.0, 1), 0.5, max_relative = 1e-9);
        approx::assert_relative_eq!(numerical_tolerance(0.0996, 2), 0.005, max_relative = 1e-9);
    }
}
