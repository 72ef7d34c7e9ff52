//! A simulated lithium-ion cell: rested voltage, series resistance, resistor-capacitor pairs, heat, charge.
//!
//! Takes spans of constant current, of any length; gives the mean voltage of each. Within a span the pairs, the heat
//! they make and the temperature follow their closed forms, so that many short spans and one long one agree; only the
//! resistances are held at what they are when the span begins (they move with state of charge and temperature).
//!
//! What is *not* modelled: reversible heat, the temperature coefficient of the rested voltage, hysteresis, diffusion
//! that is not a sum of exponentials. Relaxation is therefore tidier than in a real cell.

use crate::parameters::{CellParameters, MOST_PAIRS};
use crate::table::Place;

/// Resistances are given at this temperature.
const REFERENCE_C: f64 = 25.0;
/// Relative fall of all resistances per kelvin below 25 degC: published device battery profiles of phone cells rise
/// to 2.3 to 3.0 times at 0 degC, which is 3.3 to 4.3 % per kelvin; the middle of it.
const COLD_PER_K: f64 = 0.038;
/// The same above 25 degC: 0.82 to 0.87 times at 40 degC, which is 0.9 to 1.3 % per kelvin; the middle of it.
const WARM_PER_K: f64 = 0.011;
/// Spans whose exponentials are remembered.
const REMEMBERED: usize = 32;

/// What has happened to the exponentials after a span: `1 - exp(-span / time constant)` of each pair and of the heat.
#[derive(Clone, Copy, Debug, Default)]
struct Decay {
    span_ns: u64,
    pairs: [f64; MOST_PAIRS],
    heat: f64,
}

/// A cell in a certain state.
#[derive(Clone, Debug)]
pub struct Cell {
    parameters: CellParameters,
    initial_soc: f64,
    charge_out_c: f64,
    charge_leaked_c: f64,
    pair_v: [f64; MOST_PAIRS],
    temperature_c: f64,
    heat_made_j: f64,
    open_place: Place,
    resistance_place: Place,
    decays: [Decay; REMEMBERED],
}

impl Cell {
    /// Returns a rested cell at a state of charge (1 = full; a little below 0 and above 1 is allowed).
    ///
    /// It has lain in a room of `ambient_c` for long: a cell that warms by itself is already that much warmer.
    pub fn new(parameters: CellParameters, initial_soc: f64, ambient_c: f64) -> Self {
        let mut cell = Self {
            parameters,
            initial_soc,
            charge_out_c: 0.0,
            charge_leaked_c: 0.0,
            pair_v: [0.0; MOST_PAIRS],
            temperature_c: ambient_c,
            heat_made_j: 0.0,
            open_place: Place::default(),
            resistance_place: Place::default(),
            decays: [Decay::default(); REMEMBERED],
        };
        let open_v = cell.open_voltage();
        let tables = cell.parameters.tables();
        cell.temperature_c += (tables.self_warming_w + tables.leak_a * open_v) / tables.heat_loss_w_per_k;
        cell
    }

    /// Returns the figures the cell is made of.
    pub const fn parameters(&self) -> &CellParameters {
        &self.parameters
    }

    /// Returns the state of charge, 1 = full.
    pub fn soc(&self) -> f64 {
        let capacity_c = self.parameters.tables().capacity_ah * 3_600.0;
        self.initial_soc - (self.charge_out_c + self.charge_leaked_c) / capacity_c
    }

    /// Returns the charge taken out at the terminals so far, in coulombs.
    pub const fn charge_out_c(&self) -> f64 {
        self.charge_out_c
    }

    /// Returns the heat made inside so far, in joules.
    pub const fn heat_made_j(&self) -> f64 {
        self.heat_made_j
    }

    /// Returns the temperature in degrees Celsius.
    pub const fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// Sets the temperature in degrees Celsius.
    pub const fn set_temperature_c(&mut self, temperature_c: f64) {
        self.temperature_c = temperature_c;
    }

    /// Returns the rested voltage in volts at the present state of charge, never below zero.
    pub fn open_voltage(&self) -> f64 {
        self.open_voltage_at(self.soc()).1
    }

