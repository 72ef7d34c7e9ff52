//! The control chart of a check standard, and what is due of it.

use celltriage_document::figure::{self, ControlChart};
use celltriage_instrument::control_chart::{Chart, WEIGHT};
use celltriage_instrument::within;

/// Puts a chart of the fixture's records into the form of a drawing. `stated` is what the standard is stated to be, and the most
/// by which a value may differ.
pub fn check_chart(
    title: String,
    unit: &str,
    days: &[String],
    chart: &Chart,
    stated: (f64, f64),
) -> ControlChart {
    let out =
        |at: usize, value: f64| !within(value - stated.0, stated.1) || chart.out_of_control(at).is_some();
    let label = |at: usize| days.get(at).cloned().unwrap_or_default();
    let values = chart.values.iter().enumerate().map(|(at, value)| (label(at), *value, out(at, *value)));
    ControlChart {
        title,
        unit: unit.to_owned(),
        values: values.collect(),
        weighted: chart.weighted.clone(),
        weight: WEIGHT,
        baseline: chart.baseline.as_ref().map(|found| figure::Baseline {
            centre: found.centre,
            limits: found.limits().into(),
            count: found.count,
        }),
        stated,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(last: f64) -> ControlChart {
        let mut values: Vec<f64> =
            (0..12).map(|at| 50.0 + 0.1 * f64::from([0, 1, -1, 2, -2][at % 5])).collect();
        values.push(last);
        let labels: Vec<String> = (1..=values.len()).map(|week| format!("week {week}")).collect();
        check_chart("R1".to_owned(), "mOhm", &labels, &Chart::of(&values), (50.0, 2.0))
    }

    #[test]
    fn a_value_that_is_out_is_marked_and_the_others_are_not() {
        let lines = picture(51.2).figure().text(200);
        let marked = lines.iter().filter(|line| line.starts_with("week") && line.contains('X')).count();
        assert_eq!(marked, 1, "{lines:?}");
        let last = lines.iter().find(|line| line.starts_with("week 13")).expect("the last value");
        assert!(last.contains('X') && last.contains('w'), "{last}");
        let svg = picture(51.2).figure().svg();
        assert_eq!(svg.matches("class=\"mark out\"").count(), 1, "{svg}");
        assert_eq!(svg.matches("<circle").count(), 12);
    }
}
