//! Numbers about the cell, each with its uncertainty, method, conditions and warnings; or why there is none.
//!
//! One pure estimator per file: it takes a `Measurement` and gives an [`Estimate`] or a sentence that says why there
//! is none. [`all`] calls them in order and hands on what one needs of another. Nothing here knows of limits or fates.

mod against_count;
mod at_least;
mod capacity;
mod charge_at;
mod charge_part;
mod circuit;
mod class_resistance;
mod contact;
mod continuity;
mod cooling;
mod counted_charge;
mod crossing;
mod current_steps;
mod discharge;
mod discharge_end;
mod equivalent_circuit;
mod exponentials;
mod front_end;
mod full_start;
mod holes;
mod jump;
mod line_fit;
mod linear_algebra;
mod measurement;
mod median;
mod noise;
mod open_circuit;
mod partial_capacity;
mod pulse;
mod quantity;
mod rate_loss;
mod repeats;
mod resistance_25c;
mod resistance_at;
mod resistance_two_level;
mod rest_voltage;
mod scatter_of_points;
mod self_discharge;
mod sense_place;
mod settled_voltage;
mod several_cells;
mod shared_error;
mod state_of_charge;
mod step_down;
mod step_response;
mod temperature_rise;
mod thickness;
mod types;
mod under_load;
mod unfolded;
mod variable_projection;
mod visits;
mod voltage_drop;
mod wires;

#[cfg(any(test, feature = "test-support"))]
pub mod synthetic;
#[cfg(test)]
mod tests;

pub use equivalent_circuit::{Circuit, Figure, RcPair};
pub use front_end::{BUDGETED_CURRENT, BUDGETED_THERMOMETER, BUDGETED_VOLTAGE, Doubt, FrontEnd, SPRUNG_PINS};
pub use quantity::Quantity;
pub use resistance_25c::at_unknown_temperature;
pub use self_discharge::self_discharge;
pub use shared_error::SharedErrors;
pub use types::{Conditions, Estimate, Estimates};
pub use under_load::{HELD_S, UnderLoad, voltage_under_load};
pub use unfolded::unfolded;
pub use visits::Visit;

use crate::nameplate::Nameplate;
use crate::observation::Observations;
use crate::si::Seconds;
use crate::trace::Trace;
use current_steps::CurrentSteps;
use measurement::Measurement;

/// The resistances at an instant: quantity and time after the current rose.
const INSTANTS: [(Quantity, Seconds); 5] = [
    (Quantity::Resistance10Milliseconds, Seconds(0.01)),
    (Quantity::Resistance100Milliseconds, Seconds(0.1)),
    (Quantity::Resistance1Second, Seconds(1.0)),
    (Quantity::Resistance2Seconds, Seconds(2.0)),
    (Quantity::Resistance10Seconds, Seconds(10.0)),
];

/// Estimates everything that a trace and a look at the cell can tell.
pub fn all(
    trace: &Trace,
    nameplate: &Nameplate,
    observations: &Observations,
    front_end: &FrontEnd,
) -> Estimates {
    let front_end = &front_end.clone().sensing(observations.sensed_at);
    let m = Measurement::new(trace, nameplate, front_end);
    if let Some(why) = several_cells::several_cells(&m) {
        return only_warmth(&m, observations, &why);
    }
    let steps = CurrentSteps::of(&m);
    if let Some(why) = steps.contradiction() {
        return only_warmth(&m, observations, &why);
    }
    let mut estimates = Estimates::default();
    estimates.put(Quantity::RestVoltage, rest_voltage::rest_voltage(&m));
    estimates.put(Quantity::RestDrift, rest_voltage::rest_drift(&m));
    let (rest, drift) = (known(&estimates, Quantity::RestVoltage), known(&estimates, Quantity::RestDrift));
    let settled = settled_voltage::settled_voltage(rest, drift);
    estimates.put(Quantity::SettledVoltage, settled);
    let settled = known(&estimates, Quantity::SettledVoltage);
    let charge = state_of_charge::state_of_charge(&m, settled, observations.new_cell);
    estimates.put(Quantity::StateOfCharge, charge);

    put_resistances(&m, &mut estimates);
    let Observations { rested_h, charger_ended, .. } = *observations;
    let before = full_start::Before { rested_h, charger_ended };
    estimates.put(Quantity::Capacity, capacity::capacity(&m, &steps, before));
    let fraction = capacity::capacity_fraction(&m, known(&estimates, Quantity::Capacity));
    estimates.put(Quantity::CapacityFraction, fraction);
    put_bound(&m, &steps, &mut estimates);
    estimates.put(Quantity::CapacityFromPart, partial_capacity::capacity_from_part(&m, &steps));
    estimates.put(Quantity::CountedCharge, counted_charge::counted_charge(&m, &steps));

    estimates.put(Quantity::TemperatureRise, temperature_rise::temperature_rise(&m));
    estimates.put(Quantity::RestTemperatureRise, temperature_rise::rest_temperature_rise(&m));
    let charge = estimates.get(Quantity::StateOfCharge);
    let growth = thickness::thickness_growth(nameplate, observations, charge);
    estimates.put(Quantity::ThicknessGrowth, growth);
    for quantity in [Quantity::SelfDischarge, Quantity::SelfDischargePerMonth] {
        estimates.put(quantity, Err("needs the visits of the cell that the book knows".to_owned()));
    }
    add_common_warnings(&m, &mut estimates);
    sense_place::tell(observations.sensed_at, &mut estimates);
    wires::tell(observations.wires, &m, &mut estimates);
    estimates
}

