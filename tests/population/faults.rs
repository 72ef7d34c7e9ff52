//! Faults of traces, instruments, handling and labels, put into the measurement of a drawn cell; and what the program makes of it.
//!
//! A full test of a cell (`run.rs`) by a good instrument, graded as a file from an instrument that nobody knows. A fault changes the
//! rows, the instrument, the run or what is said of the cell; the truth stays that of the cell.

use crate::cell::Cell;
use crate::gauge;
use crate::meter::{Channels, Meter};
use crate::run::Run;
use crate::trial::{is_fit, label};
use crate::truth;
use celltriage_measure::estimate::{FrontEnd, Quantity, all};
use celltriage_measure::observation::Observations;
use celltriage_measure::si::{Amps, Celsius, Seconds, Volts};
use celltriage_measure::trace::{Place, Point, Source, Trace};
use celltriage_verdict::{Evidence, Fate, LabelOfModel, Policy, RunOutcome, decide};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What is wrong. Times are seconds, shares are of the true value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// Nothing.
    Clean,
    /// So many seconds of the discharge written once more, and the clock goes on.
    Twice(f64),
    /// So many seconds of the discharge left out, and the clock closed over them.
    Cut(f64),
    /// The clock runs fast by a share.
    Clock(f64),
    /// The current reads high by a share.
    Gain(f64),
    /// The current reads high by so many A.
    Offset(f64),
    /// The load sags by a share towards the end, and the current is logged as it was set.
    Sags(f64),
    /// Two wires instead of four: so many ohm more.
    TwoWires(f64),
    /// Two cells in series measured as one.
    TwoInSeries,
    /// Warm by so many K from a hand, and cooling, with a rest of so many seconds before the test.
    HandWarm(f64, f64),
    /// Discharged at another multiple of It.
    Rate(f64),
    /// The rated capacity on the label is so many times the true one.
    Label(f64),
    /// The same of a model that the book knows.
    LabelOfKnownModel(f64),
}

/// What came of it.
#[derive(Clone, Copy, Debug)]
pub struct Outcome {
    /// The decision.
    pub fate: Fate,
    /// Capacity over the true rated one.
    pub share: f64,
    /// Whether the truth meets every limit of the policy.
    pub is_fit: bool,
    /// Whether a capacity was counted.
    pub is_counted: bool,
    /// Whether the program told a jump of the voltage.
    pub is_flagged: bool,
    /// By how much the voltage fell over the rows that were written twice or cut out, V.
    pub fell_v: f64,
}

/// A measurement before it is graded.
struct Scene {
    points: Vec<Point>,
    /// When the discharge began, and when it ended.
    discharge_s: [f64; 2],
    fell_v: f64,
}

/// Puts a fault into the measurement of cell number `index` and grades it.
pub fn run(seed: u64, index: u64, fault: Fault, policy: &Policy) -> Outcome {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(2_000_000 + index);
    let random = &mut random;
    let mut cell = Cell::draw(random, |_| 1.0);
    let share = |cell: &Cell| truth::capacity_ah(cell, &cell.start(), 0.2 * cell.rated_ah) / cell.rated_ah;
    while !(0.5..1.15).contains(&share(&cell)) {
        cell = Cell::draw(random, |_| 1.0); // one in some hundred is no cell that is made
    }
    // Charged the evening before.
    cell.last_used_s = random.random_range(4.0..20.0) * 3600.0;
    let mut meter = Meter::draw(random, &FrontEnd::fixture(), Channels::FIXTURE);
    match fault {
        Fault::Gain(share) => meter.current_gain += share,
        Fault::Offset(amperes) => meter.current_offset_a += amperes,
        Fault::Clock(share) => meter.clock = share,
        Fault::TwoWires(ohm) => meter.contact_ohm += ohm,
        _ => {}
    }
    let mut run = Run::full(random, &cell);
    let discharge = run.discharge.expect("a full run discharges");
    let truths = {
        let states = meter.record(&mut random.clone(), &cell, &run.steps, run.slip).1;
        truth::of_run(&cell, &meter, &run, &states)
    };
    if let Fault::Rate(multiple) = fault {
        run.steps[discharge].current_a *= multiple / 0.2;
        run.steps[discharge].seconds *= 0.2 / multiple;
    }
    if let Fault::HandWarm(_, rest_s) = fault {
        run.steps[0].seconds = rest_s;
    }
    let (points, states) = meter.record(random, &cell, &run.steps, run.slip);
    let discharge_s =
        [states[discharge].time_s, states[discharge + 1].time_s].map(|s| s * (1.0 + meter.clock));
    let mut scene = Scene { points, discharge_s, fell_v: 0.0 };
    scene.spoil(fault, random);
    graded(&cell, truths, fault, scene, policy, random)
}

