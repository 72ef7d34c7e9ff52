//! Runs a plan: which step, when its samples are due, when it ends.
//!
//! Takes the plan, the time and the newest readings; gives the step under way and its end. It drives nothing and
//! reads nothing by itself. A plan runs once: whatever ends it also takes its steps, permit and charge limit away, so
//! that none of them can meet another cell.
//!
//! # When samples are taken
//! A step that starts at `S` with period `P` and duration `D` is sampled at `S + P`, `S + 2 P`, ... and at `S + D`,
//! also where that is no multiple of `P`. The set point changes right *after* the sample at `S + D`, so that this
//! last sample belongs to the step that ends, under its load; the next step starts at that sample's time. A sample
//! that comes late by more than a quarter period (at most 1 ms) is told with the time it was really taken, and
//! samples that were missed are not made up: the gap shows.

use celltriage_protocol::event::{Outcome, StepEnd};
use celltriage_protocol::label::{CellLabel, CellPlan};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Permit, Plan, Step};
use celltriage_protocol::reply::{Activity, Reject, RejectCause};
use celltriage_protocol::units::{MicroCoulombs, MicroVolts, Micros, MilliCelsius};

/// How often the readings are renewed while no plan runs.
pub const IDLE_PERIOD: Micros = Micros::from_millis(100);
/// A started plan may wait this long for the readings it needs; then it begins, and the guard says what is missing.
/// Eight readings at rest take 0.8 s, the first temperatures up to 1 s.
pub const LONGEST_WAIT: Micros = Micros::from_secs(2);

/// A later sample is told with the time it was really taken.
const LATEST: Micros = Micros::from_millis(1);

/// What the sequencer looks at when a sample was taken; `None` if there is no value.
#[derive(Clone, Copy, Debug, Default)]
pub struct Facts {
    /// Voltage of this sample.
    pub voltage: Option<MicroVolts>,
    /// Last cell temperature.
    pub cell: Option<MilliCelsius>,
    /// Last rise over the air.
    pub rise: Option<MilliCelsius>,
    /// Last charge counted since the plan began.
    pub charge: Option<MicroCoulombs>,
}

/// What comes after a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Next {
    /// The step with this index.
    Step(u8),
    /// Nothing: the plan is over.
    Over(Outcome),
}

/// The end of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turn {
    /// Index of the step that has ended.
    pub step: u8,
    /// Why.
    pub cause: StepEnd,
    /// What comes now.
    pub next: Next,
}

#[derive(Clone, Copy, Debug, Default)]
enum Progress {
    #[default]
    Idle,
    Waiting {
        since: Micros,
    },
    Running {
        step: u8,
        start: Micros,
        taken: u64,
    },
}

/// The plan and how far it has come.
#[derive(Clone, Debug, Default)]
pub struct Sequencer {
    plan: Plan,
    label: CellLabel,
    loaded: Micros,
    progress: Progress,
}

impl Sequencer {
    /// Replaces the plan; it must have been checked.
    pub fn load(&mut self, CellPlan { label, plan }: &CellPlan, now: Micros) {
        // Field by field, since a whole plan is not to lie on the stack a second time.
        self.plan.steps.clear();
        // There is as much room as in the one it comes from.
        let _ = self.plan.steps.extend_from_slice(&plan.steps);
        (self.plan.number, self.plan.charge_limit, self.plan.permit) =
            (plan.number, plan.charge_limit, plan.permit);
        self.label = *label;
        self.loaded = now;
        self.progress = Progress::Idle;
    }

    /// Returns the loaded plan; of one that is over, only its number is left.
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Returns what the label says of the cell that the loaded plan is for; nothing once the plan is over.
    pub const fn label(&self) -> CellLabel {
        self.label
    }

    /// Returns whether a plan is loaded that can still be started, or is under way.
    pub fn is_loaded(&self, now: Micros) -> bool {
        !self.plan.steps.is_empty()
            && (self.is_active() || now.saturating_sub(self.loaded) <= limits::PLAN_KEPT)
    }

    /// Makes the loaded plan wait for its first sample.
    ///
    /// # Errors
    /// [`RejectCause::WrongPlan`] where no plan or another one is loaded, or where it was loaded longer ago than
    /// [`limits::PLAN_KEPT`].
    pub fn start(&mut self, number: u32, now: Micros) -> Result<(), Reject> {
        if now.saturating_sub(self.loaded) > limits::PLAN_KEPT {
            self.stop();
        }
        if self.plan.steps.is_empty() || self.plan.number != number {
            let loaded = if self.plan.steps.is_empty() { 0 } else { self.plan.number };
            let (asked, limit) = (i64::from(number), i64::from(loaded));
            return Err(Reject { cause: RejectCause::WrongPlan, asked, limit });
        }
        self.progress = Progress::Waiting { since: now };
        Ok(())
    }

