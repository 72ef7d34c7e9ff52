//! One trial: a cell, an instrument, one or two visits, the program's answer, and what is true of the same numbers.

use crate::cell::{Cell, loss_per_month};
use crate::gauge;
use crate::meter::{Channels, Meter};
use crate::run::{END_V, Run};
use crate::truth::{self, Truths};
use celltriage_assessment::history::made;
use celltriage_assessment::same_cell::Facts;
use celltriage_measure::estimate::{Estimates, FrontEnd, Quantity, Visit, all, self_discharge};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::trace::{Place, Source, Trace};
use celltriage_verdict::{Evidence, Fate, Finding, Policy, RunOutcome, decide};
use jiff::{SignedDuration, ZonedDateTime, civil};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Where a part of a discharge begins and ends, as states of charge.
const PART_FROM: [f64; 2] = [0.95, 1.0];
const PART_TO: [f64; 2] = [0.08, 0.15];
/// Rest before the first of two visits (h), time between both (days), and by how much the room differs (K).
const RESTED_H: [f64; 2] = [24.5, 96.0];
const BETWEEN_D: [f64; 2] = [3.05, 14.0];
/// Time between both where a decision hangs on it, as the program asks for it (days); both on one fixture.
const ASKED_FOR_D: [f64; 2] = [7.0, 14.0];
const ROOM_K: f64 = 0.4;
/// One second visit in five is made on another fixture.
const ANOTHER_FIXTURE: f64 = 0.2;
/// Least charge at which the program compares two visits is 60 %.
const STORED_FROM: f64 = 0.61;
/// Steps in which people tell for how long a cell has lain, h.
const TOLD_IN_H: f64 = 0.05;
/// One cell in eight was taken off the charger a little early.
const EARLY: f64 = 0.125;

/// What a trial is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A screen at any state of charge, about two and a half minutes.
    Screen,
    /// A screen and a full discharge, on which a decision may rest: one visit.
    Full,
    /// A fast recorder's pulses, a file from elsewhere.
    Sharp,
    /// A part of a discharge between two long rests, a file from elsewhere.
    Part,
    /// The rest voltage now and some days later.
    Stored,
    /// The rest voltage of a full cell, and some days later a full test: two visits.
    StoredFull,
}

impl Kind {
    /// All of them.
    pub const ALL: [Kind; 6] =
        [Kind::Screen, Kind::Full, Kind::Sharp, Kind::Part, Kind::Stored, Kind::StoredFull];

    pub(crate) fn start(self, random: &mut ChaCha8Rng) -> f64 {
        match self {
            Kind::Screen | Kind::Sharp => random.random_range(0.03..0.99),
            Kind::Full | Kind::StoredFull if random.random_bool(EARLY) => {
                1.0 - random.random_range(0.0..0.03)
            }
            Kind::Full | Kind::StoredFull => 1.0,
            Kind::Part => random.random_range(PART_FROM[0]..PART_FROM[1]),
            Kind::Stored => random.random_range(STORED_FROM..1.0),
        }
    }
}

/// A decision, and what it should have been.
#[derive(Debug)]
pub struct Decision {
    /// What the program decides.
    pub fate: Fate,
    /// The criteria that did not pass.
    pub open: Vec<String>,
    /// Whether the truth meets every limit of the policy that one visit can look at.
    pub is_fit: bool,
    /// Whether it also keeps the limit for the loss in storage.
    pub keeps_charge: bool,
    /// Whether the decision says itself that the loss in storage is not proven.
    pub storage_is_open: bool,
    /// Capacity over rated capacity.
    pub capacity_fraction: f64,
}

/// Answer and truth.
#[derive(Debug)]
pub struct Trial {
    /// What is true.
    pub truth: Truths,
    /// What the program says.
    pub estimates: Estimates,
    /// What it decides, where it may.
    pub decision: Option<Decision>,
}

/// One visit of a cell at an instrument.
struct Bench<'a> {
    cell: &'a Cell,
    meter: &'a Meter,
    stated: &'a FrontEnd,
    run: Run,
    source: Source,
    /// For how long the cell has rested, as a person tells.
    rested_h: Option<f64>,
}

