//! A discharge in stages: at a faster current to the end voltage, then at a slower one to it again.
//!
//! Input: a measurement and the load it begins with; output: one [`Discharge`] over all stages, or the one stage there is. A cell that
//! has been brought to its end voltage at a faster current still holds what its resistance kept back; a slower current takes that
//! out, and ends where it would have ended alone: the end of a discharge is a state of the cell, not a matter of the way there
//! (checked on six published cells, new and aged: `tests/reference/step_down.py`). So the charge of all stages is that of the last
//! current. Stages follow each other without a charge, with a rest at most between.

use super::current_steps::CurrentSteps;
use super::discharge::{
    Discharge, SAME_CURRENT, discharge, long_currents, range_of, refuse_rate, usual_current,
};
use super::measurement::Measurement;
use crate::segment::{Kind, Segment};
use crate::si::{Amps, Seconds};
use crate::trace::Steps;

/// Fastest current of a first stage, as a share of It: what was checked, and the rounding of a label.
const FASTEST_SHARE: f64 = 1.05;
/// Longest rest between two stages: a longer one is storage (judged).
const LONGEST_BETWEEN: Seconds = Seconds(4.0 * 3600.0);
/// Least charge of a stage, as a share of the rated capacity: less is a pulse (judged).
const LEAST_STAGE: f64 = 0.001;

/// Follows a discharge through all its stages.
pub(super) fn staged(m: &Measurement<'_>, steps: &CurrentSteps, load: usize) -> Result<Discharge, String> {
    let first_current = usual_current(m, load);
    let mut rate = refuse_rate(m, first_current);
    let mut next = slower_stage(m, load, first_current);
    let is_too_fast = first_current / m.unit_current() > FASTEST_SHARE;
    if let Some(refused) = rate.as_ref().err().filter(|_| is_too_fast || next.is_none()) {
        return Err(refused.clone());
    }
    let mut whole = told_apart(m, load, discharge(m, steps, load, first_row(m, next))?);
    // Each stage that reaches the end again takes its place; one that does not leaves what was there.
    while let Some(load) = next.filter(|load| follows(m, &whole, *load)) {
        let current = usual_current(m, load);
        next = slower_stage(m, load, current);
        let Ok(stage) = discharge(m, steps, load, first_row(m, next)) else { break };
        let stage_rate = refuse_rate(m, stage.current);
        if stage_rate.is_err() && rate.is_ok() {
            break;
        }
        rate = stage_rate;
        whole = joined(m, whole, load, stage);
    }
    rate.map(|()| whole)
}

/// Marks a discharge that went through faster currents before the one that carried most of its charge.
fn told_apart(m: &Measurement<'_>, load: usize, found: Discharge) -> Discharge {
    let long = long_currents(m, load, found.end_time);
    let is_slower = |now: Amps, before: Amps| now.0 < before.0 * (1.0 - SAME_CURRENT);
    let only_falls = long.windows(2).all(|two| matches!(two, [a, b] if b.0 <= a.0 * (1.0 + SAME_CURRENT)));
    let [first, .., last] = long.as_slice() else { return found };
    if !only_falls
        || !is_slower(*last, *first)
        || is_slower(found.current, *last)
        || is_slower(*last, found.current)
    {
        return found;
    }
    let mut faster_before: Vec<Amps> =
        long.iter().copied().filter(|one| is_slower(found.current, *one)).collect();
    faster_before.dedup_by(|b, a| !is_slower(*b, *a));
    let at_end = long.iter().copied().filter(|one| !is_slower(found.current, *one));
    let currents = range_of(at_end, found.current);
    Discharge { faster_before, currents, ..found }
}

/// Returns the load of the next stage of a discharge that begins with one: the first clearly slower load after the last one at its
/// own current or a faster one, before any charge. Pulses begin no stage and end none.
fn slower_stage(m: &Measurement<'_>, load: usize, current: Amps) -> Option<usize> {
    let least = m.nameplate.rated_capacity_ah * LEAST_STAGE;
    let counts =
        |segment: &Segment| segment.kind == Kind::Load && (segment.current * segment.duration()).0 >= least;
    let before_charge = || {
        let after = m.segments.iter().enumerate().skip(load);
        after.take_while(|(_, segment)| segment.kind != Kind::Charge).filter(|(_, segment)| counts(segment))
    };
    let is_slower = |segment: &Segment| segment.current.0 < current.0 * (1.0 - SAME_CURRENT);
    let last = before_charge().filter(|(_, segment)| !is_slower(segment)).map(|(index, _)| index).last()?;
    before_charge().find(|(index, _)| *index > last).map(|(index, _)| index)
}

/// Returns the first row of a load, or where the trace ends.
fn first_row(m: &Measurement<'_>, load: Option<usize>) -> usize {
    let row = load.and_then(|load| m.segments.get(load)).map(|segment| segment.first);
    row.unwrap_or_else(|| m.trace.points.len())
}

/// Returns whether a stage follows soon after what there is.
fn follows(m: &Measurement<'_>, whole: &Discharge, load: usize) -> bool {
    let start = m.segments.get(load).map(|segment| segment.start.time);
    start.is_some_and(|start| start - whole.end_time <= LONGEST_BETWEEN)
}

/// Puts the next stage behind what there is, with what flowed between.
fn joined(m: &Measurement<'_>, before: Discharge, next: usize, stage: Discharge) -> Discharge {
    let below = before.range.end.saturating_sub(1);
    let since = m.trace.points.get(below).map_or(Seconds(0.0), |row| row.time - before.end_time);
    let until = m.segments.get(next).map_or(below, |segment| segment.first);
    // From the crossing to the next row, then by rows up to the last one before the next stage.
    let between = before.current * since + m.gather::<Steps>(below..until.max(below)).charged();
    let start = before.end_time - before.duration;
    let mut faster_before = before.faster_before;
    faster_before.push(before.current);
    Discharge {
        range: before.range.start..stage.range.end,
        charge: before.charge + between + stage.charge,
        duration: stage.end_time - start,
        in_gaps: before.in_gaps + stage.in_gaps,
        interrupted: before.interrupted || stage.interrupted,
        lost: before.lost.and(stage.lost),
        faster_before,
        ..stage
    }
}
