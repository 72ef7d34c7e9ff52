//! How much thicker the cell is than it was made.
//!
//! Takes the thicknesses a person measured; the thickest point counts, since a swollen cell bulges in the middle. One to
//! three per cent come and go with the state of charge (from memory): what the charge at the time of measuring accounts
//! for is taken off, half of it stays as doubt. Repeated readings of a point tell how well it can be read.

use super::{Estimate, Quantity};
use crate::nameplate::{Nameplate, ThicknessFrom};
use crate::observation::Observations;
use crate::uncertainty::{Input, Measurand};

/// What every reading of a digital calliper shares, in mm: its error limit of 0.03 mm (DIN 862, from memory) taken as
/// rectangular, and the film giving way under the jaws (common practice).
const GAUGE_MM: f64 = 0.03;
/// Scatter of one reading on a soft cell, in mm, where it was not repeated (common practice).
const SCATTER_MM: f64 = 0.04;
/// Readings that agree by chance are not believed to scatter less than this, in mm: the resolution of a calliper.
const LEAST_SCATTER_MM: f64 = 0.01;
/// Growth from empty to full, as a share: 1 to 3 %, rectangular (from memory).
const BREATHING: f64 = 0.02;
const BREATHING_DOUBT: f64 = 0.01;
/// State of charge at which makers measure the thickness they state: as delivered (from memory: 30 to 50 %).
const STATED_AT: f64 = 0.4;

/// Returns what the nominal thickness is taken as, and its standard uncertainty, in mm.
fn nominal(figure: f64, from: ThicknessFrom) -> (f64, f64) {
    match from {
        // Rounded to 0.1 mm: 0.05 mm to either side.
        ThicknessFrom::Label | ThicknessFrom::Drawing => (figure, 0.05 / 3f64.sqrt()),
        // Rounded up to whole millimetres (IEC 61960-3, from memory): the cell is up to 1 mm thinner.
        ThicknessFrom::SizeCode => (figure - 0.5, 0.5 / 3f64.sqrt()),
        ThicknessFrom::NewCell => (figure, GAUGE_MM.hypot(SCATTER_MM)),
    }
}

/// Estimates the growth as a share of the nominal thickness; `charge` is the state of charge, where it is known.
pub(super) fn thickness_growth(
    nameplate: &Nameplate,
    observations: &Observations,
    charge: Option<&Estimate>,
) -> Result<Estimate, String> {
    let figure = nameplate.nominal_thickness_mm.ok_or("the nameplate has no nominal thickness")?;
    let (made, made_doubt) = nominal(figure, nameplate.thickness_from);
    let points = &observations.thickness_mm;
    let plausible = |thickness: &f64| thickness.is_finite() && *thickness > 0.0;
    let sound = points.iter().enumerate().filter(|(_, thickness)| plausible(thickness));
    let (index, thickest) =
        sound.clone().max_by(|a, b| a.1.total_cmp(b.1)).ok_or("no thickness was measured")?;
    if !(0.5..=3.0).contains(&(thickest / made)) {
        return Err(format!("{thickest} mm against {figure} mm on the label: check that both are in mm"));
    }
    let (scatter, repeated) = scatter(observations, index);
    let free = repeated.map_or(f64::INFINITY, |free| free as f64);
    let breathed = charge.map_or(0.0, |charge| BREATHING * (charge.value - STATED_AT));
    let breathed_doubt = match charge {
        Some(charge) => ((charge.value - STATED_AT) * BREATHING_DOUBT / 3f64.sqrt())
            .hypot(BREATHING * charge.standard_uncertainty),
        // Anywhere between empty and full.
        None => 0.5 * BREATHING / 3f64.sqrt(),
    };
    let mut method = format!("thickest of {} points over the nominal thickness", sound.count());
    if repeated.is_some() {
        method.push_str(", scatter from repeated readings");
    }
    match charge {
        Some(charge) => method.push_str(&format!(
            "; {:+.1} % for breathing at {:.0} % charge",
            -breathed * 100.0,
            charge.value * 100.0
        )),
        None => method.push_str("; charge not known, 1 to 3 % of breathing in the doubt"),
    }
    let inputs = [
        Input::new("thickest point", "mm", *thickest, scatter).with_degrees_of_freedom(free),
        Input::new("error of the calliper", "mm", 0.0, GAUGE_MM),
        Input::new("thickness it was made with", "mm", made, made_doubt),
        Input::new("breathing with the charge", "1", breathed, breathed_doubt),
    ];
    let grown = |[thickest, error, made, breathed]: [f64; 4]| (thickest + error) / made - 1.0 - breathed;
    let budget = Measurand::new(inputs, grown).budget();
    let mut estimate = Estimate::of(Quantity::ThicknessGrowth, budget, &method);
    if points.len() == 1 {
        estimate.warnings.push("one point only; measure the middle and the corners".to_owned());
    }
    match nameplate.thickness_from {
        ThicknessFrom::Drawing => estimate.warnings.push(
            "a drawing gives the largest thickness of a new cell; this one may have grown by more".to_owned(),
        ),
        ThicknessFrom::SizeCode => {
            estimate
                .warnings
                .push("a size code is rounded up to whole millimetres; a new cell tells more".to_owned());
        }
        ThicknessFrom::Label | ThicknessFrom::NewCell => {}
    }
    Ok(estimate)
}

