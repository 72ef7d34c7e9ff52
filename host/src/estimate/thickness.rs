//! How much thicker the cell is than its label says.
//!
//! Takes the thicknesses a person measured; the thickest point counts, since a swollen cell bulges in the middle. One to
//! three per cent come and go with the state of charge, five to ten per cent are what equipment is built to bear over a
//! life (from memory); the decision's policy judges the number.

use super::{Conditions, Estimate, Quantity};
use crate::nameplate::Nameplate;
use crate::observation::Observations;

/// Standard uncertainty of one reading of a digital calliper on a soft cell, in mm: the instrument's error limit of
/// 0.03 mm (DIN 862, from memory) and as much again for the film giving way under the jaws (common practice).
const GAUGE_MM: f64 = 0.05;
/// Standard uncertainty of the label's figure, in mm: labels round to 0.1 mm.
const LABEL_MM: f64 = 0.03;

/// Estimates the growth as a share of the nominal thickness.
pub(super) fn thickness_growth(
    nameplate: &Nameplate,
    observations: &Observations,
) -> Result<Estimate, String> {
    let nominal = nameplate.nominal_thickness_mm.ok_or("the nameplate has no nominal thickness")?;
    let plausible = |thickness: &f64| thickness.is_finite() && *thickness > 0.0;
    let mut measured: Vec<f64> = observations.thickness_mm.iter().copied().filter(plausible).collect();
    measured.sort_by(f64::total_cmp);
    let thickest = measured.last().ok_or("no thickness was measured")?;
    if !(0.5..=3.0).contains(&(thickest / nominal)) {
        return Err(format!("{thickest} mm against {nominal} mm on the label: check that both are in mm"));
    }
    let growth = thickest / nominal - 1.0;
    let deviation = GAUGE_MM.hypot(LABEL_MM * thickest / nominal) / nominal;
    let method = format!("thickest of {} readings over the nominal thickness", measured.len());
    let mut estimate = Estimate::new(Quantity::ThicknessGrowth, growth, deviation, &method);
    estimate.conditions = Conditions::default();
    if measured.len() == 1 {
        estimate.warnings.push("one reading only; measure the middle and the corners".to_owned());
    }
    Ok(estimate)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::tests::nameplate;

    fn growth(nominal: Option<f64>, measured: &[f64]) -> Result<Estimate, String> {
        let plate = Nameplate { nominal_thickness_mm: nominal, ..nameplate(3.0) };
        thickness_growth(&plate, &Observations { thickness_mm: measured.to_vec(), ..Observations::default() })
    }

    #[test]
    fn the_thickest_point_counts() {
        let estimate = growth(Some(5.0), &[5.1, 5.6, 5.0]).unwrap();
        approx::assert_relative_eq!(estimate.value, 0.12, epsilon = 1e-9);
        assert!(estimate.standard_uncertainty >= GAUGE_MM / 5.0, "{estimate:?}");
    }

    #[test]
    fn a_thinner_reading_is_a_negative_growth() {
        assert!(growth(Some(5.0), &[4.9]).unwrap().value < 0.0);
    }

    #[test]
    fn without_label_or_reading_or_in_another_unit_there_is_no_number() {
        assert!(growth(None, &[5.0]).is_err());
        assert!(growth(Some(5.0), &[]).is_err());
        assert!(growth(Some(5.0), &[f64::NAN]).is_err());
        assert!(growth(Some(5.0), &[0.5]).unwrap_err().contains("both are in mm"));
    }
}
