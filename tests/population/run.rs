//! The runs: which currents flow for how long, how often a row is taken, and how the contacts behave meanwhile.
//!
//! Screen and full test are those that the host plans (`host/measure/src/plan.rs`). The other two come from elsewhere, as files:
//! a fast recorder's two pulses, on which a resistance at 10 ms may be estimated, and a part of a discharge between two long
//! rests.

use crate::cell::{Cell, log_uniform};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// End-of-discharge voltage of all labels, V.
pub const END_V: f64 = 3.0;
const FAST_S: f64 = 1e-3;
const SLOW_S: f64 = 0.1;
/// Largest current of a long load, A (`protocol/src/limits.rs`, written again).
const LARGEST_A: f64 = 1.5;
const DISCHARGE_ROWS_S: f64 = 1.0;
/// A recorder takes a row every 0.1 ms around the step, and every 10 ms before.
const SHARP_S: f64 = 1e-4;
const SHARP_FROM_S: f64 = 0.1;
const LAZY_S: f64 = 10.0;
/// A sink's set point has an error of its own, which the meter sees.
const SET_ERROR: f64 = 0.003;
/// Runs in which a contact moves, and by how much (ohm): invented, so that it happens often enough to be judged. 55 mOhm
/// were seen on a professional rig.
const SLIPS: f64 = 1.0 / 12.0;
const SLIP_OHM: [f64; 2] = [1e-3, 60e-3];

/// A step of a plan: current (A, positive discharging), time and distance of rows (s).
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// A.
    pub current_a: f64,
    /// s.
    pub seconds: f64,
    /// s.
    pub period_s: f64,
    /// The step ends once a reading is down here, V.
    pub floor_v: f64,
}

impl Step {
    /// Makes a step without a floor.
    pub const fn new(current_a: f64, seconds: f64, period_s: f64) -> Self {
        Self { current_a, seconds, period_s, floor_v: f64::NEG_INFINITY }
    }

    fn rest(seconds: f64, period_s: f64) -> Self {
        Self::new(0.0, seconds, period_s)
    }
}

/// A contact that adds something before a step, or from it on.
#[derive(Clone, Copy, Debug)]
pub struct Slip {
    /// Ohm before the step, and from it on.
    ohm: [f64; 2],
    from: usize,
}

impl Slip {
    /// All stays as it was.
    pub const NONE: Self = Self { ohm: [0.0; 2], from: usize::MAX };

    fn draw(random: &mut ChaCha8Rng, at: &[usize]) -> Self {
        if !random.random_bool(SLIPS) {
            return Self::NONE;
        }
        let ohm = log_uniform(random, SLIP_OHM);
        let from = at[random.random_range(0..at.len())];
        Self { ohm: if random.random_bool(0.5) { [ohm, 0.0] } else { [0.0, ohm] }, from }
    }

    /// Returns the same with the good contact first.
    fn getting_worse(self) -> Self {
        let [before, after] = self.ohm;
        Self { ohm: [before.min(after), before.max(after)], ..self }
    }

    /// Returns what the contact adds in a step.
    pub fn in_step(&self, index: usize) -> f64 {
        self.ohm[usize::from(index >= self.from)]
    }
}

/// What flows, and what is to be looked at in it.
#[derive(Clone, Debug)]
pub struct Run {
    /// In order; the first is a rest.
    pub steps: Vec<Step>,
    /// The step before which the rest voltage is taken.
    pub first_load: Option<usize>,
    /// The step on which the resistances at instants are read.
    pub pulse: Option<usize>,
    /// The two pulses that the contact check compares.
    pub compared: Option<[usize; 2]>,
    /// The step that empties the cell.
    pub discharge: Option<usize>,
    /// What the contacts do.
    pub slip: Slip,
}

impl Run {
    fn of(steps: Vec<Step>) -> Self {
        Self { steps, first_load: None, pulse: None, compared: None, discharge: None, slip: Slip::NONE }
    }

