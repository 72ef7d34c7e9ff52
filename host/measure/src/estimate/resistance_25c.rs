//! Resistance as it would be at 25 degC.
//!
//! Takes the two-level resistance, or else the one at 1 s, with the cell's temperature. Mean slopes from the battery
//! data of four phones in the device trees of public Linux kernels and from a vehicle cell's open pulses (10, 25 and
//! 40 degC, github.com/batterysim/equiv-circ-model): -3.0 to -4.3 % per kelvin from 0 to 25 degC (taken: -3.8), -0.9 to
//! -1.6 from 25 to 40 degC (taken: -1.25). One Arrhenius constant does not fit both; the parabola through both does, and
//! has no kink at 25 degC, where most cells are measured. Every kelvin of correction adds 1.5 % to the uncertainty; outside
//! 15 to 35 degC there is no correction at all.

use super::measurement::Measurement;
use super::{Estimate, Quantity};
use crate::uncertainty::{Budget, Input, Measurand};

/// The temperature corrected to, in degC.
const REFERENCE_C: f64 = 25.0;
/// No correction outside, in degC.
const RANGE_C: [f64; 2] = [15.0, 35.0];
/// Mean change of resistance per kelvin from 15 degC to the reference and from there to 35 degC, as a share of that at
/// the reference.
const SLOPES: [f64; 2] = [-0.038, -0.012_5];
/// Uncertainty per kelvin of correction, as a share.
const PER_KELVIN: f64 = 0.015;

/// Name of the line for the doubt about those slopes, which all cells of a model share.
pub(super) const WITH_TEMPERATURE: &str = "change with temperature";

/// Corrects a resistance; `measured` are the candidates, the better one first.
pub(super) fn resistance_25c(
    m: &Measurement<'_>,
    measured: [Option<&Estimate>; 2],
) -> Result<Estimate, String> {
    let Some(source) = measured.into_iter().flatten().next() else {
        return Err("neither the two-level resistance nor the one at 1 s was measured".to_owned());
    };
    let Some(temperature) = source.conditions.temperature_c else {
        return Err("the cell's temperature was not measured".to_owned());
    };
    let [coldest, warmest] = RANGE_C;
    if !(coldest..=warmest).contains(&temperature) {
        return Err(format!(
            "measured at {temperature:.1} degC; a correction is only made from {coldest} to {warmest} degC"
        ));
    }
    let inputs = [
        source.as_input("resistance as measured", "ohm"),
        Input::new("temperature of the cell", "degC", temperature, m.front_end.temperature.0),
        Input::new(WITH_TEMPERATURE, "1/K", 0.0, PER_KELVIN),
    ];
    let away = temperature - REFERENCE_C;
    // The doubt about the slope is a share of the result per kelvin of correction.
    let corrected =
        |[resistance, temperature, off]: [f64; 3]| resistance / factor(temperature) * (1.0 + off * away);
    let budget = Measurand::new(inputs, corrected).budget();
    let method = format!(
        "corrected from {temperature:.1} to 25 degC by {:+.1} %; {}",
        (1.0 / factor(temperature) - 1.0) * 100.0,
        source.method
    );
    let mut estimate = Estimate::of(Quantity::Resistance25Celsius, budget, &method);
    estimate.conditions = source.conditions.clone();
    estimate.warnings = source.warnings.clone();
    Ok(estimate)
}

/// Returns the resistance at a temperature over that at the reference: the parabola with the mean slopes on both sides.
fn factor(temperature: f64) -> f64 {
    let [below, above] = SLOPES;
    let away = temperature - REFERENCE_C;
    let width = RANGE_C[1] - RANGE_C[0];
    1.0 + (below + above) / 2.0 * away + (above - below) / width * away * away
}

