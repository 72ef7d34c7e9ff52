//! The voltage at which the cell would settle if it rested on: the rest voltage carried forward.
//!
//! Relaxation is not one exponential: its time constant grows about in step with the time rested (J. Power Sources 253
//! (2014) 412), so the voltage moves on by about as much for every doubling of the rest. Takes the movement per factor
//! e of time (slope times time rested) and lets between none and four such steps follow: a DFN model (Ai2020 after
//! 20 % of charge) has 1.0 to 2.7 left after 60 and 10 s, and real cells relax slower. After very long rests nothing
//! is left that this could tell from noise, and only the general doubt of a rest of that length remains.

use super::rest_voltage::{SETTLED, TO_COME, unrelaxed};
use super::{Estimate, Quantity};
use crate::si::{SECONDS_PER_HOUR, Seconds};
use crate::uncertainty::{Input, Measurand};

/// Steps of a factor e in time that may still follow, from none to this many.
const MOST_STEPS: f64 = 4.0;
/// A movement below this many standard uncertainties cannot be distinguished from zero.
const LEAST_SIGNIFICANCE: f64 = 2.0;
/// Nothing moves on for longer than this (20 h and more were seen: thermochemistry and equilibration time scales).
const LONGEST: Seconds = Seconds(24.0 * SECONDS_PER_HOUR);

/// Estimates the settled voltage from the rest voltage and its drift.
pub(super) fn settled_voltage(
    rest: Result<&Estimate, &str>,
    drift: Result<&Estimate, &str>,
) -> Result<Estimate, String> {
    let rest = rest.map_err(str::to_owned)?;
    let rested = Seconds(rest.conditions.duration_s.unwrap_or(0.0));
    // Without a drift, as after a very short rest, the general doubt has to do.
    let (slope, slope_deviation) = drift.map_or((0.0, f64::INFINITY), |drift| {
        (drift.value / SECONDS_PER_HOUR, drift.standard_uncertainty / SECONDS_PER_HOUR)
    });
    let moves = slope.abs() > LEAST_SIGNIFICANCE * slope_deviation;
    let step = if moves { slope * rested.0 } else { 0.0 };
    let most = MOST_STEPS.min((LONGEST / rested).max(1.0).ln());
    // The rest voltage's own allowance for relaxation gives way to a better one here.
    let read = rest.as_input_without("rest voltage, instrument only", "V", &[TO_COME]);
    let inputs = [
        read,
        Input::rectangular("steps of relaxation to come", "1", most / 2.0, most / 2.0),
        Input::new("relaxation that the drift does not show", "V", 0.0, unrelaxed(rested).0),
    ];
    let budget = Measurand::new(inputs, |[read, steps, unseen]| read + steps * step + unseen).budget();
    let method = "rest voltage carried on by its own relaxation, which slows down with time";
    let mut estimate = Estimate::of(Quantity::SettledVoltage, budget, method);
    estimate.conditions = rest.conditions.clone();
    estimate.warnings = rest.warnings.clone();
    if moves && rested < SETTLED && (step * most / 2.0).abs() > unrelaxed(rested).0 {
        let text = format!("carried on by {:+.1} mV beyond the rest's end", step * most / 2.0 * 1e3);
        estimate.warnings.push(text);
    }
    Ok(estimate)
}
