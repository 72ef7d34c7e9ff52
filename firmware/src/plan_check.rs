//! Decides whether a plan may be loaded: it can only ask for less than the limits allow.
//!
//! Takes a [`Plan`], gives nothing or the first [`Reject`] with the figure asked for and the limit it broke. The
//! limits are those of [`celltriage_protocol::limits`]; a plan that passes is still watched by [`crate::guard`].

use crate::guard::REST_READINGS;
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Permit, Plan, Step};
use celltriage_protocol::reply::{Reject, RejectCause};
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros};

/// Checks a whole plan.
///
/// Besides each step's own figures two rules look across steps: holds above the steady current that follow each
/// other count as one pulse; and a rest between two loads must be long enough for the readings that the guard
/// judges the contact by before the second one.
///
/// # Errors
/// The first thing found wrong; see [`RejectCause`] for the units of its figures.
pub fn check(plan: &Plan) -> Result<(), Reject> {
    if plan.steps.is_empty() {
        return Err(reject(RejectCause::EmptyPlan, 0, 1));
    }
    let charge_limit = i64::from(plan.charge_limit.get());
    if plan.charge_limit < limits::LOWEST_CHARGE_LIMIT {
        return Err(reject(
            RejectCause::ChargeLimit,
            charge_limit,
            i64::from(limits::LOWEST_CHARGE_LIMIT.get()),
        ));
    }
    if plan.charge_limit > limits::HIGHEST_CHARGE_LIMIT {
        return Err(reject(
            RejectCause::ChargeLimit,
            charge_limit,
            i64::from(limits::HIGHEST_CHARGE_LIMIT.get()),
        ));
    }
    let mut above_steady = Micros::ZERO;
    let mut rest = Rest::default();
    for step in &plan.steps {
        check_time(step)?;
        check_bounds(step)?;
        let current = step.action.current();
        if let Action::Rest = step.action {
            above_steady = Micros::ZERO;
            rest.add(step);
            continue;
        }
        if plan.permit == Permit::WatchOnly {
            return Err(reject(RejectCause::WatchOnly, i64::from(current.get()), 0));
        }
        above_steady = if current > limits::LARGEST_STEADY {
            above_steady.saturating_add(step.duration)
        } else {
            Micros::ZERO
        };
        check_current(step, above_steady)?;
        rest.end_with_load()?;
    }
    Ok(())
}

/// Checks what the label says beside the plan. The guard's floor does not come from it yet.
///
/// # Errors
/// [`RejectCause::EndOfDischarge`] where the end of discharge is not above 0 V and below the charge limit: figures that no
/// label has together.
pub fn check_label(plan: &CellPlan) -> Result<(), Reject> {
    let charge_limit = plan.plan.charge_limit;
    match plan.label.end_of_discharge {
        Some(end) if end <= MicroVolts::ZERO || end >= charge_limit => {
            Err(reject(RejectCause::EndOfDischarge, i64::from(end.get()), i64::from(charge_limit.get())))
        }
        _ => Ok(()),
    }
}

/// The rest before a load.
#[derive(Default)]
struct Rest {
    duration: Micros,
    period: u64,
    readings: u64,
    after_load: bool,
}

impl Rest {
    fn add(&mut self, step: &Step) {
        // While the current still settles, a reading says nothing about the contact.
        let settling = if self.duration == Micros::ZERO { limits::SETTLE } else { Micros::ZERO };
        self.period = u64::from(step.sample_period_us).max(1);
        let counted = step.duration.saturating_sub(settling).get() / self.period;
        self.duration = self.duration.saturating_add(step.duration);
        self.readings = self.readings.saturating_add(counted);
    }

    fn end_with_load(&mut self) -> Result<(), Reject> {
        if self.after_load && self.duration > Micros::ZERO && self.readings < REST_READINGS as u64 {
            let shortest = limits::SETTLE.get() + REST_READINGS as u64 * self.period;
            return Err(reject(RejectCause::Duration, signed(self.duration), signed(Micros::new(shortest))));
        }
        *self = Self { after_load: true, ..Self::default() };
        Ok(())
    }
}

fn check_time(step: &Step) -> Result<(), Reject> {
    let period = step.sample_period_us;
    let longest = match step.action {
        Action::Rest => limits::LONGEST_REST_PERIOD_US,
        Action::Hold { .. } | Action::Discharge { .. } => limits::LONGEST_LOADED_PERIOD_US,
    };
    for (broken, limit) in
        [(period < limits::SHORTEST_PERIOD_US, limits::SHORTEST_PERIOD_US), (period > longest, longest)]
    {
        if broken {
            return Err(reject(RejectCause::SamplePeriod, i64::from(period), i64::from(limit)));
        }
    }
    let period = Micros::new(u64::from(period));
    for (broken, limit) in
        [(step.duration < period, period), (step.duration > limits::LONGEST_STEP, limits::LONGEST_STEP)]
    {
        if broken {
            return Err(reject(RejectCause::Duration, signed(step.duration), signed(limit)));
        }
    }
    let most = limits::REPORT_AT_LEAST.get() / period.get().max(1);
    if step.report_every == 0 || u64::from(step.report_every) > most {
        let limit = if step.report_every == 0 { 1 } else { signed(Micros::new(most)) };
        return Err(reject(RejectCause::ReportEvery, i64::from(step.report_every), limit));
    }
    Ok(())
}

fn check_bounds(step: &Step) -> Result<(), Reject> {
    let bounds = step.bounds;
    for (asked, limit) in
        [(bounds.highest_temperature, limits::HOTTEST), (bounds.highest_rise, limits::LARGEST_RISE)]
    {
        if asked > limit {
            return Err(reject(RejectCause::Temperature, i64::from(asked.get()), i64::from(limit.get())));
        }
    }
    // At rest no voltage is too low to be watched.
    let floors = match step.action {
        Action::Rest => [None, None],
        Action::Hold { .. } => [Some(bounds.lowest_voltage), None],
        Action::Discharge { floor, .. } => [Some(bounds.lowest_voltage), Some(floor)],
    };
    match floors.into_iter().flatten().find(|floor| *floor < limits::LOWEST_PLAN_FLOOR) {
        Some(asked) => Err(reject(
            RejectCause::LowestVoltage,
            i64::from(asked.get()),
            i64::from(limits::LOWEST_PLAN_FLOOR.get()),
        )),
        None => Ok(()),
    }
}

fn check_current(step: &Step, above_steady: Micros) -> Result<(), Reject> {
    let current = step.action.current();
    let largest = match step.action {
        Action::Hold { .. } if above_steady <= limits::LONGEST_PULSE => limits::LARGEST_PULSE,
        _ => limits::LARGEST_STEADY,
    };
    let refuse = |limit: MicroAmps| {
        Err(reject(RejectCause::Current, i64::from(current.get()), i64::from(limit.get())))
    };
    if current < limits::SMALLEST_LOAD {
        refuse(limits::SMALLEST_LOAD)
    } else if current > largest {
        refuse(largest)
    } else {
        Ok(())
    }
}

const fn reject(cause: RejectCause, asked: i64, limit: i64) -> Reject {
    Reject { cause, asked, limit }
}

fn signed(span: Micros) -> i64 {
    i64::try_from(span.get()).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests;