    /// The rest of a visit on which no load flows.
    pub fn rest() -> Self {
        Self::of(vec![Step::rest(120.0, SLOW_S)])
    }

    /// A screen.
    pub fn screen(random: &mut ChaCha8Rng, cell: &Cell) -> Self {
        let mut set = |share: f64| set(random, cell, share);
        let steps = vec![
            Step::rest(60.0, SLOW_S),
            Step::new(set(0.2), 10.0, FAST_S),
            Step::new(set(1.0), 1.0, FAST_S),
            Step::rest(30.0, SLOW_S),
            Step::new(set(0.5), 10.0, FAST_S),
            Step::rest(30.0, SLOW_S),
            Step::new(set(0.2), 1.2, FAST_S),
            Step::rest(15.0, SLOW_S),
        ];
        let slip = Slip::draw(random, &[3, 5]);
        Self { first_load: Some(1), pulse: Some(4), compared: Some([1, 6]), slip, ..Self::of(steps) }
    }

    /// A screen and the discharge at 0.2 It to the end voltage.
    pub fn full(random: &mut ChaCha8Rng, cell: &Cell) -> Self {
        let mut run = Self::screen(random, cell);
        run.discharge = Some(run.steps.len());
        run.steps.push(Step {
            floor_v: END_V,
            ..Step::new(set(random, cell, 0.2), 7.0 * 3600.0, DISCHARGE_ROWS_S)
        });
        run.steps.push(Step::rest(30.0, SLOW_S));
        run
    }

    /// A screen and the discharge at half It to the end voltage, then at 0.2 It, as far as the fixture carries such currents.
    pub fn proof(random: &mut ChaCha8Rng, cell: &Cell) -> Self {
        let mut run = Self::screen(random, cell);
        let first = 0.5_f64.min(LARGEST_A / cell.unit_a());
        for share in [first, 0.2] {
            run.steps.push(Step {
                floor_v: END_V,
                ..Step::new(set(random, cell, share), 7.0 * 3600.0, DISCHARGE_ROWS_S)
            });
            run.steps.push(Step::rest(30.0, SLOW_S));
        }
        run
    }

    /// Two pulses of different current, the first one recorded fast.
    pub fn sharp(random: &mut ChaCha8Rng, cell: &Cell) -> Self {
        let steps = vec![
            Step::rest(20.0, 10.0 * FAST_S),
            Step::rest(SHARP_FROM_S, SHARP_S),
            Step::new(set(random, cell, 1.0), 1.2, SHARP_S),
            Step::rest(20.0, 10.0 * FAST_S),
            Step::new(set(random, cell, 0.5), 1.2, FAST_S),
            Step::rest(2.0, 10.0 * FAST_S),
        ];
        // A clamp that is bad from the start is outside what is stated of an unknown instrument, and two pulses of
        // different current cannot tell it: their own effect is known to 3 %. So here it only gets worse.
        let slip = Slip::draw(random, &[3]).getting_worse();
        Self { first_load: Some(2), pulse: Some(2), compared: Some([2, 4]), slip, ..Self::of(steps) }
    }

    /// A discharge at 0.2 It from one state of charge to another, each after a rest of one to three hours.
    pub fn part(random: &mut ChaCha8Rng, cell: &Cell, to_soc: f64) -> Self {
        let current_a = set(random, cell, 0.2);
        let seconds = (cell.start_soc - to_soc) * cell.charge_ah / current_a * 3600.0;
        let mut rest = || Step::rest(random.random_range(1.05..3.0) * 3600.0, LAZY_S);
        Self { first_load: Some(1), ..Self::of(vec![rest(), Step::new(current_a, seconds, LAZY_S), rest()]) }
    }
}

fn set(random: &mut ChaCha8Rng, cell: &Cell, share: f64) -> f64 {
    let z: f64 = StandardNormal.sample(random);
    share * cell.unit_a() * (1.0 + SET_ERROR * z)
}
