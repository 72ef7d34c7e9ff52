//! How much thicker the cell is than it was made.
//!
//! Takes the thicknesses a person measured; the thickest point counts, since a swollen cell bulges in the middle. One to
//! three per cent come and go with the state of charge (from memory): what the charge at the time of measuring accounts
//! for is taken off, half of it stays as doubt. Repeated readings of a point show how well it can be read. The thickest of
//! several readings is too thick by part of their scatter where the points are alike (`scatter_of_points.rs`). A cell does
//! not shrink: a growth far below zero says that a figure is wrong, and is doubted by as much.

use super::scatter_of_points::{SCATTER_MM, largest_of, scatter, too_thick};
use super::{Estimate, Quantity};
use crate::nameplate::{Nameplate, ThicknessFrom};
use crate::observation::Observations;
use crate::uncertainty::{Input, Measurand};

/// What every reading of a digital calliper shares, in mm: its error limit of 0.03 mm (DIN 862, from memory) taken as
/// rectangular, and the film giving way under the jaws (common practice).
const GAUGE_MM: f64 = 0.03;
/// Growth from empty to full, as a share: 1 to 3 %, rectangular (from memory).
const BREATHING: f64 = 0.02;
const BREATHING_HALF_RANGE: f64 = 0.01;
/// State of charge at which makers measure the thickness they state: as delivered (from memory: 30 to 50 %).
const STATED_AT: f64 = 0.4;
/// State of charge of a cell of which nothing is known: anywhere between empty and full.
const ANY_CHARGE: (f64, f64) = (0.5, 0.5 / SQRT_3);
/// A drawing states a largest size; the made one lies below by up to this share of it, rectangular. Two published cell
/// specifications allow 0.5 mm to either side of 8.8 and 9.2 mm (documents Q/WMDCJ03415-2008 and Q/WMDCJ06005-2004, their
/// item 2.3): 11 and 10 % from the largest to the smallest; 0.2 mm of 3.5 mm, as is common for thin cells (from memory), are
/// 11 %.
const DRAWING_ABOVE_MADE: f64 = 0.12;
/// Rounding up to whole millimetres makes a size code larger than the cell by up to this, in mm (IEC 61960-3, from memory).
const SIZE_CODE_ABOVE_MADE_MM: f64 = 1.0;
const SQRT_3: f64 = 1.732_050_807_568_877_2;

