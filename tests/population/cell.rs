//! One true cell of the population, drawn at random.
//!
//! Draws a cell whose every property is known from a source of randomness. The cell shares nothing with the
//! estimators but published figures: class tables of the rest voltage (data, `host/measure/src/chemistry`), slopes of resistance
//! over temperature, sizes of relaxation. What an estimator allows for as a doubt about all cells is here a property in
//! which cells differ, drawn from the distribution that the estimator states; otherwise its intervals would be tested
//! on cells that are better known than real ones. How its voltage answers a current is in `response.rs`.

use crate::curve::Curve;
use crate::open_voltage::{self, CLASSES_V};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal, StandardNormal, StudentT, Uniform};

/// Time constants of the pairs, s: charge transfer, surface, and three of diffusion.
pub const SECONDS: [f64; 5] = [0.012, 0.3, 4.0, 35.0, 300.0];
/// Their usual shares of the whole resistance; the rest is ohmic.
const SHARES: [f64; 5] = [0.22, 0.10, 0.10, 0.13, 0.12];
/// Resistance times rated capacity of new cells of one model, Ohm.Ah: mean and standard deviation of eight published
/// profiles of phones and tablets (0.25 to 0.43). One more model is known from eight by a t distribution of seven
/// degrees of freedom, wider by the root of 1 + 1/8 (JCGM 101, 6.4.9).
const OHM_AH: f64 = 0.343;
const OHM_AH_DEVIATION: f64 = 0.058;
const PROFILES: f64 = 8.0;
/// Times the resistance has grown since the cell was new: one to two, where the built-in policy ends (1.1 Ah cobalt cells
/// over their life in open data: 1 to 2 before they fail).
const GROWN: [f64; 2] = [0.95, 1.9];
/// How cells differ in the change of resistance per kelvin away from 25 degC: what the estimator states.
const PER_KELVIN_SPREAD: f64 = 0.015;
/// How much the resistance falls per factor e of current, and how cells differ in it: what the contact check states.
const PER_E_FOLD: f64 = 0.06;
const PER_E_FOLD_SPREAD: f64 = 0.04;
/// Change of the rest voltage per kelvin away from 25 degC, V: what the estimator of the state of charge states.
const OPEN_PER_KELVIN_V: f64 = 0.5e-3;
/// The same with its spread, V, by state of charge, as the estimator of self-discharge states it where it serves.
const OPEN_PER_KELVIN_STORED_V: [[f64; 3]; 3] =
    [[0.6, 0.23e-3, 0.15e-3], [0.8, 0.0, 0.3e-3], [1.0, -0.3e-3, 0.1e-3]];
