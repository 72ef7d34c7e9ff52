//! How a true cell answers a current: charge, warmth, slow and fast losses of voltage.

use crate::cell::{Cell, DAY_S, SECONDS};

/// Share of a resistance at 25 degC that falls with temperature, and by how much per kelvin; the rest is ohmic. Through
/// the mean slopes that the estimator takes for 15 to 25 and 25 to 35 degC (-3.8 and -1.25 % per kelvin), but not by its
/// parabola: charge transfer is activated and falls off exponentially.
const ACTIVATED: f64 = 0.186_3;
const PER_KELVIN: f64 = 0.111_2;

const HALF_AN_HOUR_S: f64 = 1800.0;
/// Warming over the air per watt, and its time constant: a pouch cell of 50 g in still air (from memory).
const KELVIN_PER_WATT: f64 = 9.0;
const WARMING_S: f64 = 700.0;
/// A load longer than this leaves a slow relaxation behind; what shorter ones leave is in the pairs.
const SLOW_FROM_S: f64 = 600.0;
/// A discharge of this length leaves behind what relaxation usually still brings after half an hour.
const USUAL_LOAD_S: f64 = 4.0 * 3600.0;
const MONTH_S: f64 = 30.0 * DAY_S;
/// Levels of the two-level method, s.
const LEVELS_S: [f64; 2] = [10.0, 1.0];

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
    /// Length of the last load, and time since its end, s.
    loaded_s: f64,
    rested_s: f64,
}

impl Cell {
    /// Returns the current It.
    pub fn unit_a(&self) -> f64 {
        self.rated_ah
    }

    /// Returns the cell as it comes to the bench.
    pub fn start(&self) -> State {
        State {
            time_s: 0.0,
            soc: self.start_soc,
            taken_ah: 0.0,
            rise_k: self.warm_k,
            pairs_a: [0.0; 5],
            loaded_s: 0.0,
            rested_s: 0.0,
        }
    }

    /// Returns by what factor the resistance at a current is that at It.
    pub fn ease(&self, current_a: f64) -> f64 {
        if current_a == 0.0 {
            1.0
        } else {
            (1.0 - self.per_e_fold * (current_a.abs() / self.unit_a()).ln()).max(0.3)
        }
    }

    /// Lets a constant current (A, positive discharging) flow for a time (s).
    pub fn advance(&self, state: &mut State, current_a: f64, seconds: f64) {
        let whole: f64 = self.ohm.iter().sum::<f64>();
        let heat_w = current_a * current_a * whole;
        let towards = self.warm_k + heat_w * KELVIN_PER_WATT;
        state.rise_k += (towards - state.rise_k) * -(-seconds / WARMING_S).exp_m1();
        let felt_a = current_a * self.ease(current_a);
        for (pair, tau) in state.pairs_a.iter_mut().zip(SECONDS) {
            *pair += (felt_a - *pair) * -(-seconds / tau).exp_m1();
        }
        if current_a == 0.0 {
            state.rested_s += seconds;
        } else {
            if state.rested_s > 0.0 {
                (state.loaded_s, state.rested_s) = (0.0, 0.0);
            }
            state.loaded_s += seconds;
        }
        let ah = current_a * seconds / 3600.0;
        state.taken_ah += ah;
        state.soc -= ah / self.charge_ah + self.loss_per_month * seconds / MONTH_S;
        state.time_s += seconds;
    }

    /// Returns the rested voltage (V) at a state of charge and the cell's temperature.
    pub fn open_v(&self, soc: f64, cell_c: f64) -> f64 {
        self.open_mv.at(soc * 100.0) / 1e3 + self.open_per_kelvin_v * (cell_c - 25.0)
    }

    /// Returns the voltage (V) at the cell's terminals under a current.
    pub fn voltage_v(&self, state: &State, current_a: f64) -> f64 {
        let factor = self.resistance_factor(state);
        let mut lost = self.ohm[0] * current_a * self.ease(current_a);
        for (ohm, pair) in self.ohm[1..].iter().zip(state.pairs_a) {
            lost += ohm * pair;
        }
        let open_v = self.open_v(state.soc, self.air_c + state.rise_k);
        open_v + self.unrelaxed_v(state.time_s) - self.slow_v(state) - factor * lost
    }

    /// Returns resistance in a state over that at 25 degC and mid charge.
    fn resistance_factor(&self, state: &State) -> f64 {
        let low = 0.5 * (-state.soc.max(0.0) / 0.03).exp();
        self.temperature_factor(self.air_c + state.rise_k) * (1.0 + low)
    }

    /// Returns resistance at a temperature over that at 25 degC.
    fn temperature_factor(&self, cell_c: f64) -> f64 {
        let away = cell_c - 25.0;
        let usual = 1.0 - ACTIVATED + ACTIVATED * (-PER_KELVIN * away).exp();
        // A slope that was drawn far out must not make a resistance vanish.
        (usual + self.per_kelvin * away).max(0.3)
    }

    /// Returns what relaxation from before the run has still to take away (V) at a time of the run.
    pub fn unrelaxed_v(&self, time_s: f64) -> f64 {
        let age_s = self.last_used_s + time_s;
        let after = |age_s: f64| self.relaxing_v * (HALF_AN_HOUR_S / age_s).sqrt();
        match self.creep_v {
            Some(creep_v) if age_s > DAY_S => after(DAY_S) - creep_v * (age_s / DAY_S).ln(),
            _ => after(age_s),
        }
    }

    /// Returns what a long load in the run has still to give back (V): diffusion into depth answers a step of current
    /// with the root of its time, and goes back the same way.
    fn slow_v(&self, state: &State) -> f64 {
        let loaded_s = (state.loaded_s - SLOW_FROM_S).max(0.0);
        let left = |loaded_s: f64, rested_s: f64| (loaded_s + rested_s).sqrt() - rested_s.sqrt();
        self.relaxing_v.abs() * left(loaded_s, state.rested_s) / left(USUAL_LOAD_S, HALF_AN_HOUR_S)
    }

    /// Returns (U1 - U2) / (I2 - I1) of two levels that follow a rest, from the state in which the cell is.
    pub fn two_level_from(&self, rested: &State, [first_a, second_a]: [f64; 2]) -> f64 {
        let mut state = *rested;
        self.advance(&mut state, first_a, LEVELS_S[0]);
        let first_v = self.voltage_v(&state, first_a);
        self.advance(&mut state, second_a, LEVELS_S[1]);
        (first_v - self.voltage_v(&state, second_a)) / (second_a - first_a)
    }

    /// Returns the same from the state in which it comes to the bench.
    pub fn two_level_ohm(&self, levels_a: [f64; 2]) -> f64 {
        self.two_level_from(&self.start(), levels_a)
    }

    /// Returns by how much a pulse lowers the voltage against the same cell left alone, over the current.
    pub fn instant_ohm(&self, rested: &State, current_a: f64, seconds: f64) -> f64 {
        let (mut loaded, mut alone) = (*rested, *rested);
        self.advance(&mut loaded, current_a, seconds);
        self.advance(&mut alone, 0.0, seconds);
        (self.voltage_v(&alone, 0.0) - self.voltage_v(&loaded, current_a)) / current_a
    }
}
