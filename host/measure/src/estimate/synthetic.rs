//! For tests: traces of a cell whose every voltage is known in closed form.
//!
//! The cell is a voltage source that falls with charge, a series resistance and two RC pairs. Under a constant current
//! I from a state u_k each pair follows u_k(t) = I r_k (1 - exp(-t / tau_k)) + u_k exp(-t / tau_k), exactly. The
//! instrument adds what real ones do, seeded: the same seed gives the same trace.

use crate::si::{Amps, Celsius, SECONDS_PER_HOUR, Seconds, Volts};
use crate::trace::{Place, Point, Source, Trace};

/// Random numbers that repeat (splitmix64, public domain constants).
#[derive(Clone)]
pub struct Random(pub u64);

impl Random {
    /// Returns a number from 0 up to 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Returns a normal number of mean 0 and standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.uniform()).ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// Returns a number between two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Returns one of some things.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[(self.uniform() * from.len() as f64) as usize]
    }
}

/// The cell.
#[derive(Clone, Debug)]
pub struct Cell {
    /// Source voltage at the start in V.
    pub source_v: f64,
    /// Fall of the source in V for each Ah taken out.
    pub fall_v_per_ah: f64,
    /// Series resistance in ohm.
    pub series_ohm: f64,
    /// Resistance in ohm and time constant in s of each RC pair.
    pub pairs: [(f64, f64); 2],
}

impl Default for Cell {
    fn default() -> Self {
        Self { source_v: 3.85, fall_v_per_ah: 0.2, series_ohm: 0.045, pairs: [(0.012, 0.015), (0.018, 12.0)] }
    }
}

/// How the first row after a step is spoilt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Torn {
    /// It is not.
    No,
    /// The current is new, the voltage still old.
    CurrentFirst,
    /// The voltage is new, the current still old.
    VoltageFirst,
    /// Both are the mean of old and new.
    MeanOfBoth,
}

/// When rows are written.
#[derive(Clone, Copy, Debug)]
pub enum Rows {
    /// Every so many seconds, whatever the steps; the phase shifts the grid.
    Grid {
        /// In s.
        period: f64,
        /// In s.
        phase: f64,
    },
    /// Every so many seconds from each step's start to its end, both written: two rows share a step's time.
    PerStep {
        /// In s.
        period: f64,
    },
    /// 1 ms after a step, then slower and slower, and fine again before its end.
    Variable,
}

/// The instrument.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// When rows are written.
    pub rows: Rows,
    /// How the first row after a step is spoilt.
    pub torn: Torn,
    /// Noise of the voltage, standard deviation in V.
    pub voltage_noise: f64,
    /// Noise of the current, standard deviation in A.
    pub current_noise: f64,
    /// Amplitude of the mains hum in V.
    pub hum_v: f64,
    /// Relative gain error of the voltage.
    pub voltage_gain: f64,
    /// Offset of the voltage in V.
    pub voltage_offset: f64,
    /// Relative gain error of the current.
    pub current_gain: f64,
    /// Offset of the current in A.
    pub current_offset: f64,
    /// Resistance of the contacts within the sense leads, in ohm.
    pub contact_ohm: f64,
    /// Smallest step of the voltage converter in V; 0 = none.
    pub voltage_step: f64,
    /// Seed of the noise.
    pub seed: u64,
}

impl Default for Instrument {
    fn default() -> Self {
        Self {
            rows: Rows::PerStep { period: 0.001 },
            torn: Torn::No,
            voltage_noise: 0.0,
            current_noise: 0.0,
            hum_v: 0.0,
            voltage_gain: 0.0,
            voltage_offset: 0.0,
            current_gain: 0.0,
            current_offset: 0.0,
            contact_ohm: 0.0,
            voltage_step: 0.0,
            seed: 1,
        }
    }
}

/// One step with the state it starts from.
struct Step {
    start: f64,
    current: f64,
    charge_ah: f64,
    states: [f64; 2],
}

/// A run of steps `(current in A, seconds)` on a cell.
pub struct Run {
    cell: Cell,
    steps: Vec<Step>,
    end: f64,
}

impl Run {
    /// Lets a cell go through the steps, exactly.
    pub fn new(cell: &Cell, steps: &[(f64, f64)]) -> Self {
        let mut run = Self { cell: cell.clone(), steps: Vec::new(), end: 0.0 };
        let (mut charge_ah, mut states) = (0.0, [0.0; 2]);
        for (current, duration) in steps {
            run.steps.push(Step { start: run.end, current: *current, charge_ah, states });
            states = run.states(run.steps.len() - 1, *duration);
            charge_ah += current * duration / SECONDS_PER_HOUR;
            run.end += duration;
        }
        run
    }

    fn states(&self, step: usize, elapsed: f64) -> [f64; 2] {
        let Step { current, states, .. } = self.steps[step];
        [0, 1].map(|k| {
            let (ohm, tau) = self.cell.pairs[k];
            let decay = (-elapsed / tau).exp();
            current * ohm * (1.0 - decay) + states[k] * decay
        })
    }