    /// Returns the voltage in volts behind the series resistance: what a load of no current would see now.
    pub fn unloaded_voltage(&self) -> f64 {
        self.open_voltage() - self.pair_v.iter().sum::<f64>()
    }

    /// Returns the series resistance in ohms at the present state of charge and temperature.
    pub fn series_ohm(&self) -> f64 {
        let tables = self.parameters.tables();
        let place = Place::find(&tables.resistance_soc, self.soc(), self.resistance_place).held();
        temperature_factor(self.temperature_c) * place.read(&tables.series_ohm)
    }

    /// Lets a span pass at a constant current in amperes (positive discharges); returns the mean voltage at the
    /// terminals in volts.
    pub fn pass(&mut self, span_ns: u64, current_a: f64, ambient_c: f64) -> f64 {
        let seconds = span_ns as f64 * 1e-9;
        let decay = self.decay(span_ns);
        let soc = self.soc();
        let tables = self.parameters.tables();
        self.resistance_place = Place::find(&tables.resistance_soc, soc, self.resistance_place);
        let place = self.resistance_place.held();
        let factor = temperature_factor(self.temperature_c);

        let series_ohm = factor * place.read(&tables.series_ohm);
        let mut fall_v = current_a * series_ohm;
        let pairs = tables.pair_ohm.iter().zip(&tables.pair_seconds).zip(&decay.pairs);
        for (((ohm, constant), gone), pair_v) in pairs.zip(&mut self.pair_v) {
            // v(t) = settled + away exp(-t / constant), and its mean over the span.
            let settled = current_a * factor * place.read(ohm);
            let away = *pair_v - settled;
            fall_v += settled + away * constant * gone / seconds;
            *pair_v -= away * gone;
        }

        self.charge_out_c += current_a * seconds;
        self.charge_leaked_c += tables.leak_a * seconds;
        let middle = (soc + self.soc()) / 2.0;
        let (open_place, open_v) = self.open_voltage_at(middle);
        self.open_place = open_place;
        let tables = self.parameters.tables();

        // What does not come out of the terminals stays inside as heat (D. Bernardi and others, J. Electrochem. Soc.
        // 132 (1985) 5, without its reversible part; from memory).
        let heat_w = current_a * fall_v + tables.leak_a * open_v + tables.self_warming_w;
        self.heat_made_j += heat_w * seconds;
        let settled_c = ambient_c + heat_w / tables.heat_loss_w_per_k;
        self.temperature_c += (settled_c - self.temperature_c) * decay.heat;
        open_v - fall_v
    }

    fn open_voltage_at(&self, soc: f64) -> (Place, f64) {
        let tables = self.parameters.tables();
        let place = Place::find(&tables.soc, soc, self.open_place);
        (place, place.read(&tables.ocv_v).max(0.0))
    }

    /// Returns the decays of a span, from memory where the span was seen lately: a bench repeats few lengths.
    fn decay(&mut self, span_ns: u64) -> Decay {
        // Bus and conversion times are whole multiples of half a microsecond: neighbours get different slots.
        let slot = (span_ns / 500) as usize % REMEMBERED;
        if let Some(known) = self.decays.get(slot).filter(|known| known.span_ns == span_ns) {
            return *known;
        }
        let tables = self.parameters.tables();
        let seconds = span_ns as f64 * 1e-9;
        let mut decay = Decay { span_ns, ..Decay::default() };
        for (gone, constant) in decay.pairs.iter_mut().zip(&tables.pair_seconds) {
            *gone = -(-seconds / constant).exp_m1();
        }
        decay.heat = -(-seconds * tables.heat_loss_w_per_k / tables.heat_capacity_j_per_k).exp_m1();
        if let Some(place) = self.decays.get_mut(slot) {
            *place = decay;
        }
        decay
    }
}

/// Returns what all resistances are multiplied by at a temperature; 1 at 25 degC.
pub fn temperature_factor(temperature_c: f64) -> f64 {
    let away = REFERENCE_C - temperature_c;
    (away * if away > 0.0 { COLD_PER_K } else { WARM_PER_K }).exp()
}

#[cfg(test)]
#[path = "cell_tests.rs"]
mod tests;
