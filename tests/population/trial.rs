//! One trial: a cell, a fixture, a run, the program's answer, and what is true of the same numbers.
//!
//! Two kinds of run, as the host plans them: a screen at any state of charge, and a screen of a full cell followed by
//! the discharge at 0.2 It to the end voltage, on which the decision may rest. Truths come from the cell alone, without
//! noise and errors, by the definitions in `host/JSON.md`.

use crate::cell::{Cell, State};
use crate::meter::{Meter, Step};
use celltriage_host::estimate::{Estimates, FrontEnd, Quantity, all};
use celltriage_host::nameplate::Nameplate;
use celltriage_host::observation::Observations;
use celltriage_host::trace::{Place, Source, Trace};
use celltriage_host::verdict::{Evidence, Fate, Finding, Policy, RunOutcome, decide};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::collections::BTreeMap;

const END_V: f64 = 3.0;
const REST_S: f64 = 60.0;
const FAST_S: f64 = 1e-3;
const SLOW_S: f64 = 0.1;
const DISCHARGE_ROWS_S: f64 = 1.0;
/// Thickness on the drawing, mm; the label rounds it to 0.1 mm.
const NOMINAL_MM: f64 = 4.0;
/// A reading of a calliper on a soft cell, mm (what the estimator states).
const GAUGE_MM: f64 = 0.05;

/// What a run is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// About two and a half minutes.
    Screen,
    /// A screen and a full discharge.
    Full,
}

/// Answer and truth.
#[derive(Debug)]
pub struct Trial {
    /// What is true.
    pub truth: BTreeMap<Quantity, f64>,
    /// What the program says.
    pub estimates: Estimates,
    /// What it decides.
    pub fate: Fate,
    /// The criteria that did not pass.
    pub open: Vec<String>,
    /// Whether the truth meets every limit of the policy.
    pub is_fit: bool,
}

/// Runs trial number `index` of a seed.
pub fn run(seed: u64, index: u64, kind: Kind, policy: &Policy) -> Trial {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(2 * index + u64::from(kind == Kind::Full));
    let cell = Cell::draw(&mut random, |random| match kind {
        Kind::Screen => random.random_range(0.03..0.99),
        // The charger has finished; one cell in eight was taken off a little early.
        Kind::Full if random.random_bool(0.125) => 1.0 - random.random_range(0.0..0.03),
        Kind::Full => 1.0,
    });
    let stated = FrontEnd::fixture();
    let meter = Meter::draw(&mut random, &stated);
    // The sink's set point has an error of its own, which the meter sees.
    let mut set = |share: f64| {
        let z: f64 = StandardNormal.sample(&mut random);
        share * cell.unit_a() * (1.0 + 0.003 * z)
    };
    let mut steps = vec![
        Step::new(0.0, REST_S, SLOW_S),
        Step::new(set(0.2), 10.0, FAST_S),
        Step::new(set(1.0), 1.0, FAST_S),
        Step::new(0.0, 30.0, SLOW_S),
        Step::new(set(0.5), 10.0, FAST_S),
        Step::new(0.0, 30.0, SLOW_S),
    ];
    if kind == Kind::Full {
        steps.push(Step { floor_v: END_V, ..Step::new(set(0.2), 7.0 * 3600.0, DISCHARGE_ROWS_S) });
        steps.push(Step::new(0.0, 30.0, SLOW_S));
    }
    let (points, states) = meter.record(&mut random, &cell, &steps);
    let mut trace = Trace::from_points(points, |_| Place::Whole, Source::Fixture, Vec::new()).0;
    trace.run = Some(meter.tell(&mut random, &steps, &states));

    let mut truth = truths(&cell, &steps, &states);
    if kind == Kind::Screen {
        // A full cell is at the end of the scale, where an interval has one side only.
        truth.insert(Quantity::StateOfCharge, states[1].soc);
    } else {
        let capacity_ah = capacity_ah(&cell, &states[6], steps[6].current_a);
        truth.insert(Quantity::Capacity, capacity_ah);
        truth.insert(Quantity::CapacityFraction, capacity_ah / cell.rated_ah);
    }
    let (growth, label_mm, thickness_mm) = thickness(&mut random);
    truth.insert(Quantity::ThicknessGrowth, growth);
    let observations = Observations { thickness_mm, ..Observations::no_signs() };
    let label = format!(
        "rated_capacity_ah = {}\ncharge_limit_v = {}\nend_of_discharge_v = {END_V}\nchemistry = \"lco\"\n\
         nominal_thickness_mm = {label_mm}\n",
        cell.rated_ah, cell.charge_limit_v
    );
    let nameplate = Nameplate::from_toml(&label, "label").expect("a label");
    let estimates = all(&trace, &nameplate, &observations, &stated);
    let run = RunOutcome::Complete;
    let evidence =
        Evidence { nameplate: &nameplate, observations: &observations, estimates: &estimates, run: &run };
    let verdict = decide(policy, &evidence);
    let open = verdict.reasons.iter().filter(|reason| reason.finding != Finding::Pass);
    let open = open.map(|reason| format!("{} {:?}", reason.criterion, reason.finding)).collect();
    let fate = verdict.fate;
    let of = |quantity| truth.get(&quantity).copied();
    // The limits of the built-in policy, written again: a check must not read them from what it checks.
    let is_fit = of(Quantity::CapacityFraction).is_some_and(|fraction| fraction >= 0.80)
        && of(Quantity::Resistance25Celsius).is_some_and(|ohm| ohm * cell.rated_ah <= 0.68)
        && of(Quantity::TemperatureRise).is_some_and(|kelvin| kelvin <= 8.0)
        && of(Quantity::RestTemperatureRise).is_some_and(|kelvin| kelvin <= 2.0)
        && growth <= 0.10;
    Trial { truth, estimates, fate, open, is_fit }
}