    /// Returns the true voltage some time into a step; time 0 is already under its current.
    pub fn voltage(&self, step: usize, elapsed: f64) -> f64 {
        let Step { current, charge_ah, .. } = self.steps[step];
        let charge = charge_ah + current * elapsed / SECONDS_PER_HOUR;
        let [fast, slow] = self.states(step, elapsed);
        self.cell.source_v - self.cell.fall_v_per_ah * charge - current * self.cell.series_ohm - fast - slow
    }

    /// Returns the true resistance at a time into step 1, which rises from the rest of step 0.
    pub fn resistance_at(&self, elapsed: f64) -> f64 {
        let rest = self.voltage(0, self.steps[1].start);
        (rest - self.voltage(1, elapsed)) / self.steps[1].current
    }

    /// Returns the true two-level resistance of steps 1 and 2.
    pub fn two_level(&self) -> f64 {
        let first = self.voltage(1, self.steps[2].start - self.steps[1].start);
        let second = self.voltage(2, self.duration(2));
        (first - second) / (self.steps[2].current - self.steps[1].current)
    }

    fn duration(&self, step: usize) -> f64 {
        self.steps.get(step + 1).map_or(self.end, |next| next.start) - self.steps[step].start
    }

    /// Records the run.
    pub fn record(&self, instrument: &Instrument) -> Trace {
        let mut random = Random(instrument.seed);
        let hum_phase = random.uniform() * std::f64::consts::TAU;
        let mut points = Vec::new();
        for (step, elapsed) in self.rows(instrument.rows) {
            let is_first = points.last().is_some_and(|(last, _)| *last != step);
            let (mut current, mut voltage) = (self.steps[step].current, self.voltage(step, elapsed));
            if is_first {
                let old = (self.steps[step - 1].current, self.voltage(step - 1, self.duration(step - 1)));
                match instrument.torn {
                    Torn::No => {}
                    Torn::CurrentFirst => voltage = old.1,
                    Torn::VoltageFirst => current = old.0,
                    Torn::MeanOfBoth => {
                        (current, voltage) = ((current + old.0) / 2.0, (voltage + old.1) / 2.0)
                    }
                }
            }
            let time = self.steps[step].start + elapsed;
            voltage -= current * instrument.contact_ohm;
            voltage += voltage * instrument.voltage_gain + instrument.voltage_offset;
            voltage += instrument.voltage_noise * random.normal();
            voltage += instrument.hum_v * (std::f64::consts::TAU * 50.0 * time + hum_phase).sin();
            if instrument.voltage_step > 0.0 {
                voltage = (voltage / instrument.voltage_step).round() * instrument.voltage_step;
            }
            current += current * instrument.current_gain + instrument.current_offset;
            current += instrument.current_noise * random.normal();
            let warm = Some(Celsius(25.0));
            let point = Point {
                time: Seconds(time),
                current: Amps(current),
                voltage: Volts(voltage),
                cell: warm,
                ambient: warm,
            };
            points.push((step, point));
        }
        from_points(points.into_iter().map(|(_, point)| point).collect())
    }

    fn rows(&self, rows: Rows) -> Vec<(usize, f64)> {
        let steps = 0..self.steps.len();
        match rows {
            Rows::Grid { period, phase } => {
                let count = ((self.end - phase) / period) as usize;
                let step_at =
                    |time: f64| self.steps.iter().rposition(|step| step.start <= time + 1e-9).unwrap_or(0);
                let times = (0..=count).map(|row| phase + row as f64 * period);
                times.map(|time| (step_at(time), (time - self.steps[step_at(time)].start).max(0.0))).collect()
            }
            Rows::PerStep { period } => steps
                .flat_map(|step| {
                    let duration = self.duration(step);
                    let count = (duration / period).round() as usize;
                    (0..=count).map(move |row| (step, (row as f64 * period).min(duration)))
                })
                .collect(),
            Rows::Variable => steps
                .flat_map(|step| {
                    let duration = self.duration(step);
                    let mut times = vec![0.0];
                    while let Some(last) = times.last().copied().filter(|last| *last < duration) {
                        let fine = last < 0.2 || duration - last < 0.1;
                        let next: f64 = last
                            + if fine {
                                0.001
                            } else if last < 2.0 {
                                0.004
                            } else {
                                0.05
                            };
                        times.push(if next > duration - 1e-9 { duration } else { next });
                    }
                    times.into_iter().map(move |elapsed| (step, elapsed))
                })
                .collect(),
        }
    }
}

/// Makes a trace of points as a file would give them.
pub fn from_points(points: Vec<Point>) -> Trace {
    let place = |index: usize| Place::Line(index as u64 + 2);
    Trace::from_points(points, place, Source::File("synthetic".to_owned()), Vec::new()).0
}
