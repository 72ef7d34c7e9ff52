//! What an instrument makes of a true cell: rows with gains, offsets, contact, noise, steps and torn samples.
//!
//! Errors that stay the same through a run are drawn once for each cell from the front end's stated standard
//! uncertainties, as normal numbers; the fixture's noise and converter steps are those of
//! `tests/reference/fixture_noise.py`. The clock's phase to the current steps is drawn as well. The fixture averages
//! over its sampling, so the row in which a step falls holds a mixture of before and after, another one for current and
//! voltage; a fast recorder takes instants, and only meets the load's own rise.

use crate::cell::Cell;
use crate::response::State;
use crate::run::{Slip, Step};
use celltriage_measure::estimate::FrontEnd;
use celltriage_measure::si::{AmpHours, Amps, Celsius, Seconds, Volts};
use celltriage_measure::trace::{Point, RunRecord, StepRecord};
use celltriage_protocol::event::{Outcome, StepEnd};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const TEMPERATURE_NOISE_K: f64 = 7.8125e-3;
const TEMPERATURE_STEP_K: f64 = 7.8125e-3;
/// The current follows the set point within this (s): a bus write and the sink's settling.
const SET_POINT_LAG_S: f64 = 1e-3;
/// A voltage channel wanders by this within half the first rest (what the estimator of the drift states).
const WANDER_V: f64 = 20e-6;
/// A voltage of one fixture some days later (what the estimator of self-discharge states).
const DAYS_LATER_V: f64 = 0.16e-3;

/// Noise and converter steps, and the time in which a row is taken or the load rises.
#[derive(Clone, Copy, Debug)]
pub struct Channels {
    voltage_noise_v: f64,
    voltage_step_v: f64,
    current_noise_a: f64,
    current_step_a: f64,
    /// A row this close behind a step (s) is torn; nothing: the first row always.
    torn_s: Option<f64>,
}

impl Channels {
    /// The shop's fixture.
    pub const FIXTURE: Self = Self {
        voltage_noise_v: 200e-6,
        voltage_step_v: 195.3125e-6,
        current_noise_a: 0.5e-3,
        current_step_a: 31.25e-6,
        torn_s: None,
    };
    /// A 16-bit recorder of plus and minus 5 V and 10 A at an electronic load that rises within 20 us.
    pub const RECORDER: Self = Self {
        voltage_noise_v: 250e-6,
        voltage_step_v: 10.0 / 65_536.0,
        current_noise_a: 1e-3,
        current_step_a: 20.0 / 65_536.0,
        torn_s: Some(20e-6),
    };
}

/// One instrument's errors.
#[derive(Clone, Debug)]
pub struct Meter {
    channels: Channels,
    voltage_gain: f64,
    voltage_offset_v: f64,
    /// Of the current, as a share.
    pub current_gain: f64,
    /// Of the current, A.
    pub current_offset_a: f64,
    /// Its clock, as a share of the time.
    pub clock: f64,
    counter_clock: f64,
    /// What leads and contacts add.
    pub contact_ohm: f64,
    cell_thermometer_k: f64,
    air_thermometer_k: f64,
    /// What the contact of the cell's thermometer loses, as a share of the difference to the air; and how much meters differ in it.
    thermometer_loss: f64,
    losses: f64,
    wander_v: f64,
}

fn normal(random: &mut ChaCha8Rng, deviation: f64) -> f64 {
    let z: f64 = StandardNormal.sample(random);
    z * deviation
}

impl Meter {
    /// Draws an instrument from its stated uncertainties.
    pub fn draw(random: &mut ChaCha8Rng, stated: &FrontEnd, channels: Channels) -> Self {
        Self {
            channels,
            voltage_gain: normal(random, stated.voltage_gain),
            voltage_offset_v: normal(random, stated.voltage_offset.0),
            current_gain: normal(random, stated.current_gain),
            current_offset_a: normal(random, stated.current_offset.0),
            // The fixture keeps time by a crystal.
            clock: if stated.clock > 0.0 { normal(random, stated.clock) } else { 0.0 },
            counter_clock: normal(random, stated.counter_clock),
            contact_ohm: normal(random, stated.contact.0),
            cell_thermometer_k: normal(random, stated.thermometer.0),
            air_thermometer_k: normal(random, stated.thermometer.0),
            thermometer_loss: normal(random, stated.thermometer_loss),
            losses: stated.thermometer_loss,
            wander_v: normal(random, WANDER_V),
        }
    }

    /// Returns the same instrument on another day: zero has moved, and the thermometer is clipped on again.
    pub fn another_day(&self, random: &mut ChaCha8Rng) -> Self {
        Self {
            voltage_offset_v: self.voltage_offset_v + normal(random, DAYS_LATER_V),
            thermometer_loss: normal(random, self.losses),
            wander_v: normal(random, WANDER_V),
            ..self.clone()
        }
    }

