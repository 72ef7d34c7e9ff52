//! One proof: a cell goes through the plan `proof`, and the run ends where the host would end it.
//!
//! The host judges the case again at certain moments (`host/workshop/src/settling.rs`); the same moments are taken here, over the rows
//! up to then, and the first settled answer ends the run. What is true comes from the drawn cell alone.

use crate::cell::Cell;
use crate::gauge;
use crate::meter::{Channels, Meter};
use crate::run::Run;
use crate::trial::{Kind, is_fit, label};
use crate::truth;
use celltriage_measure::estimate::{Estimate, Estimates, FrontEnd, Quantity, all};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::trace::{Place, Point, RunRecord, Source, StepRecord, Trace};
use celltriage_verdict::{Answer, Evidence, Fate, Policy, RunOutcome, Verdict, decide};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// Moments at which the host judges: after the pulses, from a share of the rated charge on, after a stage.
const AFTER_PULSES_S: f64 = 5.0;
const FROM_SHARE: f64 = 0.80;
const EVERY_SHARE: f64 = 0.002;
const AFTER_STAGE_S: f64 = 10.0;
/// The first discharge of the plan, the rest behind it, and the last discharge.
const FIRST: usize = 8;
const LAST: usize = 10;
/// Streams of random numbers of their own.
const STREAMS: u64 = 1 << 40;

/// What ended a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// Found against the cell before the discharge.
    Screen,
    /// While it was discharged fast.
    FirstStage,
    /// When the first stage was through.
    AfterFirst,
    /// When all was through.
    Whole,
}

/// An answer and the truth.
#[derive(Debug)]
pub struct Proof {
    pub fate: Fate,
    pub end: End,
    /// From the full cell in the clips to the answer.
    pub minutes: f64,
    pub is_fit: bool,
    pub true_share: f64,
    /// The capacity that was told, two-sided or a bound, as a share of the rated one.
    pub told: Option<Estimate>,
    pub is_bound: bool,
}

/// Runs the proof number `index` of a seed; `confirmed` says whether the label was read twice.
pub fn run(seed: u64, index: u64, confirmed: bool, policy: &Policy) -> Proof {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(STREAMS + index);
    let random = &mut random;
    let cell = Cell::draw(random, |random| Kind::Full.start(random));
    let stated = FrontEnd::fixture();
    let meter = Meter::draw(random, &stated, Channels::FIXTURE);
    let run = Run::proof(random, &cell);
    let (points, states) = meter.record(random, &cell, &run.steps, run.slip);
    // What the screen shows; the discharge at 0.2 It that its limits are for is another one.
    let mut screen = run.clone();
    screen.steps.truncate(FIRST);
    let mut truth = truth::of_run(&cell, &meter, &screen, &states[..=FIRST]);
    let capacity_ah = truth::capacity_ah(&cell, &states[FIRST], 0.2 * cell.unit_a());
    truth.insert(Quantity::CapacityFraction, capacity_ah / cell.rated_ah);
    let mut reading = gauge::read(random, cell.start_soc);
    reading.observations.label_again_ah = confirmed.then(|| (cell.rated_ah * 1e4).round() / 1e4);
    truth.insert(Quantity::ThicknessGrowth, reading.growth);
    let nameplate = label(&cell, cell.rated_ah, reading.label_mm);
    let told_run = meter.tell(random, &run.steps, &states);
    let bench = Bench {
        told_run: &told_run,
        points: &points,
        stated: &stated,
        nameplate: &nameplate,
        looks: &reading.observations,
        policy,
    };

    let [begins_s, first_ends_s, last_ends_s] = [FIRST, FIRST + 1, LAST + 1].map(|step| states[step].time_s);
    let mut answer = None;
    let mut needs_the_whole = false;
    for (end, at_s) in moments(&points, &cell, [begins_s, first_ends_s, last_ends_s]) {
        if needs_the_whole && end == End::FirstStage {
            continue;
        }
        let (estimates, verdict) = bench.judged(at_s);
        let going_on = Answer::of(&verdict);
        needs_the_whole |= going_on == Answer::NeedsTheWhole;
        let is_last = end == End::Whole;
        answer = Some((end, at_s, estimates, verdict));
        if going_on == Answer::Settled || is_last {
            break;
        }
    }
    let (end, at_s, mut estimates, verdict) = answer.expect("a run has an end");
    let whole = estimates.measured.remove(&Quantity::CapacityFraction);
    let is_bound = whole.is_none();
    let told = whole.or_else(|| estimates.measured.remove(&Quantity::CapacityFractionAtLeast));
    Proof {
        fate: verdict.fate,
        end,
        minutes: at_s / 60.0,
        is_fit: is_fit(&truth, &cell),
        true_share: capacity_ah / cell.rated_ah,
        told,
        is_bound,
    }
}

/// Returns when the host judges.
fn moments(
    points: &[Point],
    cell: &Cell,
    [begins_s, first_ends_s, last_ends_s]: [f64; 3],
) -> Vec<(End, f64)> {
    let mut moments = vec![(End::Screen, begins_s + AFTER_PULSES_S)];
    let (mut taken_ah, mut next) = (0.0, FROM_SHARE);
    for two in points.windows(2) {
        let [before, after] = two else { continue };
        if before.time.0 < begins_s || after.time.0 > first_ends_s {
            continue;
        }
        taken_ah += (before.current.0 + after.current.0) / 2.0 * (after.time - before.time).0 / 3600.0;
        if taken_ah / cell.rated_ah >= next {
            moments.push((End::FirstStage, after.time.0));
            next = taken_ah / cell.rated_ah + EVERY_SHARE;
        }
    }
    moments.push((End::AfterFirst, first_ends_s + AFTER_STAGE_S));
    moments.push((End::Whole, last_ends_s + AFTER_STAGE_S));
    moments
}

struct Bench<'a> {
    told_run: &'a RunRecord,
    points: &'a [Point],
    stated: &'a FrontEnd,
    nameplate: &'a Nameplate,
    looks: &'a Observations,
    policy: &'a Policy,
}

impl Bench<'_> {
    /// Judges what was recorded up to a moment.
    fn judged(&self, at_s: f64) -> (Estimates, Verdict) {
        let until = self.points.partition_point(|point| point.time.0 <= at_s);
        let mut trace =
            Trace::from_points(self.points[..until].to_vec(), |_| Place::Whole, Source::Fixture, Vec::new())
                .0;
        // The steps that were told by then; the count goes on and is left out.
        let is_told = |step: &&StepRecord| step.started.is_some_and(|started| started.0 <= at_s);
        let open = |step: &StepRecord| match step.ended {
            Some(ended) if ended.0 > at_s => StepRecord { ended: None, cause: None, charge: None, ..*step },
            _ => *step,
        };
        let steps = self.told_run.steps.iter().filter(is_told).map(open).collect();
        trace.run = Some(RunRecord { steps, plan: self.told_run.plan, ..RunRecord::default() });
        let estimates = all(&trace, self.nameplate, self.looks, self.stated);
        let evidence = Evidence {
            nameplate: self.nameplate,
            observations: self.looks,
            estimates: &estimates,
            run: &RunOutcome::Settled,
            known: &[],
            lifetime: None,
            contradictions: &[],
            labels_of_model: &[],
            from_file: false,
        };
        let verdict = decide(self.policy, &evidence);
        (estimates, verdict)
    }
}
