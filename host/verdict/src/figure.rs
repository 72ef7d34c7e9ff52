//! Numbers for people: one unit that reads easily, as many digits as the doubt of the measurement allows.
//!
//! Input: a value in the unit of the estimates and, where known, its standard uncertainty; output: words such as
//! `55.8 mOhm` or `55.78 ± 0.62 mOhm`, where the second number is the expanded uncertainty (k = 2).

use celltriage_measure::uncertainty::{AS_TWO, coverage_factor};

/// How a unit of the estimates is shown: factor, symbol, decimals where the doubt is not known.
fn shown(unit: &str) -> (f64, &str, usize) {
    match unit {
        "V" => (1.0, "V", 3),
        "ohm" => (1e3, "mOhm", 1),
        "ohm.Ah" => (1.0, "Ohm·Ah", 3),
        "Ah" => (1.0, "Ah", 3),
        "1" => (1e2, "%", 1),
        "V/h" => (1e3, "mV/h", 1),
        "V/d" => (1e3, "mV/day", 2),
        "K" => (1.0, "K", 1),
        "K/min" => (1.0, "K/min", 1),
        "degC" => (1.0, "°C", 1),
        other => (1.0, other, 3),
    }
}

/// Writes a value with its unit.
pub fn figure(value: f64, unit: &str) -> String {
    let (factor, symbol, decimals) = shown(unit);
    with_symbol(&plain(value * factor, decimals), symbol)
}

/// Writes a limit: as a value, without zeros that say nothing.
pub fn limit_figure(value: f64, unit: &str) -> String {
    let (factor, symbol, decimals) = shown(unit);
    let digits = plain(value * factor, decimals);
    let short = match digits.contains('.') {
        true => digits.trim_end_matches('0').trim_end_matches('.'),
        false => &digits,
    };
    with_symbol(short, symbol)
}

/// Writes a number without its unit, where the unit stands beside it.
pub fn bare_figure(value: f64, unit: &str) -> String {
    let full = limit_figure(value, unit);
    full.split(' ').next().unwrap_or(&full).to_owned()
}

/// Writes a value with its expanded uncertainty (k = 2), two digits of doubt.
pub fn figure_with_doubt(value: f64, standard_uncertainty: f64, unit: &str) -> String {
    let (factor, symbol, _) = shown(unit);
    let doubt = 2.0 * standard_uncertainty * factor;
    let decimals = decimals(doubt, unit);
    if !(doubt.is_finite() && doubt > 0.0) {
        return with_symbol(&plain(value * factor, decimals), symbol);
    }
    with_symbol(&format!("{} ± {doubt:.decimals$}", plain(value * factor, decimals)), symbol)
}

/// Writes the same for an uncertainty that may rest on few readings: with effective degrees of freedom the factor is that of
/// Student's t, and is stated if it is not two.
pub fn figure_with_few(value: f64, standard_uncertainty: f64, degrees: Option<f64>, unit: &str) -> String {
    let coverage = degrees.map_or(2.0, |degrees| coverage_factor(AS_TWO, degrees));
    let figure = figure_with_doubt(value, standard_uncertainty * coverage / 2.0, unit);
    if coverage < 2.05 { figure } else { format!("{figure} (k={coverage:.1})") }
}

/// Writes a value to the digits that a standard uncertainty allows, without stating it.
pub fn figure_to(value: f64, standard_uncertainty: f64, unit: &str) -> String {
    let (factor, symbol, _) = shown(unit);
    with_symbol(&plain(value * factor, decimals(2.0 * standard_uncertainty * factor, unit)), symbol)
}

/// Two digits of the doubt: 0.62 needs two decimals, 6.2 one, 62 none.
fn decimals(doubt: f64, unit: &str) -> usize {
    match doubt.is_finite() && doubt > 0.0 {
        true => (1.0 - doubt.log10().floor()).clamp(0.0, 6.0) as usize,
        false => shown(unit).2,
    }
}

/// Writes a probability in per cent, no finer than it can be trusted.
pub fn probability_figure(probability: f64) -> String {
    match probability * 100.0 {
        percent if percent > 99.9 => "more than 99.9 %".to_owned(),
        percent if percent < 0.1 => "less than 0.1 %".to_owned(),
        percent if (10.0..=90.0).contains(&percent) => format!("{percent:.0} %"),
        percent => {
            let digits = format!("{percent:.1}");
            format!("{} %", digits.strip_suffix(".0").unwrap_or(&digits))
        }
    }
}

/// Writes a time in hours and minutes.
pub fn hours_and_minutes(hours: f64) -> String {
    let minutes = (hours * 60.0).round().max(0.0) as u64;
    format!("{} h {} min", minutes / 60, minutes % 60)
}

/// Never writes a minus sign before nothing but zeros.
fn plain(value: f64, decimals: usize) -> String {
    let digits = format!("{value:.decimals$}");
    let only_zeros = digits.chars().all(|digit| matches!(digit, '-' | '0' | '.'));
    if only_zeros { digits.trim_start_matches('-').to_owned() } else { digits }
}

fn with_symbol(digits: &str, symbol: &str) -> String {
    if symbol.is_empty() { digits.to_owned() } else { format!("{digits} {symbol}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_shown_in_the_unit_of_the_bench() {
        assert_eq!(figure(0.05578, "ohm"), "55.8 mOhm");
        assert_eq!(figure(0.8, "1"), "80.0 %");
        assert_eq!(figure(3.8421, "V"), "3.842 V");
        assert_eq!(figure(-0.0105, "V/h"), "-10.5 mV/h");
        assert_eq!(figure(-0.000001, "V/h"), "0.0 mV/h");
        assert_eq!(limit_figure(0.8, "1"), "80 %");
        assert_eq!(limit_figure(4.4, "V"), "4.4 V");
        assert_eq!(limit_figure(100.0, "K"), "100 K");
    }

    #[test]
    fn the_doubt_decides_the_digits() {
        assert_eq!(figure_with_doubt(0.05578, 0.00031, "ohm"), "55.78 ± 0.62 mOhm");
        assert_eq!(figure_with_doubt(0.912, 0.006, "1"), "91.2 ± 1.2 %");
        assert_eq!(figure_with_doubt(0.5, 0.2, "1"), "50 ± 40 %");
        assert_eq!(figure_with_doubt(3.8421, 0.0, "V"), "3.842 V");
    }

    /// JCGM 100, table G.2: for 95.45 % the factor of 5 degrees of freedom is 2.65, of 50 it is 2.05, of many 2.00.
    #[test]
    fn few_readings_have_a_larger_factor_and_say_so() {
        assert_eq!(figure_with_few(0.912, 0.006, None, "1"), "91.2 ± 1.2 %");
        assert_eq!(figure_with_few(0.912, 0.006, Some(80.0), "1"), "91.2 ± 1.2 %");
        assert_eq!(figure_with_few(0.912, 0.006, Some(5.0), "1"), "91.2 ± 1.6 % (k=2.6)");
    }

    #[test]
    fn a_time_is_shown_in_hours_and_minutes() {
        assert_eq!(hours_and_minutes(5.0), "5 h 0 min");
        assert_eq!(hours_and_minutes(6.6667), "6 h 40 min");
    }
}
