//! Decides whether a plan may be loaded: it can only ask for less than the limits allow.
//!
//! Takes a [`CellPlan`], gives nothing or the first [`Reject`] with the figure asked for and the limit it broke. The
//! limits are those of [`celltriage_protocol::limits`], the floors those of the label ([`celltriage_protocol::floors`]); a
//! plan that passes is still watched by [`crate::guard`].

use crate::guard::REST_READINGS;
use celltriage_protocol::floors::{Floors, lowest_end};
use celltriage_protocol::label::{CellLabel, CellPlan, Chemistry};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Permit, Step};
use celltriage_protocol::reply::{Reject, RejectCause};
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros};

/// Checks a whole plan and the label it is for; `largest_pulse` is what leads or adapter bear.
///
/// Besides each step's own figures two rules look across steps: holds above the steady current that follow each
/// other count as one pulse; and a rest between two loads must be long enough for the readings that the guard
/// judges the contact by before the second one.
///
/// # Errors
/// The first thing found wrong; see [`RejectCause`] for the units of its figures.
pub fn check(CellPlan { label, plan }: &CellPlan, largest_pulse: MicroAmps) -> Result<(), Reject> {
    if plan.steps.is_empty() {
        return Err(reject(RejectCause::EmptyPlan, 0, 1));
    }
    check_label(*label, plan.charge_limit)?;
    let mut above_steady = Micros::ZERO;
    let mut rest = Rest::default();
    for step in &plan.steps {
        check_time(step)?;
        check_bounds(step, *label)?;
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
        check_current(step, above_steady, largest_pulse)?;
        rest.end_with_load()?;
    }
    Ok(())
}

/// The figures of a label must be such as one label has together: an end of discharge below what its chemistry bears, or a
/// charge limit of another chemistry, is a label that was read wrongly or lies. Where the chemistry is not told, a low end
/// of discharge is passed over: the strictest floors hold then.
fn check_label(label: CellLabel, charge_limit: MicroVolts) -> Result<(), Reject> {
    let refuse = |cause, asked: MicroVolts, limit: MicroVolts| {
        Err(reject(cause, i64::from(asked.get()), i64::from(limit.get())))
    };
    let highest = match label.chemistry {
        Chemistry::Lfp => limits::HIGHEST_LFP_CHARGE_LIMIT,
        _ => limits::HIGHEST_CHARGE_LIMIT,
    };
    if charge_limit < limits::LOWEST_CHARGE_LIMIT {
        return refuse(RejectCause::ChargeLimit, charge_limit, limits::LOWEST_CHARGE_LIMIT);
    }
    if charge_limit > highest {
        return refuse(RejectCause::ChargeLimit, charge_limit, highest);
    }
    let Some(end) = label.end_of_discharge else { return Ok(()) };
    let lowest = match label.chemistry {
        Chemistry::Unknown => MicroVolts::new(1),
        chemistry => lowest_end(chemistry),
    };
    if end < lowest {
        refuse(RejectCause::EndOfDischarge, end, lowest)
    } else if end >= charge_limit {
        refuse(RejectCause::EndOfDischarge, end, charge_limit)
    } else {
        Ok(())
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

fn check_bounds(step: &Step, label: CellLabel) -> Result<(), Reject> {
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
    let lowest = Floors::of(label, step.action.current()).plan;
    match floors.into_iter().flatten().find(|floor| *floor < lowest) {
        Some(asked) => {
            Err(reject(RejectCause::LowestVoltage, i64::from(asked.get()), i64::from(lowest.get())))
        }
        None => Ok(()),
    }
}

fn check_current(step: &Step, above_steady: Micros, largest_pulse: MicroAmps) -> Result<(), Reject> {
    let current = step.action.current();
    let largest = match step.action {
        Action::Hold { .. } if above_steady <= limits::LONGEST_PULSE => largest_pulse,
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