/// Estimates what the capacity is at least, where it is not known itself.
fn put_bound(m: &Measurement<'_>, steps: &CurrentSteps, estimates: &mut Estimates) {
    let at_least = match estimates.get(Quantity::Capacity) {
        Some(_) => Err("the capacity itself is known".to_owned()),
        None => at_least::at_least(m, steps),
    };
    estimates.put(Quantity::CapacityAtLeast, at_least);
    let share = at_least::share(m, known(estimates, Quantity::CapacityAtLeast));
    estimates.put(Quantity::CapacityFractionAtLeast, share);
}

/// Estimates all resistances: as measured, then widened where the contacts changed, then what is concluded from them.
fn put_resistances(m: &Measurement<'_>, estimates: &mut Estimates) {
    estimates.put(Quantity::ResistanceTwoLevel, resistance_two_level::resistance_two_level(m));
    let pulses = pulse::pulses(m);
    for (quantity, after) in INSTANTS {
        estimates.put(quantity, resistance_at::resistance_at(m, &pulses, quantity, after));
    }
    let two_level = estimates.get(Quantity::ResistanceTwoLevel);
    let difference = contact::contact_difference(m, &pulses, two_level);
    estimates.put(Quantity::ContactDifference, difference);
    contact::widen(estimates);
    let without = charge_part::without_charge(m, known(estimates, Quantity::Resistance10Seconds));
    estimates.put(Quantity::Resistance10SecondsWithoutCharge, without);
    let sources = [estimates.get(Quantity::ResistanceTwoLevel), estimates.get(Quantity::Resistance1Second)];
    let corrected = resistance_25c::resistance_25c(m, sources);
    estimates.put(Quantity::Resistance25Celsius, corrected);
    let over_class = class_resistance::over_class(m, known(estimates, Quantity::Resistance25Celsius));
    estimates.put(Quantity::ResistanceOverClass, over_class);
    estimates.circuit = circuit::circuit(m, &pulses).ok();
}

/// Estimates what a look at the cell alone can tell, where nothing was measured electrically; `why` says why not.
pub fn without_trace(nameplate: &Nameplate, observations: &Observations, why: &str) -> Estimates {
    let mut estimates = Estimates::default();
    for quantity in Quantity::ALL {
        estimates.put(quantity, Err(why.to_owned()));
    }
    estimates.put(Quantity::ThicknessGrowth, thickness::thickness_growth(nameplate, observations, None));
    estimates
}

/// Estimates what is left where current and voltage say nothing about one cell: the temperatures, so that a hot cell is known.
fn only_warmth(m: &Measurement<'_>, observations: &Observations, why: &str) -> Estimates {
    let mut estimates = without_trace(m.nameplate, observations, why);
    estimates.put(Quantity::TemperatureRise, temperature_rise::temperature_rise(m));
    estimates.put(Quantity::RestTemperatureRise, temperature_rise::rest_temperature_rise(m));
    estimates
}

/// Returns an estimate, or why it is missing.
fn known(estimates: &Estimates, quantity: Quantity) -> Result<&Estimate, &str> {
    match estimates.get(quantity) {
        Some(estimate) => Ok(estimate),
        None => Err(estimates.missing.get(&quantity).map_or("not measured", String::as_str)),
    }
}

/// Puts what holds for the whole trace beside every number taken from it.
fn add_common_warnings(m: &Measurement<'_>, estimates: &mut Estimates) {
    let notes = m.trace.notes.iter().filter(|note| note.concerns_every_estimate()).map(ToString::to_string);
    let common: Vec<String> = notes.collect();
    for (quantity, estimate) in &mut estimates.measured {
        if *quantity == Quantity::ThicknessGrowth {
            continue; // measured by hand
        }
        estimate.warnings.extend(common.iter().cloned());
        let electrical = !matches!(quantity, Quantity::TemperatureRise | Quantity::RestTemperatureRise);
        estimate.warnings.extend(m.front_end.warning().filter(|_| electrical));
    }
}