/// Returns what the nominal thickness is taken as, and its standard uncertainty, in mm.
fn nominal(figure: f64, from: ThicknessFrom) -> (f64, f64) {
    let largest_size = |above: f64| (figure - 0.5 * above, 0.5 * above / SQRT_3);
    match from {
        // Rounded to 0.1 mm: 0.05 mm to either side.
        ThicknessFrom::Label => (figure, 0.05 / SQRT_3),
        ThicknessFrom::Drawing => largest_size(DRAWING_ABOVE_MADE * figure),
        ThicknessFrom::SizeCode => largest_size(SIZE_CODE_ABOVE_MADE_MM),
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
    let plausible = |thickness: &f64| thickness.is_finite() && *thickness > 0.0;
    let points: Vec<(usize, f64)> =
        observations.thickness_mm.iter().copied().enumerate().filter(|(_, one)| plausible(one)).collect();
    let (index, thickest) = largest_of(&points).ok_or("no thickness was measured")?;
    if !(0.5..=3.0).contains(&(thickest / made)) {
        return Err(format!("{thickest} mm against {figure} mm on the label: check that both are in mm"));
    }
    let (scatter, repeated) = scatter(observations, index);
    let free = repeated.map_or(f64::INFINITY, |free| free as f64);
    let (excess, excess_doubt) = too_thick(&points, thickest, scatter);
    let (held, held_doubt) = charge.map_or(ANY_CHARGE, |charge| (charge.value, charge.standard_uncertainty));
    let breathed = BREATHING * (held - STATED_AT);
    let slope_doubt = BREATHING_HALF_RANGE / SQRT_3;
    let breathed_doubt =
        ((held - STATED_AT) * slope_doubt).hypot(BREATHING * held_doubt).hypot(slope_doubt * held_doubt);
    let inputs = |unexplained: f64| {
        [
            Input::new("thickest point", "mm", thickest, scatter).with_degrees_of_freedom(free),
            Input::new("thickest by scatter alone", "mm", excess, excess_doubt),
            Input::new("error of the calliper", "mm", 0.0, GAUGE_MM),
            Input::new("thickness it was made with", "mm", made, made_doubt),
            Input::new("breathing with the charge", "1", breathed, breathed_doubt),
            // Seen once: one degree of freedom.
            Input::new("thinner than made, unexplained", "1", 0.0, unexplained).with_degrees_of_freedom(1.0),
        ]
    };
    let grown = |[thickest, excess, error, made, breathed, unexplained]: [f64; 6]| {
        (thickest - excess + error) / made - 1.0 - breathed + unexplained
    };
    let method = method(points.len(), repeated.is_some(), breathed, charge);
    let plain = Estimate::of(Quantity::ThicknessGrowth, Measurand::new(inputs(0.0), grown).budget(), &method);
    // Twice the expanded uncertainty below zero.
    let is_too_thin = plain.value < -2.0 * plain.coverage() * plain.standard_uncertainty;
    let mut estimate = match is_too_thin {
        true => {
            let budget = Measurand::new(inputs(plain.value.abs()), grown).budget();
            Estimate::of(Quantity::ThicknessGrowth, budget, &method)
        }
        false => plain,
    };
    estimate.warnings = warnings(nameplate.thickness_from, points.len(), is_too_thin);
    Ok(estimate)
}

fn method(points: usize, is_repeated: bool, breathed: f64, charge: Option<&Estimate>) -> String {
    let which = if points == 1 { "one point".to_owned() } else { format!("thickest of {points} points") };
    let repeated = if is_repeated { ", scatter from repeated readings" } else { "" };
    let taken_off = -breathed * 100.0;
    let charge = match charge {
        Some(charge) => format!("{taken_off:+.1} % for breathing at {:.0} % charge", charge.value * 100.0),
        None => format!("{taken_off:+.1} % for breathing at any charge, which is not known"),
    };
    format!("{which} over the nominal thickness{repeated}; {charge}")
}

fn warnings(from: ThicknessFrom, points: usize, is_too_thin: bool) -> Vec<String> {
    let one = (points == 1).then_some("one point only; measure the middle and the corners");
    let stated = match from {
        ThicknessFrom::Drawing => Some(
            "a drawing gives the largest thickness of a new cell; it was made thinner by up to 12 %, a new cell tells more",
        ),
        ThicknessFrom::SizeCode => {
            Some("a size code is rounded up to whole millimetres; a new cell tells more")
        }
        ThicknessFrom::Label | ThicknessFrom::NewCell => None,
    };
    let thin = is_too_thin.then_some(
        "thinner than it was made, which no cell becomes: check the readings (a decimal comma?), the figure on the label, and \
         whether it states a largest size",
    );
    [one, stated, thin].into_iter().flatten().map(str::to_owned).collect()
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
        // 12 % less what an unknown charge accounts for on the mean: 2 % of 10 % of charge.
        approx::assert_relative_eq!(estimate.value, 0.118, epsilon = 1e-9);
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
        // Quiet readings tell the points apart, so that nothing is taken off for the scatter.
        assert!(quiet.value > once.value);
        assert!(quiet.standard_uncertainty < once.standard_uncertainty);
        assert!(rough.standard_uncertainty > once.standard_uncertainty);
        // Pooled scatter of 0.1 mm over three readings of the thickest point. The budget takes secants, not tangents.
        // Breathing of 1 to 3 % of a charge anywhere from 0 to 1: the product of two rectangles, its first at 0.1 from stated.
        let breathing = (0.02 * 0.5f64).hypot(0.01 * 0.1).hypot(0.01 * 0.5 / 3f64.sqrt()) / 3f64.sqrt();
        // Both points are alike within that scatter: a normal pair's larger one is 0.5642 deviations too large.
        let excess = 0.5 * 0.56419 * 0.1 / 3f64.sqrt();
        let others = [
            GAUGE_MM / 5.0,
            0.05 / 3f64.sqrt() * (5.2 - excess) / 25.0,
            breathing,
            excess / 3f64.sqrt() / 5.0,
        ];
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
        approx::assert_relative_eq!(code.value, 5.6 / 5.5 - 1.0 - 0.002, epsilon = 1e-9);
        assert!(code.standard_uncertainty > 0.05 && code.warnings.len() == 2, "{code:?}");
    }

    /// A cell made at 3.2 mm and swollen to 3.5 reads what its drawing allows at most; no such reading may pass 5 %.
    #[test]
    fn what_a_drawing_allows_at_most_does_not_pass_with_confidence() {
        for reading in [3.3, 3.5] {
            let grown = read(3.5, ThicknessFrom::Drawing, &[&[reading, reading, reading]], Some(0.4));
            assert!(grown.value + 1.645 * grown.standard_uncertainty > 0.05, "{reading}: {grown:?}");
            assert!(
                grown.value - 2.0 * grown.standard_uncertainty < reading / 3.5 - 1.0,
                "{reading}: {grown:?}"
            );
            assert!(grown.warnings.iter().any(|one| one.contains("drawing")));
        }
        let label = read(3.5, ThicknessFrom::Label, &[&[3.5, 3.5, 3.5]], Some(0.4));
        assert!(label.value + 1.645 * label.standard_uncertainty < 0.05, "{label:?}");
    }

    /// 3,3 typed for 3.3 was read as 3 and 3: 7 % thinner than made, and it passed.
    #[test]
    fn a_cell_thinner_than_it_was_made_is_doubted_by_as_much() {
        let thin = read(3.2, ThicknessFrom::Label, &[&[2.9], &[2.9], &[2.9]], Some(0.4));
        assert!(thin.warnings.iter().any(|one| one.contains("thinner")), "{thin:?}");
        assert!(thin.degrees_of_freedom.unwrap() < 1.5);
        assert!(thin.value + thin.coverage() * thin.standard_uncertainty > 0.05, "{thin:?}");
        let sound = read(3.2, ThicknessFrom::Label, &[&[3.15], &[3.15], &[3.15]], Some(0.4));
        assert!(sound.warnings.is_empty() && sound.degrees_of_freedom.is_none(), "{sound:?}");
    }

    /// Flat cells of 3.2 mm measured at many points: the interval holds the truth as often as it says, give or take two
    /// standard deviations of counting, and the mean is off by less than half of what scatter alone adds.
    #[test]
    fn the_thickest_of_many_points_is_not_taken_as_growth() {
        use rand::{Rng, SeedableRng};
        use rand_distr::{Distribution, StandardNormal};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        for (points, by_scatter) in [(1, 0.0), (3, 0.0106), (5, 0.0145), (9, 0.0186)] {
            let (mut held, mut sum) = (0, 0.0);
            let cells = 2_000;
            for _ in 0..cells {
                let mut normal = |deviation: f64| {
                    let z: f64 = StandardNormal.sample(&mut random);
                    deviation * z
                };
                let shared = normal(GAUGE_MM);
                let readings: Vec<f64> = (0..points).map(|_| 3.2 + shared + normal(0.04)).collect();
                let label = 3.2 + random.random_range(-0.05..0.05);
                let each: Vec<&[f64]> = readings.chunks(1).collect();
                let found = read(label, ThicknessFrom::Label, &each, Some(0.4));
                held += u32::from(found.value.abs() < 1.96 * found.standard_uncertainty);
                sum += found.value;
            }
            let (share, mean) = (f64::from(held) / f64::from(cells), sum / f64::from(cells));
            assert!((0.93..=0.985).contains(&share), "{points} points: {share}");
            assert!(mean.abs() < 0.5 * by_scatter + 0.002, "{points} points: {mean}");
        }
    }
}