impl Bench<'_> {
    /// Runs it; returns the answers, what is true, label and looks.
    fn visit(&self, random: &mut ChaCha8Rng) -> (Estimates, Truths, Nameplate, Observations) {
        let (points, states) = self.meter.record(random, self.cell, &self.run.steps, self.run.slip);
        let mut trace = Trace::from_points(points, |_| Place::Whole, self.source.clone(), Vec::new()).0;
        if self.source == Source::Fixture {
            trace.run = Some(self.meter.tell(random, &self.run.steps, &states));
        }
        let mut truth = truth::of_run(self.cell, self.meter, &self.run, &states);
        let mut reading = gauge::read(random, self.cell.start_soc);
        reading.observations.rested_h = self.rested_h;
        // As the program asks where a count began lower than full; these labels are right.
        reading.observations.label_again_ah = Some((self.cell.rated_ah * 1e4).round() / 1e4);
        truth.insert(Quantity::ThicknessGrowth, reading.growth);
        let nameplate = label(self.cell, self.cell.rated_ah, reading.label_mm);
        let estimates = all(&trace, &nameplate, &reading.observations, self.stated);
        (estimates, truth, nameplate, reading.observations)
    }
}

/// Returns what a screen or a full test of a cell leaves for the next decision on it.
pub fn facts(random: &mut ChaCha8Rng, cell: &Cell, kind: Kind) -> Facts {
    let stated = FrontEnd::fixture();
    let meter = Meter::draw(random, &stated, Channels::FIXTURE);
    let run = if kind == Kind::Full { Run::full(random, cell) } else { Run::screen(random, cell) };
    let (source, rested_h) = (Source::Fixture, None);
    let bench = Bench { cell, meter: &meter, stated: &stated, run, source, rested_h };
    let (estimates, _, nameplate, looks) = bench.visit(random);
    let looks = Observations { thickness_mm: Vec::new(), ..looks };
    Facts::of(&nameplate, &looks, &estimates.measured)
}

/// Runs trial number `index` of a seed.
pub fn run(seed: u64, index: u64, kind: Kind, policy: &Policy) -> Trial {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(Kind::ALL.len() as u64 * index + kind as u64);
    let random = &mut random;
    let cell = Cell::draw(random, |random| kind.start(random));
    match kind {
        Kind::Screen | Kind::Full => {
            let stated = FrontEnd::fixture();
            let meter = Meter::draw(random, &stated, Channels::FIXTURE);
            let run = if kind == Kind::Full { Run::full(random, &cell) } else { Run::screen(random, &cell) };
            // As the program asks where a cell falls at rest; people round down.
            let rested_h = Some((cell.last_used_s / 3600.0 / TOLD_IN_H).floor() * TOLD_IN_H);
            let bench =
                Bench { cell: &cell, meter: &meter, stated: &stated, run, source: Source::Fixture, rested_h };
            let (estimates, mut truth, nameplate, looks) = bench.visit(random);
            if kind == Kind::Screen {
                return Trial { truth, estimates, decision: None };
            }
            // As many leak as of stored cells; what a cell loses in hours shows nowhere.
            let cell = Cell { loss_per_month: loss_per_month(random), ..cell.clone() };
            let decision = decided(policy, &nameplate, &looks, &estimates, &truth, &cell);
            at_the_end_of_the_scale(&mut truth);
            Trial { truth, estimates, decision: Some(decision) }
        }
        Kind::Sharp | Kind::Part => {
            let stated = FrontEnd::unknown();
            let meter = Meter::draw(random, &stated, Channels::RECORDER);
            let (cell, run) = if kind == Kind::Sharp {
                let run = Run::sharp(random, &cell);
                (cell, run)
            } else {
                let to_soc = random.random_range(PART_TO[0]..PART_TO[1]);
                let part = [cell.start_soc, to_soc];
                let cell = cell.bent_over(random, part);
                let run = Run::part(random, &cell, to_soc);
                (cell, run)
            };
            let source = Source::File("recorded elsewhere".to_owned());
            let bench = Bench { cell: &cell, meter: &meter, stated: &stated, run, source, rested_h: None };
            let (estimates, mut truth, ..) = bench.visit(random);
            if kind == Kind::Part {
                let mut full = cell.start();
                full.soc = 1.0;
                let from_full = Cell { start_soc: 1.0, ..cell.clone() };
                let whole_ah = truth::capacity_ah(&from_full, &full, 0.2 * cell.unit_a());
                truth.insert(Quantity::CapacityFromPart, whole_ah);
                truth.remove(&Quantity::StateOfCharge);
            }
            Trial { truth, estimates, decision: None }
        }
        Kind::Stored | Kind::StoredFull => stored(random, kind, &cell, policy),
    }
}