/// Returns the standard uncertainty of a point's mean; where all repeated readings tell their scatter, with its degrees of
/// freedom.
fn scatter(observations: &Observations, point: usize) -> (f64, Option<usize>) {
    let readings = &observations.thickness_readings_mm;
    let (mut squares, mut free) = (0.0, 0usize);
    for repeated in readings.iter().filter(|readings| readings.len() > 1) {
        let mean = repeated.iter().sum::<f64>() / repeated.len() as f64;
        squares += repeated.iter().map(|one| (one - mean).powi(2)).sum::<f64>();
        free += repeated.len() - 1;
    }
    let count = readings.get(point).map_or(1, |readings| readings.len().max(1)) as f64;
    // Two readings that agree tell little: below three degrees of freedom the usual scatter stays.
    let (one, repeated) = match free {
        0..3 => (SCATTER_MM.max((squares / free.max(1) as f64).sqrt()), None),
        free => ((squares / free as f64).sqrt().max(LEAST_SCATTER_MM), Some(free)),
    };
    (one / count.sqrt(), repeated)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::tests::nameplate;

    fn growth(nominal: Option<f64>, measured: &[f64]) -> Result<Estimate, String> {
        let plate = Nameplate { nominal_thickness_mm: nominal, ..nameplate(3.0) };
        thickness_growth(
            &plate,
            &Observations { thickness_mm: measured.to_vec(), ..Observations::default() },
            None,
        )
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

    fn read(nominal: f64, from: ThicknessFrom, points: &[&[f64]], charge: Option<f64>) -> Estimate {
        let plate = Nameplate { nominal_thickness_mm: Some(nominal), thickness_from: from, ..nameplate(3.0) };
        let mut observations = Observations::default();
        points.iter().for_each(|point| observations.add_thickness(point.to_vec()));
        let charge = charge.map(|charge| Estimate::new(Quantity::StateOfCharge, charge, 0.03, "test"));
        thickness_growth(&plate, &observations, charge.as_ref()).unwrap()
    }

    #[test]
    fn repeated_readings_tell_their_own_scatter() {
        let once = read(5.0, ThicknessFrom::Label, &[&[5.1], &[5.2]], None);
        let quiet = read(5.0, ThicknessFrom::Label, &[&[5.1, 5.11, 5.09], &[5.2, 5.21, 5.19]], None);
        let rough = read(5.0, ThicknessFrom::Label, &[&[5.0, 5.2, 5.1], &[5.1, 5.3, 5.2]], None);
        approx::assert_relative_eq!(quiet.value, once.value, epsilon = 1e-9);
        assert!(quiet.standard_uncertainty < once.standard_uncertainty);
        assert!(rough.standard_uncertainty > once.standard_uncertainty);
        // Pooled scatter of 0.1 mm over three readings of the thickest point. The budget takes secants, not tangents.
        let others = [GAUGE_MM / 5.0, 0.05 / 3f64.sqrt() * 5.2 / 25.0, 0.01 / 3f64.sqrt()];
        let expected = others.iter().fold(0.1 / 3f64.sqrt() / 5.0, |sum: f64, share| sum.hypot(*share));
        approx::assert_relative_eq!(rough.standard_uncertainty, expected, max_relative = 1e-4);
        // Two points of three readings leave four degrees of freedom to that line; the others are taken as known.
        let own: f64 = 0.1 / 3f64.sqrt() / 5.0;
        let degrees = 4.0 * (expected / own).powi(4);
        approx::assert_relative_eq!(rough.degrees_of_freedom.unwrap(), degrees, max_relative = 1e-3);
        assert!(rough.coverage() > 2.1 && once.coverage() == 2.0, "{}", rough.coverage());
    }

    #[test]
    fn what_the_charge_accounts_for_is_taken_off() {
        let at = |charge| read(5.0, ThicknessFrom::Label, &[&[5.1, 5.1], &[5.0]], charge);
        // 2 % of growth; full cells are 1.2 % thicker than as delivered.
        approx::assert_relative_eq!(at(Some(1.0)).value, 0.02 - 0.012, epsilon = 1e-9);
        approx::assert_relative_eq!(at(Some(0.4)).value, 0.02, epsilon = 1e-9);
        assert!(at(None).standard_uncertainty > at(Some(0.4)).standard_uncertainty);
    }

    #[test]
    fn a_size_code_is_known_to_half_a_millimetre_and_says_so() {
        let code = read(6.0, ThicknessFrom::SizeCode, &[&[5.6]], None);
        approx::assert_relative_eq!(code.value, 5.6 / 5.5 - 1.0, epsilon = 1e-9);
        assert!(code.standard_uncertainty > 0.05 && code.warnings.len() == 2, "{code:?}");
        assert!(read(6.0, ThicknessFrom::Drawing, &[&[6.1], &[6.0]], None).warnings[0].contains("drawing"));
    }
}