impl Scene {
    fn spoil(&mut self, fault: Fault, random: &mut ChaCha8Rng) {
        let [begin, end] = self.discharge_s;
        match fault {
            Fault::Twice(seconds) | Fault::Cut(seconds) => {
                let from = random.random_range(begin + 60.0..(end - seconds - 60.0).max(begin + 61.0));
                let at = |time: f64| self.points.partition_point(|point| point.time.0 < time);
                let (first, last) = (at(from), at(from + seconds));
                self.fell_v = (self.points[first].voltage - self.points[last - 1].voltage).0;
                let sign = if matches!(fault, Fault::Twice(_)) { 1.0 } else { -1.0 };
                let moved = |point: &Point| Point { time: Seconds(point.time.0 + sign * seconds), ..*point };
                let (head, tail) = if sign > 0.0 { (last, first) } else { (first, last) };
                let tail: Vec<Point> = self.points[tail..].iter().map(moved).collect();
                self.points.truncate(head);
                self.points.extend(tail);
            }
            Fault::Sags(share) => {
                // What flows less takes longer; the voltages are those of the charge that had flowed.
                let set = self.points.iter().find(|point| point.time.0 > begin + 60.0).expect("rows").current;
                let mut late = 0.0;
                let mut before = begin;
                for point in self.points.iter_mut().filter(|point| point.time.0 >= begin) {
                    let time = point.time.0;
                    let part = ((time - begin) / (end - begin)).clamp(0.0, 1.0);
                    late += (time - before) * (1.0 / (1.0 - share * part) - 1.0);
                    before = time;
                    point.time = Seconds(time + late);
                    if time < end {
                        point.current = set;
                    }
                }
            }
            Fault::TwoInSeries => {
                self.points.iter_mut().for_each(|point| point.voltage = Volts(2.0 * point.voltage.0))
            }
            Fault::HandWarm(kelvins, _) => {
                for point in &mut self.points {
                    let rise = kelvins * (-point.time.0 / 900.0).exp();
                    point.cell = point.cell.map(|cell| Celsius(cell.0 + rise));
                }
            }
            Fault::Rate(_) | Fault::Clean => {}
            Fault::Clock(_) | Fault::Gain(_) | Fault::Offset(_) | Fault::TwoWires(_) => {}
            Fault::Label(_) | Fault::LabelOfKnownModel(_) => {}
        }
        // An instrument's digits: a tenth of a milliampere.
        for point in &mut self.points {
            point.current = Amps((point.current.0 * 1e4).round() / 1e4);
        }
    }
}

fn graded(
    cell: &Cell,
    mut truths: truth::Truths,
    fault: Fault,
    scene: Scene,
    policy: &Policy,
    random: &mut ChaCha8Rng,
) -> Outcome {
    let source = Source::File("recorded elsewhere".to_owned());
    let trace = Trace::from_points(scene.points, |_| Place::Whole, source, Vec::new()).0;
    let gauge::Reading { growth, label_mm, observations } = gauge::read(random, 1.0);
    let observations = Observations { rested_h: None, ..observations };
    let times = match fault {
        Fault::Label(times) | Fault::LabelOfKnownModel(times) => times,
        _ => 1.0,
    };
    let nameplate = label(cell, cell.rated_ah * times, label_mm);
    let front_end = FrontEnd::unknown();
    let estimates = all(&trace, &nameplate, &observations, &front_end);
    let known = [LabelOfModel { rated_ah: cell.rated_ah, cells: 3, read_again: 0 }];
    let is_known = matches!(fault, Fault::LabelOfKnownModel(_));
    let evidence = Evidence {
        nameplate: &nameplate,
        observations: &observations,
        estimates: &estimates,
        run: &RunOutcome::Recorded,
        known: &[],
        lifetime: None,
        contradictions: &[],
        labels_of_model: if is_known { &known } else { &[] },
        from_file: true,
    };
    let verdict = decide(policy, &evidence);
    let jumps =
        |text: &String| text.contains("while the current stays") || text.contains("to the last digit");
    let (is_counted, is_flagged) = match estimates.get(Quantity::Capacity) {
        Some(capacity) => (true, capacity.warnings.iter().any(jumps)),
        None => (false, estimates.missing.get(&Quantity::Capacity).is_some_and(jumps)),
    };
    truths.insert(Quantity::ThicknessGrowth, growth);
    let share = truths.get(&Quantity::CapacityFraction).copied().unwrap_or(f64::NAN);
    let is_fit = is_fit(&truths, cell);
    Outcome { fate: verdict.fate, share, is_fit, is_counted, is_flagged, fell_v: scene.fell_v }
}