/// Two visits: a rest voltage of a stored cell, and another one some days later, alone or before a full test.
fn stored(random: &mut ChaCha8Rng, kind: Kind, cell: &Cell, policy: &Policy) -> Trial {
    let stated = FrontEnd::fixture();
    let rested_h = random.random_range(RESTED_H[0]..RESTED_H[1]);
    let decides = kind == Kind::StoredFull;
    let [least, most] = if decides { ASKED_FOR_D } else { BETWEEN_D };
    let days = random.random_range(least..most);
    let z: f64 = StandardNormal.sample(random);
    let cell = cell.clone().stored(random, rested_h);
    let later = truth::days_later(&cell, days, ROOM_K * z);
    let base = Meter::draw(random, &stated, Channels::FIXTURE);
    let is_another = !decides && random.random_bool(ANOTHER_FIXTURE);
    let meters = [
        base.another_day(random),
        if is_another { Meter::draw(random, &stated, Channels::FIXTURE) } else { base.another_day(random) },
    ];
    let told_h = [rested_h.floor(), (rested_h + 24.0 * days).floor()];
    let bench = |cell, meter, run, rested_h| {
        let (source, rested_h) = (Source::Fixture, Some(rested_h));
        Bench { cell, meter, stated: &stated, run, source, rested_h }
    };

    let monday: ZonedDateTime = civil::date(2026, 11, 2).at(9, 0, 0, 0).in_tz("UTC").expect("a day");
    let at = [monday.clone(), monday + SignedDuration::from_secs_f64(days * 86_400.0)];
    let fixture = ["one", if is_another { "another" } else { "one" }].map(|name| Some(name.to_owned()));
    let [first_at, second_at] = at;
    let [first_fixture, second_fixture] = fixture;
    let (before, ..) = bench(&cell, &meters[0], Run::rest(), told_h[0]).visit(random);
    let before: Visit = made(first_at, &before, Some(told_h[0]), first_fixture);
    let run = if kind == Kind::Stored { Run::rest() } else { Run::full(random, &later) };
    let (mut estimates, mut truth, nameplate, looks) =
        bench(&later, &meters[1], run, told_h[1]).visit(random);
    let now = made(second_at, &estimates, None, second_fixture);
    for (quantity, found) in self_discharge(&nameplate, &stated, &[before], &now) {
        estimates.put(quantity, found);
    }
    let decision = decides.then(|| decided(policy, &nameplate, &looks, &estimates, &truth, &later));
    at_the_end_of_the_scale(&mut truth);
    truth.extend(truth::self_discharge(&cell, days));
    Trial { truth, estimates, decision }
}

/// A full cell is at the end of the scale, where an interval has one side only.
fn at_the_end_of_the_scale(truth: &mut Truths) {
    truth.remove(&Quantity::StateOfCharge);
}

/// The label of a cell, with another rated capacity where that is the fault.
pub fn label(cell: &Cell, rated_ah: f64, thickness_mm: f64) -> Nameplate {
    let label = format!(
        "rated_capacity_ah = {rated_ah:.4}\ncharge_limit_v = {}\nend_of_discharge_v = {END_V}\nchemistry = \"lco\"\n\
         form = \"pouch\"\nnominal_thickness_mm = {thickness_mm}\n",
        cell.charge_limit_v
    );
    Nameplate::from_toml(&label, "label").expect("a label")
}

/// Whether the truth meets every limit of the policy that one visit can look at. The limits of the built-in policy, written
/// again: a check must not read them from what it checks.
pub fn is_fit(truth: &Truths, cell: &Cell) -> bool {
    let of = |quantity| truth.get(&quantity).copied().unwrap_or(f64::NAN);
    of(Quantity::CapacityFraction) >= 0.80
        && of(Quantity::Resistance25Celsius) * cell.rated_ah <= 0.68
        && of(Quantity::TemperatureRise) <= 8.0
        && of(Quantity::RestTemperatureRise) <= 2.0
        && of(Quantity::ThicknessGrowth) <= 0.10
}

fn decided(
    policy: &Policy,
    nameplate: &Nameplate,
    observations: &Observations,
    estimates: &Estimates,
    truth: &Truths,
    cell: &Cell,
) -> Decision {
    let run = RunOutcome::Complete;
    let verdict = decide(
        policy,
        &Evidence {
            nameplate,
            observations,
            estimates,
            run: &run,
            known: &[],
            lifetime: None,
            contradictions: &[],
            labels_of_model: &[],
            from_file: false,
        },
    );
    let says_so = verdict.statement.contains("Loss in storage is not proven");
    let open = verdict.reasons.iter().filter(|reason| reason.finding != Finding::Pass);
    let of = |quantity| truth.get(&quantity).copied().unwrap_or(f64::NAN);
    let capacity_fraction = of(Quantity::CapacityFraction);
    let is_fit = is_fit(truth, cell);
    Decision {
        fate: verdict.fate,
        open: open.map(|reason| format!("{} {:?}", reason.criterion, reason.finding)).collect(),
        is_fit,
        keeps_charge: cell.loss_per_month <= 0.20,
        storage_is_open: says_so,
        capacity_fraction,
    }
}