/// How cells differ in what a rest voltage still moves by per factor e of rest, V, beyond a day: what that estimator
/// states, a normal number.
const CREEP_V: f64 = 0.8e-3 / 1.732_050_8;
/// What relaxation still brings after half an hour at mid charge: 1 to 3 mV (common practice), falling with the square
/// root of the rest, which gives the 1 mV after two to four hours.
const UNRELAXED_V: [f64; 2] = [1e-3, 3e-3];
/// Time since the cell was last used, s, evenly over its logarithm: straight from the device to two days in a box.
const LAST_USED_S: [f64; 2] = [180.0, 172_800.0];
/// What ageing and another cell's table do to a part of a discharge, as shares of it: what that estimator states.
const AGEING_SHARE: f64 = 0.046;
const TABLE_SHARE: f64 = 0.025;
/// Loss in storage, share of the whole charge a month: sound cells 1 to 3 %; one cell in eight has a small short.
const SOUND_LOSS: [f64; 2] = [0.01, 0.03];
const SHORT_LOSS: [f64; 2] = [0.04, 0.60];
const SHORTED: f64 = 0.125;
pub const DAY_S: f64 = 86_400.0;

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
    /// Two-level resistance of a new cell of its model at 25 degC and mid charge, times rated capacity, Ohm.Ah.
    pub new_ohm_ah: f64,
    /// Share of the whole charge that it loses in a month of storage.
    pub loss_per_month: f64,
    pub(crate) open_mv: Curve,
    pub(crate) open_per_kelvin_v: f64,
    /// Ohmic, then the pairs, at 25 degC and the current It.
    pub(crate) ohm: [f64; 6],
    /// Change of resistance per kelvin away from 25 degC, beyond what is usual.
    pub(crate) per_kelvin: f64,
    pub(crate) per_e_fold: f64,
    pub(crate) relaxing_v: f64,
    pub(crate) creep_v: Option<f64>,
    pub(crate) last_used_s: f64,
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
        let per_e_fold = PER_E_FOLD + normal(PER_E_FOLD_SPREAD);
        let mut ohm = [1.0; 6];
        for (place, share) in ohm[1..].iter_mut().zip(SHARES) {
            *place = share * normal(0.15).exp();
        }
        ohm[0] = (1.0 - ohm[1..].iter().sum::<f64>()).max(0.1);
        let another = StudentT::new(PROFILES - 1.0).expect("degrees of freedom").sample(random);
        let new_ohm_ah = (OHM_AH + OHM_AH_DEVIATION * (1.0 + 1.0 / PROFILES).sqrt() * another).max(0.08);
        let charge_limit_v = CLASSES_V[random.random_range(0..CLASSES_V.len())];
        let relaxing_v = random.random_range(UNRELAXED_V[0]..UNRELAXED_V[1]);
        let sign = if random.random_bool(0.5) { 1.0 } else { -1.0 };
        let air: Normal<f64> = Normal::new(22.5, 3.0).expect("a spread");
        let rated_ah: f64 = f64::from(random.random_range(15..=51)) / 10.0;
        let mut cell = Self {
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
            new_ohm_ah,
            loss_per_month: 0.0,
            open_mv: open_voltage::draw(random, charge_limit_v, curve_z),
            open_per_kelvin_v,
            ohm,
            per_kelvin: slope,
            per_e_fold,
            relaxing_v: sign * relaxing_v,
            creep_v: None,
            last_used_s: log_uniform(random, LAST_USED_S),
        };
        // A new cell of the model has the model's resistance by the two-level method; this one has grown since.
        let grown = random.random_range(GROWN[0]..GROWN[1]);
        let scale =
            new_ohm_ah / rated_ah / cell.in_reference().two_level_ohm([0.2, 1.0].map(|i| i * rated_ah));
        cell.ohm = cell.ohm.map(|ohm| ohm * scale * grown);
        cell
    }

    /// Returns the cell as one of another's model: the same label, curve and resistance when new; use has made them differ.
    pub fn of_the_model_of(mut self, model: &Self) -> Self {
        let new = (model.new_ohm_ah / model.rated_ah) / (self.new_ohm_ah / self.rated_ah);
        self.ohm = self.ohm.map(|ohm| ohm * new);
        self.charge_ah *= model.rated_ah / self.rated_ah;
        let Self { rated_ah, charge_limit_v, new_ohm_ah, .. } = *model;
        Self { rated_ah, charge_limit_v, new_ohm_ah, open_mv: model.open_mv.clone(), ..self }
    }

    /// Returns the same cell in the state in which models are compared: 25 degC, half charged, long at rest.
    fn in_reference(&self) -> Self {
        Self { air_c: 25.0, warm_k: 0.0, start_soc: 0.5, relaxing_v: 0.0, ..self.clone() }
    }

    /// Lets the cell have been charged and stored for `rested_h`, and lose charge from then on.
    pub fn stored(mut self, random: &mut ChaCha8Rng, rested_h: f64) -> Self {
        self.last_used_s = rested_h * 3600.0;
        let z: f64 = StandardNormal.sample(random);
        self.creep_v = Some(z * CREEP_V);
        self.loss_per_month = loss_per_month(random);
        let z: f64 = StandardNormal.sample(random);
        let between = OPEN_PER_KELVIN_STORED_V.windows(2).find(|two| self.start_soc <= two[1][0]);
        let [[from, low, low_doubt], [to, high, high_doubt]] =
            between.map_or([OPEN_PER_KELVIN_STORED_V[0]; 2], |two| [two[0], two[1]]);
        let share = ((self.start_soc - from) / (to - from).max(1e-9)).clamp(0.0, 1.0);
        let mix = |a: f64, b: f64| a + (b - a) * share;
        self.open_per_kelvin_v = mix(low, high) + z * mix(low_doubt, high_doubt);
        self
    }

    /// Bends the voltage curve as the estimator of a part of a discharge states it for that part.
    pub fn bent_over(mut self, random: &mut ChaCha8Rng, part: [f64; 2]) -> Self {
        let z: f64 = StandardNormal.sample(random);
        let share = z * TABLE_SHARE + random.random_range(-AGEING_SHARE..AGEING_SHARE);
        self.open_mv = open_voltage::stretched(self.charge_limit_v, part, share);
        self
    }
}

/// Draws what a cell loses in a month of storage.
pub fn loss_per_month(random: &mut ChaCha8Rng) -> f64 {
    if random.random_bool(SHORTED) {
        log_uniform(random, SHORT_LOSS)
    } else {
        random.random_range(SOUND_LOSS[0]..SOUND_LOSS[1])
    }
}

/// Draws a number evenly over its logarithm.
pub fn log_uniform(random: &mut ChaCha8Rng, range: [f64; 2]) -> f64 {
    let [low, high] = range.map(f64::ln);
    Uniform::new(low, high).expect("a range").sample(random).exp()
}
