//! One true cell of the population, drawn at random, and how its voltage answers a current.
//!
//! Takes a source of randomness; gives a cell whose every property is known. The cell shares nothing with the
//! estimators but published figures: class tables of the rest voltage (data, `host/src/chemistry`), slopes of resistance
//! over temperature, sizes of relaxation. What an estimator allows for as a doubt about all cells is here a property in
//! which cells differ, drawn from the distribution that the estimator states; otherwise its intervals would be tested
//! on cells that are better known than real ones.

use crate::curve::Curve;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal, StandardNormal, Uniform};
use serde::Deserialize;

const TABLES: &str = include_str!("../../host/src/chemistry/open_circuit_voltage.toml");
/// Charge limits of the classes with a table, V.
pub const CLASSES_V: [f64; 3] = [4.20, 4.35, 4.40];
/// Time constants of the pairs, s: charge transfer, surface, and three of diffusion.
const SECONDS: [f64; 5] = [0.012, 0.3, 4.0, 35.0, 300.0];
/// Their usual shares of the whole resistance; the rest is ohmic.
const SHARES: [f64; 5] = [0.22, 0.10, 0.10, 0.13, 0.12];
/// Resistance times rated capacity, Ohm.Ah: eight published profiles of phones and tablets, median and spread of its
/// logarithm (0.25 to 0.43).
const OHM_AH: f64 = 0.34;
const OHM_AH_SPREAD: f64 = 0.25;
/// Change of resistance per kelvin below and above 25 degC, and how cells differ in it: what the estimator states.
const PER_KELVIN: [f64; 2] = [-0.038, -0.0125];
const PER_KELVIN_SPREAD: f64 = 0.015;
/// Change of the rest voltage per kelvin away from 25 degC, V: what the estimator states.
const OPEN_PER_KELVIN_V: f64 = 0.5e-3;
/// Least spread of the state of charge between cells of a class, %: what the estimator holds tables to at best.
const LEAST_PERCENT: f64 = 2.0;
const FADES_PERCENT: f64 = 10.0;
/// What relaxation still brings after half an hour at mid charge: 1 to 3 mV (common practice), falling with the square
/// root of the rest, which gives the 1 mV after two to four hours.
const UNRELAXED_V: [f64; 2] = [1e-3, 3e-3];
const HALF_AN_HOUR_S: f64 = 1800.0;
/// Time since the cell was last used, s, evenly over its logarithm: straight from the device to two days in a box.
const LAST_USED_S: [f64; 2] = [180.0, 172_800.0];
/// Warming over the air per watt, and its time constant: a pouch cell of 50 g in still air (from memory).
const KELVIN_PER_WATT: f64 = 9.0;
const WARMING_S: f64 = 700.0;

#[derive(Deserialize)]
struct Tables {
    table: Vec<Table>,
}

#[derive(Deserialize)]
struct Table {
    charge_limit_v: f64,
    percent: Vec<f64>,
    voltage_mv: Vec<f64>,
    spread_mv: Vec<f64>,
}

/// What a cell is.
#[derive(Clone, Debug)]
pub struct Cell {
    /// On the label.
    pub rated_ah: f64,
    /// On the label.
    pub charge_limit_v: f64,
    /// Between rested full and the voltage curve's end.
    pub charge_ah: f64,
    /// State of charge when it comes to the bench, 0 to 1.
    pub start_soc: f64,
    /// Of the air, degC.
    pub air_c: f64,
    /// The cell's own warmth over the air before any load, K.
    pub warm_k: f64,
    open_mv: Curve,
    open_per_kelvin_v: f64,
    /// Ohmic, then the pairs, at 25 degC.
    ohm: [f64; 6],
    per_kelvin: [f64; 2],
    relaxing_v: f64,
    last_used_s: f64,
}

/// Where a cell is in a run.
#[derive(Clone, Copy, Debug)]
pub struct State {
    /// Since the run began, s.
    pub time_s: f64,
    /// 0 to 1.
    pub soc: f64,
    /// Taken out so far, Ah.
    pub taken_ah: f64,
    /// Over the air, K.
    pub rise_k: f64,
    pairs_a: [f64; 5],
}

impl Cell {
    /// Draws a cell; `start` chooses its state of charge.
    pub fn draw(random: &mut ChaCha8Rng, start: impl Fn(&mut ChaCha8Rng) -> f64) -> Self {
        let mut normal = |deviation: f64| -> f64 {
            let z: f64 = StandardNormal.sample(random);
            z * deviation
        };
        let (curve_z, open_per_kelvin_v) = (normal(1.0), normal(OPEN_PER_KELVIN_V));
        let slope = normal(PER_KELVIN_SPREAD);
        let whole_ohm_ah = OHM_AH * normal(OHM_AH_SPREAD).exp();
        let shares = SHARES.map(|share| share * normal(0.15).exp());
        let class = random.random_range(0..CLASSES_V.len());
        let charge_limit_v = CLASSES_V[class];
        let rated_ah: f64 = f64::from(random.random_range(15..=51)) / 10.0;
        let whole = whole_ohm_ah / rated_ah;
        let ohmic = whole * (1.0 - shares.iter().sum::<f64>()).max(0.1);
        let mut ohm = [ohmic; 6];
        for (place, share) in ohm[1..].iter_mut().zip(shares) {
            *place = whole * share;
        }
        let relaxing_v = random.random_range(UNRELAXED_V[0]..UNRELAXED_V[1]);
        let sign = if random.random_bool(0.5) { 1.0 } else { -1.0 };
        let [shortest, longest] = LAST_USED_S.map(f64::ln);
        let last_used_s = Uniform::new(shortest, longest).expect("a range").sample(random).exp();
        let air: Normal<f64> = Normal::new(22.5, 3.0).expect("a spread");
        Self {
            rated_ah,
            charge_limit_v,
            charge_ah: rated_ah * random.random_range(0.60..1.06),
            start_soc: start(random),
            air_c: air.sample(random).clamp(15.5, 34.5),
            // One cell in ten warms by itself.
            warm_k: if random.random_bool(0.1) {
                random.random_range(0.3..3.5)
            } else {
                random.random_range(-0.3..0.3)
            },
            open_mv: open_curve(charge_limit_v, curve_z),
            open_per_kelvin_v,
            ohm,
            // One draw for both sides: the doubt is about the cell.
            per_kelvin: PER_KELVIN.map(|usual| usual + slope),
            relaxing_v: sign * relaxing_v,
            last_used_s,
        }
    }

