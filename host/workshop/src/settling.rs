//! Watches a discharge for the moment from which nothing that is still to come can change the answer.
//!
//! Input: the fixture's events and the frames that are kept; output: what the cell holds at least, as events, and whether the run
//! may end. The cheap figure is the fixture's own count; only where that makes an answer possible is the whole case judged, by the
//! very function that judges it in the end, over all frames so far. So a run never ends on another figure than the one that decides.

use crate::event::WorkEvent;
use celltriage_assessment::case::{Case, Origin};
use celltriage_assessment::recorded::Recorded;
use celltriage_book::Writer;
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_measure::estimate::{FrontEnd, Quantity};
use celltriage_measure::si::AmpHours;
use celltriage_protocol::block::Block;
use celltriage_protocol::event::Event;
use celltriage_protocol::plan::{Action, Plan};
use celltriage_protocol::units::Micros;
use celltriage_verdict::{Answer, Limit, Measurand, RunOutcome, Subject};

/// The case is judged again each time so much more of the rated charge has come out: some four times between the limit and what its
/// doubt asks for above it (our choice).
const LOOK_EVERY: f64 = 0.002;
/// After the pulses, and after a stage, the voltages have settled for the estimates by then (judged).
const AFTER_PULSES: Micros = Micros::from_secs(5);
const AFTER_STAGE: Micros = Micros::from_secs(10);
/// The running bound is told in whole per cent.
const TOLD_IN: f64 = 100.0;

/// What is known of a run under way.
pub struct Settling<'a> {
    case: &'a Case,
    used: Option<CalibrationUsed>,
    plan: Plan,
    /// The share of the rated capacity that the policy asks for; nothing is proven by a bound where it asks for none.
    asked: Option<f64>,
    /// What the guard of the policy takes off a count for the gain of the current, as a share.
    guard: f64,
    step: usize,
    since: Micros,
    looked: bool,
    /// The count when the first discharge began.
    from: Option<AmpHours>,
    counted: AmpHours,
    next_look: f64,
    told: i64,
    settled: bool,
}

impl<'a> Settling<'a> {
    /// Begins to watch.
    pub fn of(case: &'a Case, plan: &Plan, used: Option<CalibrationUsed>) -> Self {
        let asked = asked_for(case);
        let front_end = used.as_ref().map_or_else(FrontEnd::fixture, CalibrationUsed::front_end);
        Self {
            case,
            used,
            plan: plan.clone(),
            asked,
            guard: case.setting.policy.guard.coverage * front_end.current_gain,
            step: 0,
            since: Micros::ZERO,
            looked: false,
            from: None,
            counted: AmpHours(0.0),
            next_look: asked.unwrap_or(f64::INFINITY),
            told: 0,
            settled: false,
        }
    }

    /// Returns whether the run may end.
    pub const fn is_settled(&self) -> bool {
        self.settled
    }

    /// Sees what the fixture tells; returns what there is to tell of it.
    pub fn sees(&mut self, event: &Event, frames: &Writer) -> Vec<WorkEvent> {
        match event {
            Event::StepStarted { step, at } => {
                (self.step, self.since, self.looked) = (usize::from(*step), *at, false);
                Vec::new()
            }
            Event::Samples(block) if !self.settled => self.samples(block, frames),
            _ => Vec::new(),
        }
    }

    fn samples(&mut self, block: &Block, frames: &Writer) -> Vec<WorkEvent> {
        if let Ok(charge) = block.charge {
            self.counted = charge.into();
        }
        let Some(action) = self.plan.steps.get(self.step).map(|step| step.action) else { return Vec::new() };
        let elapsed = block.next_at().saturating_sub(self.since);
        let mut told = Vec::new();
        let is_due = match action {
            Action::Discharge { .. } => {
                let from = *self.from.get_or_insert(self.counted);
                let share = (self.counted - from).0 / self.case.nameplate.rated_capacity_ah;
                told.extend(self.bound(share * (1.0 - self.guard)));
                let after_pulses = self.is_first_discharge() && !self.looked && elapsed >= AFTER_PULSES;
                let is_enough = share >= self.next_look;
                if is_enough {
                    self.next_look = share + LOOK_EVERY;
                }
                after_pulses || is_enough
            }
            Action::Rest => self.is_after_discharge() && !self.looked && elapsed >= AFTER_STAGE,
            Action::Hold { .. } => false,
        };
        if is_due {
            self.looked = true;
            if self.look(frames) {
                self.settled = true;
                told.push(WorkEvent::Settled);
            }
        }
        told
    }

    /// Tells the running bound, each per cent once.
    fn bound(&mut self, share: f64) -> Option<WorkEvent> {
        let whole = (share * TOLD_IN).floor() as i64;
        if whole <= self.told {
            return None;
        }
        self.told = whole;
        self.asked.map(|asked| WorkEvent::AtLeast { share: whole as f64 / TOLD_IN, asked })
    }

    fn is_first_discharge(&self) -> bool {
        let before = self.plan.steps.iter().take(self.step);
        !before.into_iter().any(|step| matches!(step.action, Action::Discharge { .. }))
    }

    fn is_after_discharge(&self) -> bool {
        let before = self.step.checked_sub(1).and_then(|before| self.plan.steps.get(before));
        before.is_some_and(|step| matches!(step.action, Action::Discharge { .. }))
    }

    /// Judges the case over all frames so far; returns whether the answer is settled.
    fn look(&mut self, frames: &Writer) -> bool {
        let (is_whole, recorded) = frames.read(|dropped, bytes| (dropped == 0, Recorded::read(bytes, None)));
        let Some(trace) = recorded.trace.as_ref().filter(|_| is_whole) else { return false };
        let origin = Origin::of(String::new(), &recorded, &[]).calibrated(self.used.clone());
        let verdict = self.case.judge(Some(trace), Origin { run: RunOutcome::Settled, ..origin }).verdict;
        let answer = Answer::of(&verdict);
        if answer == Answer::NeedsTheWhole {
            // Only a whole discharge tells what is asked: no bound will.
            self.next_look = f64::INFINITY;
        }
        answer == Answer::Settled
    }
}

/// Returns the share of the rated capacity that the policy asks for.
fn asked_for(case: &Case) -> Option<f64> {
    let asked = case.setting.policy.criteria.iter().filter_map(|criterion| match &criterion.subject {
        Subject::Number(number) if number.measurand == Measurand::Estimate(Quantity::CapacityFraction) => {
            match number.for_label(&case.nameplate) {
                Limit::AtLeast { doubtful, .. } => Some(doubtful),
                _ => None,
            }
        }
        _ => None,
    });
    asked.reduce(f64::max)
}
