//! Resistance over what cells of that size usually have.
//!
//! Resistance times capacity of eight phones and tablets, from the battery data in the device trees of public Linux
//! kernels (`default-rbatt-mohm`, `factory-internal-resistance`; pack level: protection, fuse, tabs and
//! connector included): 0.315, 0.344, 0.432, 0.25, 0.296, 0.384, 0.384, 0.34 Ohm Ah; mean 0.343, standard deviation
//! 0.058. A number far from 1 says that something is odd, never how much capacity is left; a bare cell without its
//! protection lies lower by 30 to 60 mOhm (common practice).

use super::measurement::Measurement;
use super::{Estimate, Quantity};
use crate::nameplate::{Chemistry, Form, Nameplate};
use crate::uncertainty::{AS_TWO, Input, Measurand, coverage_factor};

/// The published products in Ohm Ah: 210 mOhm x 1.5 Ah, 172 x 2.0, 188 x 2.3, 100 x 2.5, 102 x 2.9, 120 x 3.2, 96 x 4.0,
/// 85 x 4.0.
const PRODUCTS: [f64; 8] = [0.315, 0.344, 0.4324, 0.25, 0.2958, 0.384, 0.384, 0.34];

fn is_of_class(plate: &Nameplate) -> bool {
    matches!(plate.chemistry, Chemistry::Lco | Chemistry::LithiumIon) && plate.form != Form::Cylindrical
}

/// Estimates the resistance at 25 degC over the class's.
pub(super) fn over_class(m: &Measurement<'_>, at_25: Result<&Estimate, &str>) -> Result<Estimate, String> {
    let at_25 = at_25.map_err(|why| format!("no resistance at 25 degC: {why}"))?;
    let plate = m.nameplate;
    if !is_of_class(plate) {
        return Err("the class figures are those of flat cobalt cells for phones and tablets".to_owned());
    }
    let mean = Input::mean_of("usual resistance times capacity", "Ohm Ah", &PRODUCTS);
    let count = PRODUCTS.len() as f64;
    let class = Input {
        // One more cell of the class, not the class's mean: the spread counts, not its standard error.
        standard_uncertainty: mean.standard_uncertainty * (count + 1.0).sqrt(),
        ..mean
    };
    let inputs = [at_25.as_input("resistance at 25 degC", "ohm"), class];
    let rated = plate.rated_capacity_ah;
    let share = |input: &Input| input.standard_uncertainty / input.value;
    let spread = share(&inputs[0]).hypot(share(&inputs[1]));
    let budget = Measurand::new(inputs, |[resistance, class]| resistance * rated / class).budget();
    let method =
        "resistance at 25 degC times rated capacity, over 0.343 Ohm Ah (eight published pack profiles)";
    // A quotient by something known to a sixth is lopsided: the interval is symmetric in the logarithm.
    let factor = (coverage_factor(AS_TWO, budget.degrees_of_freedom) * spread).exp();
    let mut estimate = Estimate::of(Quantity::ResistanceOverClass, budget, method);
    estimate.interval = Some([estimate.value / factor, estimate.value * factor]);
    estimate.conditions = at_25.conditions.clone();
    estimate.warnings = at_25.warnings.clone();
    Ok(estimate)
}