/// Returns what a resistance measured at an unknown temperature says of the one at 25 degC times `scale`: any temperature of
/// the range is taken as equally likely, so the value stays and the doubt holds the slopes to both sides.
pub fn at_unknown_temperature(measured: &Estimate, scale: f64) -> Budget {
    let [coldest, warmest] = RANGE_C;
    let half = 0.5 * (warmest - coldest);
    let inputs = [
        measured.as_input("resistance as measured", "ohm"),
        Input::rectangular("temperature of the cell, not measured", "degC", REFERENCE_C, half),
        // The doubt about the slope grows with the distance from 25 degC; here with its root mean square.
        Input::new(WITH_TEMPERATURE, "1", 0.0, PER_KELVIN * half / 3f64.sqrt()),
    ];
    let corrected =
        |[resistance, temperature, off]: [f64; 3]| scale * resistance / factor(temperature) * (1.0 + off);
    Measurand::new(inputs, corrected).budget()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::tests::with_measurement;

    fn at(temperature: Option<f64>) -> Result<Estimate, String> {
        let mut source = Estimate::new(Quantity::ResistanceTwoLevel, 0.100, 0.001, "two load levels");
        source.conditions.temperature_c = temperature;
        with_measurement(|m| resistance_25c(m, [Some(&source), None]))
    }

    #[test]
    fn a_cold_cell_has_less_and_a_warm_cell_more_at_25_degc() {
        approx::assert_relative_eq!(at(Some(25.0)).unwrap().value, 0.1);
        approx::assert_relative_eq!(at(Some(15.0)).unwrap().value, 0.1 / 1.38, epsilon = 1e-12);
        approx::assert_relative_eq!(at(Some(35.0)).unwrap().value, 0.1 / 0.875, epsilon = 1e-12);
    }

    #[test]
    fn every_kelvin_of_correction_widens_the_uncertainty() {
        let share = |temperature| {
            let estimate = at(Some(temperature)).unwrap();
            estimate.standard_uncertainty / estimate.value
        };
        assert!(share(25.0) < share(24.0) && share(24.0) < share(20.0));
        // 5 K x 1.5 % with the source's 1 % and the thermometer's 0.3 K x 3.8 % there.
        approx::assert_relative_eq!(
            share(20.0),
            0.075f64.hypot(0.01).hypot(0.3 * 0.038 / 1.158),
            epsilon = 1e-4
        );
    }

    /// The true factor of a temperature drawn evenly from the range, with a slope as uncertain as stated: 1,000 by 21 points.
    #[test]
    fn an_unknown_temperature_is_as_doubtful_as_the_slopes_make_it() {
        let measured = Estimate::new(Quantity::ResistanceTwoLevel, 0.100, 0.0, "two load levels");
        let budget = at_unknown_temperature(&measured, 3.0);
        approx::assert_relative_eq!(budget.value, 0.3);
        let temperatures = (0..1000).map(|step| 15.0 + 20.0 * (f64::from(step) + 0.5) / 1000.0);
        let of_slope = |temperature: f64| {
            (-10..=10).map(move |step| {
                1.0 + PER_KELVIN * 3f64.sqrt() * f64::from(step) / 10.0 * (temperature - 25.0)
            })
        };
        let all: Vec<f64> =
            temperatures.flat_map(|t| of_slope(t).map(move |off| 0.3 / factor(t) * off)).collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        let spread = (all.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / all.len() as f64).sqrt();
        approx::assert_relative_eq!(budget.standard_uncertainty, spread, max_relative = 0.05);
        assert!((budget.value - mean).abs() < 0.4 * spread, "{mean}");
    }

    #[test]
    fn without_a_temperature_or_outside_the_range_there_is_no_correction() {
        assert!(at(None).unwrap_err().contains("not measured"));
        for temperature in [14.9, 35.1] {
            assert!(at(Some(temperature)).unwrap_err().contains("only made from 15 to 35"));
        }
        assert!(with_measurement(|m| resistance_25c(m, [None, None])).is_err());
    }
}