    /// Runs steps on a cell; returns the rows and the cell's state at the start of each step and at the end.
    pub fn record(
        &self,
        random: &mut ChaCha8Rng,
        cell: &Cell,
        steps: &[Step],
        slip: Slip,
    ) -> (Vec<Point>, Vec<State>) {
        let mut state = cell.start();
        let mut states = vec![state];
        let mut points = Vec::new();
        let mut before_a = 0.0;
        let wander_s = steps[0].seconds;
        for (index, step) in steps.iter().enumerate() {
            let contact_ohm = self.contact_ohm + slip.in_step(index);
            let begin_s = state.time_s;
            let mut at_s = random.random::<f64>() * step.period_s;
            let is_torn = |at_s: f64| self.channels.torn_s.is_none_or(|torn_s| at_s < torn_s);
            let mut is_first = !points.is_empty() && is_torn(at_s);
            let old_v = cell.voltage_v(&state, before_a);
            while at_s < step.seconds {
                let seconds = begin_s + at_s - state.time_s;
                cell.advance(&mut state, step.current_a, seconds);
                let (mut current_a, mut voltage_v) = (step.current_a, cell.voltage_v(&state, step.current_a));
                if is_first {
                    let (i, v): (f64, f64) = (random.random(), random.random());
                    current_a += (before_a - current_a) * i;
                    voltage_v += (old_v - voltage_v) * v;
                    is_first = false;
                }
                let at_terminals_v = voltage_v - current_a * contact_ohm;
                let point = self.read(random, cell, &state, [current_a, at_terminals_v, wander_s]);
                points.push(point);
                at_s += step.period_s;
                if point.voltage.0 <= step.floor_v {
                    break;
                }
            }
            if points.last().is_none_or(|last| last.voltage.0 > step.floor_v) {
                let seconds = begin_s + step.seconds - state.time_s;
                cell.advance(&mut state, step.current_a, seconds);
            }
            before_a = step.current_a;
            states.push(state);
        }
        (points, states)
    }

    /// Returns what the fixture tells of a run beside its rows: when it set each current, and the charge it counted.
    ///
    /// The current follows within a millisecond. The counter shares the gain and offset of the current channel and has its own clock.
    pub fn tell(&self, random: &mut ChaCha8Rng, steps: &[Step], states: &[State]) -> RunRecord {
        let counted = |state: &State| {
            let offset_ah = self.current_offset_a * state.time_s / 3600.0;
            AmpHours(state.taken_ah * (1.0 + self.current_gain + self.counter_clock) + offset_ah)
        };
        let told = steps.iter().zip(states.windows(2)).enumerate().map(|(index, (step, two))| {
            let lag_s: f64 = random.random_range(0.0..SET_POINT_LAG_S);
            StepRecord {
                index: index as u8,
                started: Some(Seconds(two[0].time_s - lag_s)),
                ended: Some(Seconds(two[1].time_s)),
                cause: Some(if step.floor_v.is_finite() { StepEnd::Floor } else { StepEnd::Time }),
                charge: Some(counted(&two[1])),
            }
        });
        let steps = told.collect();
        RunRecord {
            plan: Some(1),
            outcome: Some(Outcome::Complete),
            steps,
            counted_charge: states.last().map(counted),
            ..RunRecord::default()
        }
    }

    fn read(
        &self,
        random: &mut ChaCha8Rng,
        cell: &Cell,
        state: &State,
        [current_a, voltage_v, wander_s]: [f64; 3],
    ) -> Point {
        let mut converted = |value: f64, noise: f64, step: f64| {
            let z: f64 = StandardNormal.sample(random);
            ((value + z * noise) / step).round() * step
        };
        let wander_v = self.wander_v * (2.0 * state.time_s / wander_s).min(2.0);
        let (cell_c, air_c) = (cell.air_c + state.rise_k * (1.0 - self.thermometer_loss), cell.air_c);
        let current_a = current_a * (1.0 + self.current_gain) + self.current_offset_a;
        let voltage_v = (voltage_v + wander_v) * (1.0 + self.voltage_gain) + self.voltage_offset_v;
        let channels = &self.channels;
        Point {
            time: Seconds(state.time_s * (1.0 + self.clock)),
            current: Amps(converted(current_a, channels.current_noise_a, channels.current_step_a)),
            voltage: Volts(converted(voltage_v, channels.voltage_noise_v, channels.voltage_step_v)),
            cell: Some(Celsius(converted(
                cell_c + self.cell_thermometer_k,
                TEMPERATURE_NOISE_K,
                TEMPERATURE_STEP_K,
            ))),
            ambient: Some(Celsius(converted(
                air_c + self.air_thermometer_k,
                TEMPERATURE_NOISE_K,
                TEMPERATURE_STEP_K,
            ))),
        }
    }
}
