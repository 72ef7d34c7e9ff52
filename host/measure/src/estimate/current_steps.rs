//! How the voltage answers the steps of the current: whether both channels tell of one cell.
//!
//! Input: a measurement; output: each step of the current with what the voltage did there, both told by straight lines
//! through the rows on either side. A cell's voltage steps the other way by its resistance times the step. Where it does
//! not move at all, the current went on as it was and was read wrongly; where it moves along, a sign is turned.

use super::line_fit::Line;
use super::measurement::Measurement;
use super::rest_voltage::last;
use crate::segment::{Kind, rest_limit};
use crate::si::{Amps, Ohms, Seconds, Volts};
use std::ops::Range;

/// Rows on either side of a step that tell it; fewer than the least tell nothing.
const ROWS: usize = 10;
const FEWEST_ROWS: usize = 3;
/// Smallest step of the current, as a share of the larger level (segments part at 2 %), and in standard deviations of
/// both means (judged).
const LEAST_SHARE: f64 = 0.03;
const LEAST_DEVIATIONS: f64 = 8.0;
/// Smallest step of the voltage that tells a direction, in V and in standard deviations of its reading (judged).
const LEAST_MOVED: f64 = 1e-3;
const CLEAR_DEVIATIONS: f64 = 8.0;
/// Share of what follows from the resistance that must be seen: charge transfer at another current and other rows after the
/// step make a third of difference (judged).
const LEAST_SEEN: f64 = 0.25;

/// A voltage that moves the wrong way by more than this many times as much does not answer the current: a contact was
/// lost (judged).
const MOST_TURNED: f64 = 10.0;

/// A charger holds its voltage within this while the current falls by itself, in V (judged).
const HELD_WITHIN: f64 = 5e-3;

/// What current and voltage did at one step.
#[derive(Clone, Copy, Debug)]
struct StepAnswer {
    at: Seconds,
    from: Amps,
    to: Amps,
    /// Fall of the voltage over rise of the current.
    resistance: Ohms,
    /// What the voltage moves by without telling anything.
    unclear: Volts,
}

impl StepAnswer {
    fn step(&self) -> Amps {
        self.to - self.from
    }

    /// Returns whether a fall of the voltage by a resistance would be clearly seen here.
    fn would_show(&self, resistance: Ohms) -> bool {
        resistance.0.abs() * self.step().0.abs() > self.unclear.0
    }
}

/// All steps of a trace that tell anything.
#[derive(Clone, Debug)]
pub(super) struct CurrentSteps {
    answers: Vec<StepAnswer>,
    /// What the cell answers with at most steps; zero where it never does.
    resistance: Ohms,
}

impl CurrentSteps {
    /// Looks at all steps.
    pub(super) fn of(m: &Measurement<'_>) -> Self {
        let answers: Vec<StepAnswer> =
            (0..m.segments.len().saturating_sub(1)).filter_map(|index| answer(m, index)).collect();
        let right = |answer: &&StepAnswer| answer.resistance.0 > 0.0 && answer.would_show(answer.resistance);
        let mut right: Vec<f64> = answers.iter().filter(right).map(|answer| answer.resistance.0).collect();
        right.sort_by(f64::total_cmp);
        // The lower of two middle ones: an empty cell answers with more than it had before.
        let middle = right.get(right.len().saturating_sub(1) / 2);
        Self { resistance: Ohms(middle.copied().unwrap_or(0.0)), answers }
    }

    /// Returns why the current and the voltage cannot both be right. Most steps must contradict; a single one is a
    /// disturbance and is judged where it is used.
    pub(super) fn contradiction(&self) -> Option<String> {
        let turned = |answer: &StepAnswer| answer.resistance.0 < 0.0 && answer.would_show(answer.resistance);
        let (mut with, mut against) = (0, 0);
        for answer in &self.answers {
            if turned(answer) || self.is_unanswered(answer) {
                against += 1;
            } else if answer.would_show(answer.resistance) {
                with += 1;
            }
        }
        (against > with).then(|| {
            format!(
                "at {against} of {} current steps the voltage moves the wrong way or not at all; check the sign of the \
                 current and the leads",
                against + with
            )
        })
    }

    /// Refuses a stretch of time in which the current steps and the voltage does not: then the cell felt no step.
    pub(super) fn refuse_unanswered(&self, from: Seconds, until: Seconds) -> Result<(), String> {
        let within = |answer: &&StepAnswer| (from.0..until.0).contains(&answer.at.0);
        match self.answers.iter().filter(within).find(|answer| self.is_unanswered(answer)) {
            Some(StepAnswer { at, from, to, .. }) => Err(format!(
                "at {:.1} s the current reads {:.3} A instead of {:.3} A and the voltage does not answer: the current was \
                 read wrongly or a contact moved; check the leads and the current's range",
                at.0, to.0, from.0
            )),
            None => Ok(()),
        }
    }

    fn is_unanswered(&self, answer: &StepAnswer) -> bool {
        let share = answer.resistance.0 / self.resistance.0;
        answer.would_show(self.resistance) && (-MOST_TURNED..LEAST_SEEN).contains(&share)
    }
}

/// Tells the step between a segment and the next one; `None` if rows are missing, too few, or the current goes on. A charger's
/// second phase holds the voltage while the current falls: that is no step, and the voltage has nothing to answer.
fn answer(m: &Measurement<'_>, index: usize) -> Option<StepAnswer> {
    let (before, after) = (last(m.body(index), ROWS), first(m.body(index + 1), ROWS));
    if !m.touches(index) || before.len().min(after.len()) < FEWEST_ROWS {
        return None;
    }
    let at = m.segments.get(index)?.end.time;
    let ((from, from_doubt), (to, to_doubt)) =
        (m.mean_current(before.clone())?, m.mean_current(after.clone())?);
    let step = to - from;
    let least = LEAST_DEVIATIONS * from_doubt.0.hypot(to_doubt.0);
    let limit = rest_limit(Some(m.nameplate)).0;
    if step.abs().0 <= (LEAST_SHARE * from.0.abs().max(to.0.abs())).max(limit).max(least) {
        return None;
    }
    let (before, after): (Line, Line) = (m.voltage_at(before, at)?, m.voltage_at(after, at)?);
    let unclear = CLEAR_DEVIATIONS * before.value_deviation.hypot(after.value_deviation);
    let charges = |index: usize| m.segments.get(index).is_some_and(|segment| segment.kind == Kind::Charge);
    let is_held = (before.value - after.value).abs() <= unclear.max(HELD_WITHIN);
    if charges(index) && charges(index + 1) && to.abs() < from.abs() && is_held {
        return None;
    }
    Some(StepAnswer {
        at,
        from,
        to,
        resistance: Volts(before.value - after.value) / step,
        unclear: Volts(unclear.max(LEAST_MOVED)),
    })
}

/// Returns the first indices of a range.
fn first(range: Range<usize>, count: usize) -> Range<usize> {
    range.start..range.end.min(range.start.saturating_add(count))
}
