//! The part of a long pulse's resistance that is charge taken out, not resistance.
//!
//! A discharge lowers the voltage without load too: over 10 s at 0.5 It by 0.14 % of the charge, which reads as up to
//! several per cent of resistance where the curve is steep. IEC 61960-3 and the number "at 10 s" contain that part, so
//! it stays in them; here it is taken off, with the slope of the class table. (Left in, it over-states the resistance:
//! arXiv 2505.06410.)

use super::measurement::Measurement;
use super::open_circuit::curve;
use super::{Estimate, Quantity};
use crate::si::SECONDS_PER_HOUR;
use crate::uncertainty::{Input, Measurand};

/// Rated capacity over the cell's real one, and its standard uncertainty: a cell out of a device has 0.9 of it left, give
/// or take 0.15 (judged). The inverse enters the sum, so it is the inverse whose mean and spread are taken.
const RATED_OVER_LEFT: f64 = 1.14;
const RATED_OVER_LEFT_DEVIATION: f64 = 0.19;

/// Takes the charge's part off a resistance at a time.
pub(super) fn without_charge(
    m: &Measurement<'_>,
    measured: Result<&Estimate, &str>,
) -> Result<Estimate, String> {
    let measured = measured.map_err(str::to_owned)?;
    let rest = measured.conditions.rest_voltage_v.ok_or("the voltage before the pulse is not known")?;
    let after = measured.conditions.duration_s.ok_or("the time of the reading is not known")?;
    let (slope, slope_deviation) = curve(m.nameplate)?.slope_at(rest);
    let inputs = [
        measured.as_input("resistance as measured", "ohm"),
        Input::new("slope of the voltage over charge", "V", slope, slope_deviation),
        Input::new("rated over real capacity", "1", RATED_OVER_LEFT, RATED_OVER_LEFT_DEVIATION),
    ];
    let per_unit = after / SECONDS_PER_HOUR / m.nameplate.rated_capacity_ah;
    let part = slope * per_unit * RATED_OVER_LEFT;
    let budget =
        Measurand::new(inputs, |[resistance, slope, over]| resistance - slope * per_unit * over).budget();
    if part > 0.5 * measured.value {
        return Err("most of the drop is charge taken out; what remains is not told".to_owned());
    }
    let method = format!(
        "the same without the fall of the settled voltage by the charge taken out ({:.2} mOhm of it)",
        part * 1e3
    );
    let mut estimate = Estimate::of(Quantity::Resistance10SecondsWithoutCharge, budget, &method);
    estimate.conditions = measured.conditions.clone();
    estimate.warnings = measured.warnings.clone();
    Ok(estimate)
}
