//! What is true of the numbers that a run is to tell.
//!
//! Truths come from the drawn cell alone, without noise and errors, by the definitions in `host/JSON.md`; nothing here
//! calls the estimators' code.

use crate::cell::{Cell, DAY_S};
use crate::meter::Meter;
use crate::response::State;
use crate::run::{END_V, Run};
use celltriage_measure::estimate::Quantity;
use std::collections::BTreeMap;

/// True values.
pub type Truths = BTreeMap<Quantity, f64>;

const INSTANTS: [(Quantity, f64); 5] = [
    (Quantity::Resistance10Milliseconds, 0.01),
    (Quantity::Resistance100Milliseconds, 0.1),
    (Quantity::Resistance1Second, 1.0),
    (Quantity::Resistance2Seconds, 2.0),
    (Quantity::Resistance10Seconds, 10.0),
];

/// Returns what is true of everything that shows in a run; `states` are those at the start of each step and at the end.
pub fn of_run(cell: &Cell, meter: &Meter, run: &Run, states: &[State]) -> Truths {
    let mut truth = Truths::new();
    let rested = states[run.first_load.unwrap_or(run.steps.len())];
    // Rested without end, where nothing is left to relax.
    let settled_v = cell.open_v(rested.soc, cell.air_c + rested.rise_k);
    truth.insert(Quantity::RestVoltage, settled_v);
    truth.insert(Quantity::SettledVoltage, settled_v);
    truth.insert(Quantity::StateOfCharge, rested.soc);
    let moved = cell.unrelaxed_v(rested.time_s) - cell.unrelaxed_v(rested.time_s / 2.0);
    truth.insert(Quantity::RestDrift, moved / (rested.time_s / 2.0) * 3600.0);
    truth.insert(Quantity::RestTemperatureRise, cell.warm_k);
    truth.insert(Quantity::CountedCharge, states[run.steps.len()].taken_ah);
    let warmest = states[1..].iter().map(|state| state.rise_k).fold(f64::MIN, f64::max);
    truth.insert(Quantity::TemperatureRise, warmest);
    let loads_again = |first: &usize| run.steps.get(first + 1).is_some_and(|step| step.current_a > 0.0);
    if let Some(first) = run.first_load.filter(loads_again) {
        let levels_a = [run.steps[first].current_a, run.steps[first + 1].current_a];
        truth.insert(Quantity::ResistanceTwoLevel, cell.two_level_from(&rested, levels_a));
        // The same cell in a room in which it is at 25 degC.
        let mut warm = cell.clone();
        warm.air_c = 25.0 - cell.warm_k;
        let at_25_ohm = warm.two_level_from(&rested, levels_a);
        truth.insert(Quantity::Resistance25Celsius, at_25_ohm);
        // Over what a new cell of its own model has, which the program does not know: it only knows other models.
        truth.insert(Quantity::ResistanceOverClass, at_25_ohm * cell.rated_ah / cell.new_ohm_ah);
    }
    if let Some(pulse) = run.pulse {
        let current_a = run.steps[pulse].current_a;
        for (quantity, seconds) in
            INSTANTS.into_iter().filter(|(_, seconds)| *seconds <= run.steps[pulse].seconds)
        {
            truth.insert(quantity, cell.instant_ohm(&states[pulse], current_a, seconds));
        }
        if truth.contains_key(&Quantity::Resistance10Seconds) {
            let without = without_charge_ohm(cell, &states[pulse], current_a);
            truth.insert(Quantity::Resistance10SecondsWithoutCharge, without);
        }
    }
    if let Some(pulses) = run.compared {
        truth.insert(Quantity::ContactDifference, contact_difference(cell, meter, run, states, pulses));
    }
    if let Some(discharge) = run.discharge {
        let capacity_ah = capacity_ah(cell, &states[discharge], run.steps[discharge].current_a);
        truth.insert(Quantity::Capacity, capacity_ah);
        truth.insert(Quantity::CapacityFraction, capacity_ah / cell.rated_ah);
    }
    truth
}

/// Returns by how much the later pulse's resistance at 1 s lies over the earlier one's, contacts included, beyond what
/// this cell's own current does to it.
fn contact_difference(cell: &Cell, meter: &Meter, run: &Run, states: &[State], pulses: [usize; 2]) -> f64 {
    let [earlier, later] = pulses.map(|index| {
        let current_a = run.steps[index].current_a;
        let contact_ohm = meter.contact_ohm + run.slip.in_step(index);
        (cell.instant_ohm(&states[index], current_a, 1.0) + contact_ohm, cell.ease(current_a))
    });
    later.0 / earlier.0 * earlier.1 / later.1 - 1.0
}

/// Returns the resistance at 10 s without the fall of the settled voltage by the charge taken out.
fn without_charge_ohm(cell: &Cell, rested: &State, current_a: f64) -> f64 {
    let mut loaded = *rested;
    cell.advance(&mut loaded, current_a, 10.0);
    let cell_c = cell.air_c + rested.rise_k;
    let fallen_v = cell.open_v(rested.soc, cell_c) - cell.open_v(loaded.soc, cell_c);
    cell.instant_ohm(rested, current_a, 10.0) - fallen_v / current_a
}

/// Returns the charge between full and the end voltage under a current that goes on from a state.
pub fn capacity_ah(cell: &Cell, begin: &State, current_a: f64) -> f64 {
    let missing_ah = (1.0 - cell.start_soc) * cell.charge_ah;
    let mut state = *begin;
    loop {
        let (before, before_v) = (state.taken_ah, cell.voltage_v(&state, current_a));
        cell.advance(&mut state, current_a, 1.0);
        let voltage_v = cell.voltage_v(&state, current_a);
        if voltage_v <= END_V {
            let part = ((before_v - END_V) / (before_v - voltage_v)).clamp(0.0, 1.0);
            return missing_ah + before + (state.taken_ah - before) * part;
        }
    }
}

/// Returns what a cell has lost between two rest voltages, V a day and share of the whole charge a month, at one
/// temperature and apart from what tests took out.
pub fn self_discharge(cell: &Cell, days: f64) -> Truths {
    let soc = cell.start_soc - cell.loss_per_month * days / 30.0;
    let lost_v = cell.open_v(cell.start_soc, 25.0) - cell.open_v(soc, 25.0);
    let month = (Quantity::SelfDischargePerMonth, cell.loss_per_month);
    [(Quantity::SelfDischarge, lost_v / days), month].into()
}

/// Returns the cell as it lies there some days later, in a room that is a little warmer or cooler.
pub fn days_later(cell: &Cell, days: f64, warmer_k: f64) -> Cell {
    Cell {
        start_soc: cell.start_soc - cell.loss_per_month * days / 30.0,
        air_c: cell.air_c + warmer_k,
        last_used_s: cell.last_used_s + days * DAY_S,
        ..cell.clone()
    }
}
