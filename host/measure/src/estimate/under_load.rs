//! What a cell's voltage will be under a current that was not tried.
//!
//! Input: the estimates of a screen and a current; output: the voltage after [`HELD_S`] of it at the cell's present charge and temperature,
//! with its budget, or why it cannot be told. The resistance after ten seconds was measured at another current: it falls by 6 % per
//! factor e of current, and cells differ in that by 4 % (as the contact check has it, `contact.rs`), so a current far from the measured
//! one is refused and not guessed.

use super::contact::{PER_E_FOLD, PER_E_FOLD_DEVIATION};
use super::{Estimate, Estimates, Quantity};
use crate::uncertainty::{Budget, Input, Measurand};

/// For how long the current flows, in s: as long as the pulse on which the resistance was read.
pub const HELD_S: f64 = 10.0;
/// The current may lie so many times above or below the measured one (our choice: within it the fall of the resistance is known).
const FARTHEST: f64 = 5.0;

/// Voltage under a current, and what it was made from.
#[derive(Clone, Debug)]
pub struct UnderLoad {
    /// The voltage in V.
    pub budget: Budget,
    /// The voltage at rest from which it falls, in V.
    pub rest_v: f64,
    /// The fall in V.
    pub fall_v: f64,
    /// The current at which the resistance was measured, in A.
    pub measured_at_a: f64,
}

/// Predicts the voltage after [`HELD_S`] of a current in A.
///
/// # Errors
/// What was not measured, or how far the current lies from the measured one.
pub fn voltage_under_load(estimates: &Estimates, current_a: f64) -> Result<UnderLoad, String> {
    let of = |quantity: Quantity| -> Result<&Estimate, String> {
        let why = || estimates.missing.get(&quantity).cloned().unwrap_or_else(|| "not measured".to_owned());
        estimates.get(quantity).ok_or_else(why)
    };
    let rest = of(Quantity::RestVoltage).map_err(|why| format!("no voltage at rest: {why}"))?;
    let resistance =
        of(Quantity::Resistance10Seconds).map_err(|why| format!("no resistance at 10 s: {why}"))?;
    let measured_at_a = resistance.conditions.current_a.filter(|measured| *measured > 0.0);
    let measured_at_a = measured_at_a.ok_or("the current of the resistance is not known")?;
    let ratio = current_a / measured_at_a;
    if !(1.0 / FARTHEST..=FARTHEST).contains(&ratio) {
        return Err(format!(
            "the resistance was measured at {measured_at_a:.2} A; {current_a:.2} A is more than {FARTHEST} times away from that"
        ));
    }
    let inputs = [
        rest.as_input("voltage at rest", "V"),
        resistance.as_input("resistance at 10 s", "ohm"),
        Input::new("fall of resistance per factor e of current", "1", PER_E_FOLD, PER_E_FOLD_DEVIATION),
    ];
    let folds = ratio.ln();
    let fall = |resistance: f64, per_fold: f64| current_a * resistance * (1.0 - per_fold * folds);
    let voltage = |[rest, resistance, per_fold]: [f64; 3]| rest - fall(resistance, per_fold);
    let fall_v = fall(resistance.value, PER_E_FOLD);
    let budget = Measurand::new(inputs, voltage).budget();
    Ok(UnderLoad { budget, rest_v: rest.value, fall_v, measured_at_a })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::E;

    fn screened(rest_v: f64, ohm: f64, at_a: f64) -> Estimates {
        let mut estimates = Estimates::default();
        estimates.put(Quantity::RestVoltage, Ok(Estimate::new(Quantity::RestVoltage, rest_v, 0.002, "test")));
        let mut resistance = Estimate::new(Quantity::Resistance10Seconds, ohm, 0.001, "test");
        resistance.conditions.current_a = Some(at_a);
        estimates.put(Quantity::Resistance10Seconds, Ok(resistance));
        estimates
    }

    #[test]
    fn at_the_measured_current_it_is_ohms_law() {
        let told = voltage_under_load(&screened(3.9, 0.1, 1.5), 1.5).unwrap();
        approx::assert_relative_eq!(told.budget.value, 3.75, epsilon = 1e-12);
        approx::assert_relative_eq!(
            told.budget.standard_uncertainty,
            0.002f64.hypot(1.5 * 0.001),
            max_relative = 1e-6
        );
    }

    #[test]
    fn a_larger_current_meets_less_resistance_and_more_doubt() {
        let told = voltage_under_load(&screened(3.9, 0.1, 1.0), E).unwrap();
        approx::assert_relative_eq!(told.fall_v, 0.1 * E * 0.94, max_relative = 1e-9);
        let of_current = 0.1 * E * 0.04;
        assert!(told.budget.standard_uncertainty > of_current, "{told:?}");
    }

    #[test]
    fn what_is_far_away_or_not_measured_is_refused() {
        assert!(voltage_under_load(&screened(3.9, 0.1, 1.0), 5.1).unwrap_err().contains("5 times"));
        assert!(voltage_under_load(&screened(3.9, 0.1, 1.0), 0.1).unwrap_err().contains("5 times"));
        let mut without = screened(3.9, 0.1, 1.0);
        without.measured.remove(&Quantity::Resistance10Seconds);
        assert!(voltage_under_load(&without, 1.0).unwrap_err().contains("resistance at 10 s"));
    }
}