/// Returns what is true of everything but capacity and thickness.
fn truths(cell: &Cell, steps: &[Step], states: &[State]) -> BTreeMap<Quantity, f64> {
    let mut truth = BTreeMap::new();
    let rested = states[1];
    truth.insert(Quantity::RestVoltage, cell.open_v(rested.soc, cell.air_c + rested.rise_k));
    // Rested without end, where nothing is left to relax.
    truth.insert(Quantity::SettledVoltage, cell.open_v(rested.soc, cell.air_c + rested.rise_k));
    let moved = cell.unrelaxed_v(REST_S) - cell.unrelaxed_v(REST_S / 2.0);
    truth.insert(Quantity::RestDrift, moved / (REST_S / 2.0) * 3600.0);
    truth.insert(Quantity::ResistanceTwoLevel, two_level_ohm(cell, steps, &rested));
    // The same cell in a room in which it is at 25 degC.
    let mut warm = cell.clone();
    warm.air_c = 25.0 - cell.warm_k;
    truth.insert(Quantity::Resistance25Celsius, two_level_ohm(&warm, steps, &rested));
    let instants = [
        (Quantity::Resistance10Milliseconds, 0.01),
        (Quantity::Resistance100Milliseconds, 0.1),
        (Quantity::Resistance1Second, 1.0),
        (Quantity::Resistance2Seconds, 2.0),
        (Quantity::Resistance10Seconds, 10.0),
    ];
    for (quantity, seconds) in instants {
        truth.insert(quantity, instant_ohm(cell, &states[4], steps[4].current_a, seconds));
    }
    truth.insert(
        Quantity::Resistance10SecondsWithoutCharge,
        without_charge_ohm(cell, &states[4], steps[4].current_a),
    );
    let last = states.last().expect("an end");
    truth.insert(Quantity::CountedCharge, last.taken_ah);
    let warmest = states[1..].iter().map(|state| state.rise_k).fold(f64::MIN, f64::max);
    truth.insert(Quantity::TemperatureRise, warmest);
    truth.insert(Quantity::RestTemperatureRise, cell.warm_k);
    truth
}

/// Returns (U1 - U2) / (I2 - I1) of the two levels that follow a rest.
fn two_level_ohm(cell: &Cell, steps: &[Step], rested: &State) -> f64 {
    let mut state = *rested;
    cell.advance(&mut state, steps[1].current_a, steps[1].seconds);
    let first_v = cell.voltage_v(&state, steps[1].current_a);
    cell.advance(&mut state, steps[2].current_a, steps[2].seconds);
    (first_v - cell.voltage_v(&state, steps[2].current_a)) / (steps[2].current_a - steps[1].current_a)
}

/// Returns by how much a pulse lowers the voltage against the same cell left alone, over the current.
fn instant_ohm(cell: &Cell, rested: &State, current_a: f64, seconds: f64) -> f64 {
    let (mut loaded, mut alone) = (*rested, *rested);
    cell.advance(&mut loaded, current_a, seconds);
    cell.advance(&mut alone, 0.0, seconds);
    (cell.voltage_v(&alone, 0.0) - cell.voltage_v(&loaded, current_a)) / current_a
}

/// Returns the resistance at 10 s without the fall of the settled voltage by the charge taken out.
fn without_charge_ohm(cell: &Cell, rested: &State, current_a: f64) -> f64 {
    let mut loaded = *rested;
    cell.advance(&mut loaded, current_a, 10.0);
    let cell_c = cell.air_c + rested.rise_k;
    let fallen_v = cell.open_v(rested.soc, cell_c) - cell.open_v(loaded.soc, cell_c);
    instant_ohm(cell, rested, current_a, 10.0) - fallen_v / current_a
}

/// Returns the charge between full and the end voltage under the current of the discharge.
fn capacity_ah(cell: &Cell, begin: &State, current_a: f64) -> f64 {
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

/// Draws the growth of a cell; returns it with the label's thickness and three readings (mm).
fn thickness(random: &mut ChaCha8Rng) -> (f64, f64, Vec<f64>) {
    let nominal_mm: f64 = NOMINAL_MM + random.random_range(-0.5..0.5);
    // One cell in seven has swollen; the others breathe with their charge.
    let growth = if random.random_bool(0.15) {
        random.random_range(0.04..0.16)
    } else {
        random.random_range(-0.02..0.03)
    };
    let thickest_mm = nominal_mm * (1.0 + growth);
    // A swollen cell bulges in the middle; the other points lie lower, by more the more it has swollen.
    let bulge_mm = nominal_mm * growth.max(0.0);
    let places = [thickest_mm, thickest_mm - 0.5 * bulge_mm, thickest_mm - 0.7 * bulge_mm];
    let readings = places.map(|place| {
        let z: f64 = StandardNormal.sample(random);
        place + GAUGE_MM * z
    });
    (growth, (nominal_mm * 10.0).round() / 10.0, readings.to_vec())
}