    /// Returns the current It.
    pub fn unit_a(&self) -> f64 {
        self.rated_ah
    }

    /// Returns the cell as it comes to the bench.
    pub fn start(&self) -> State {
        State { time_s: 0.0, soc: self.start_soc, taken_ah: 0.0, rise_k: self.warm_k, pairs_a: [0.0; 5] }
    }

    /// Lets a constant current (A, positive discharging) flow for a time (s).
    pub fn advance(&self, state: &mut State, current_a: f64, seconds: f64) {
        let whole: f64 = self.ohm.iter().sum::<f64>();
        let heat_w = current_a * current_a * whole;
        let towards = self.warm_k + heat_w * KELVIN_PER_WATT;
        state.rise_k += (towards - state.rise_k) * -(-seconds / WARMING_S).exp_m1();
        for (pair, tau) in state.pairs_a.iter_mut().zip(SECONDS) {
            *pair += (current_a - *pair) * -(-seconds / tau).exp_m1();
        }
        let ah = current_a * seconds / 3600.0;
        state.taken_ah += ah;
        state.soc -= ah / self.charge_ah;
        state.time_s += seconds;
    }

    /// Returns the rested voltage (V) at a state of charge and the cell's temperature.
    pub fn open_v(&self, soc: f64, cell_c: f64) -> f64 {
        self.open_mv.at(soc * 100.0) / 1e3 + self.open_per_kelvin_v * (cell_c - 25.0)
    }

    /// Returns the voltage (V) at the cell's terminals under a current.
    pub fn voltage_v(&self, state: &State, current_a: f64) -> f64 {
        let factor = self.resistance_factor(state);
        let mut lost = self.ohm[0] * current_a;
        for (ohm, pair) in self.ohm[1..].iter().zip(state.pairs_a) {
            lost += ohm * pair;
        }
        self.open_v(state.soc, self.air_c + state.rise_k) + self.unrelaxed_v(state.time_s) - factor * lost
    }

    /// Returns the resistance (ohm) per ampere lost since the pulse in `state` began, at 25 degC and mid charge.
    pub fn resistance_factor(&self, state: &State) -> f64 {
        let low = 0.5 * (-state.soc.max(0.0) / 0.03).exp();
        self.temperature_factor(self.air_c + state.rise_k) * (1.0 + low)
    }

    /// Returns resistance at a temperature over that at 25 degC.
    pub fn temperature_factor(&self, cell_c: f64) -> f64 {
        let away = cell_c - 25.0;
        // A slope that was drawn far out must not make a resistance vanish.
        (1.0 + self.per_kelvin[usize::from(away > 0.0)] * away).max(0.3)
    }

    /// Returns what relaxation has still to take away (V) at a time of the run.
    pub fn unrelaxed_v(&self, time_s: f64) -> f64 {
        self.relaxing_v * (HALF_AN_HOUR_S / (self.last_used_s + time_s)).sqrt()
    }
}

/// Draws the rested voltage of one cell: the class's table, moved by one draw of the spread between cells.
///
/// The spread is the table's own, in volts, but never less than the state of charge that the estimator holds tables to
/// at best; a full cell is full by definition, so there this least spread fades out.
fn open_curve(charge_limit_v: f64, z: f64) -> Curve {
    let tables: Tables = toml::from_str(TABLES).expect("tables");
    let of_class = |table: &&Table| (table.charge_limit_v - charge_limit_v).abs() < 1e-9;
    let table = tables.table.iter().find(of_class).expect("a table for each class");
    let usual = Curve::through(&table.percent, &table.voltage_mv);
    let mut voltage_mv: Vec<f64> = Vec::new();
    for (index, percent) in table.percent.iter().enumerate() {
        let slope_mv = (usual.at(percent + 1.0) - usual.at(percent - 1.0)) / 2.0;
        let least_mv = LEAST_PERCENT * slope_mv * ((100.0 - percent) / FADES_PERCENT).min(1.0);
        let moved_mv = table.voltage_mv[index] + z * table.spread_mv[index].max(least_mv);
        let before_mv = voltage_mv.last().map_or(f64::NEG_INFINITY, |before| before + 0.5);
        voltage_mv.push(moved_mv.max(before_mv));
    }
    Curve::through(&table.percent, &voltage_mv)
}