    /// Enters a step whose start is `at`; without such a step the plan is over.
    pub fn enter(&mut self, step: u8, at: Micros) {
        self.progress = Progress::Running { step, start: at, taken: 0 };
        if self.current().is_none() {
            self.stop();
        }
    }

    /// Ends the plan, wherever it is, and forgets all of it but its number, which is still to be told.
    pub fn stop(&mut self) {
        self.plan.steps.clear();
        self.plan.permit = Permit::default();
        self.plan.charge_limit = MicroVolts::ZERO;
        self.label = CellLabel::default();
        self.progress = Progress::Idle;
    }

    /// Returns whether a plan was started and has not ended: it waits or runs.
    pub const fn is_active(&self) -> bool {
        !matches!(self.progress, Progress::Idle)
    }

    /// Returns [`Activity::Running`] while a plan is active; a trip is not known here.
    pub const fn activity(&self) -> Activity {
        if self.is_active() { Activity::Running } else { Activity::Idle }
    }

    /// Returns since when a started plan waits for its first sample.
    pub const fn waiting_since(&self) -> Option<Micros> {
        match self.progress {
            Progress::Waiting { since } => Some(since),
            Progress::Idle | Progress::Running { .. } => None,
        }
    }

    /// Returns the step under way.
    pub fn current(&self) -> Option<(u8, &Step)> {
        match self.progress {
            Progress::Running { step, .. } => Some((step, self.plan.steps.get(usize::from(step))?)),
            Progress::Idle | Progress::Waiting { .. } => None,
        }
    }

    /// Returns when the next sample of the step under way is due.
    pub fn next_sample(&self) -> Option<Micros> {
        let (_, step) = self.current()?;
        let Progress::Running { start, taken, .. } = self.progress else { return None };
        let span = taken.saturating_add(1).saturating_mul(u64::from(step.sample_period_us));
        Some(start.saturating_add(Micros::new(span.min(step.duration.get()))))
    }

    /// Returns the time to tell with the sample taken now, and counts it; `None` if none is due.
    pub fn take_sample(&mut self, now: Micros) -> Option<Micros> {
        let due = self.next_sample()?;
        if now < due {
            return None;
        }
        let period = u64::from(self.current()?.1.sample_period_us);
        let late = Micros::new(period / 4).min(LATEST);
        let at = if now.saturating_sub(due) <= late { due } else { now };
        if let Progress::Running { start, taken, .. } = &mut self.progress {
            *taken = at.saturating_sub(*start).get() / period.max(1);
        }
        Some(at)
    }

    /// Says whether the step under way ends with the sample told with time `at`; changes nothing.
    ///
    /// A discharge that has reached its floor has done its work, whatever its bounds say; bounds end the plan; the
    /// time comes last.
    pub fn judge(&self, at: Micros, facts: &Facts) -> Option<Turn> {
        let (index, step) = self.current()?;
        let Progress::Running { start, .. } = self.progress else { return None };
        let cause = end_of(step, at.saturating_sub(start), facts)?;
        let following = index.saturating_add(1);
        let next = match cause {
            StepEnd::Time | StepEnd::Floor if usize::from(following) < self.plan.steps.len() => {
                Next::Step(following)
            }
            StepEnd::Time | StepEnd::Floor => Next::Over(Outcome::Complete),
            _ => Next::Over(Outcome::Bounded),
        };
        Some(Turn { step: index, cause, next })
    }
}

fn end_of(step: &Step, elapsed: Micros, facts: &Facts) -> Option<StepEnd> {
    let bounds = &step.bounds;
    if let Action::Discharge { floor, .. } = step.action
        && facts.voltage.is_some_and(|voltage| voltage <= floor)
    {
        Some(StepEnd::Floor)
    } else if facts.voltage.is_some_and(|voltage| voltage <= bounds.lowest_voltage) {
        Some(StepEnd::BoundVoltage)
    } else if facts.cell.is_some_and(|cell| cell >= bounds.highest_temperature) {
        Some(StepEnd::BoundTemperature)
    } else if facts.rise.is_some_and(|rise| rise >= bounds.highest_rise) {
        Some(StepEnd::BoundRise)
    } else if facts.charge.is_some_and(|charge| charge >= bounds.most_charge) {
        Some(StepEnd::BoundCharge)
    } else if elapsed >= step.duration {
        Some(StepEnd::Time)
    } else {
        None
    }
}

#[cfg(test)]
mod tests;
