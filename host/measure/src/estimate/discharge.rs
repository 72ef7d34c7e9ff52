//! Follows a discharge from its start until the end-of-discharge voltage is crossed.
//!
//! Input: a measurement and the load it begins with; output: charge, time and what is uncertain about both, or why the end
//! was not reached. The crossing counts only under the current that carries most of the charge, so that no pulse ends a
//! discharge, and only if the voltage stays down until the load ends (`crossing`). Charge that flowed while a contact was
//! lost is kept; where no current was read meanwhile, as much may have flowed as before. Where the last row lies just above
//! the end, the line through the last rows tells how much could still have come: half of it is added, and all of it is
//! uncertainty.

use super::crossing::{Lost, Seen, Watch};
use super::current_steps::CurrentSteps;
use super::discharge_end::{at_end, end_rows, level_of};
use super::measurement::Measurement;
use crate::segment::{Kind, Segment, rest_limit};
use crate::si::{AmpHours, Amps, Seconds, Volts};
use crate::trace::{BLOCK_ROWS, Point, Steps, Summary, ValueRange, Voltages};
use std::ops::Range;

/// Currents that are accepted, as shares of It: from the fiftieth part, at which laboratories measure slow curves, to what warms
/// a cell little. By noise, and by the rounding of a label, they may be off by the share after it.
const ACCEPTED_SHARE: [f64; 2] = [0.02, 0.55];
const ROUNDING: f64 = 0.03;
/// The current at the end must be within this share of the usual one, so that no pulse makes the crossing.
pub(super) const SAME_CURRENT: f64 = 0.25;
/// The end counts as reached this close; or where the voltage falls so fast that less than this share is missing.
const END_MARGIN: Volts = Volts(5e-3);
const MOST_EXTRAPOLATED: f64 = 0.005;
/// Rows this many times further apart than usual leave a gap.
const GAP: f64 = 8.0;
/// A straight line of least squares through n values at least h apart is never steeper than twice their width over
/// (n - 1) h (Cauchy's inequality), and half of them may be left out as wild.
const STEEPEST_LINE: f64 = 4.0;
/// So many rows at another current end a load; fewer are wild (judged).
pub(super) const OFF_ROWS: usize = 3;
/// Share of the time for which the voltage may be lost: more is not a recording of a cell (judged).
const MOST_LOST: f64 = 0.2;
/// Stretches shorter than this share of the discharge do not tell at what current it was discharged (judged).
const SHORT_STRETCH: f64 = 0.01;
/// Fewest rows of a discharge.
const FEWEST_ROWS: usize = 20;
/// Charge that may flow back, as a share of the rated capacity.
const MOST_CHARGED_BACK: f64 = 0.005;

/// A discharge down to the end voltage.
pub(super) struct Discharge {
    /// Its rows.
    pub(super) range: Range<usize>,
    /// The current that carried most of the charge.
    pub(super) current: Amps,
    /// Charge up to the crossing.
    pub(super) charge: AmpHours,
    /// From the start of the load to the crossing.
    pub(super) duration: Seconds,
    /// When the end voltage was crossed.
    pub(super) end_time: Seconds,
    /// Part of the charge that lies in missing rows.
    pub(super) in_gaps: AmpHours,
    /// Part of the charge that was added past the last row; as much may be too much or missing.
    pub(super) extrapolated: AmpHours,
    /// Slope of the voltage at the end in V/s.
    pub(super) end_slope: f64,
    /// What noise leaves open about the voltage at the end.
    pub(super) end_noise: Volts,
    /// Whether rests or pulses lie in between.
    pub(super) interrupted: bool,
    /// Currents of all its longer stretches; for a discharge in stages, those of the last stage.
    pub(super) currents: ValueRange,
    /// The currents before the last one, of a discharge in stages, the fastest first.
    pub(super) faster_before: Vec<Amps>,
    /// Rows in which a contact was lost.
    pub(super) lost: Lost,
}

/// What has flowed up to some row.
#[derive(Clone, Copy, Debug, Default)]
struct Flow {
    charge: AmpHours,
    in_gaps: AmpHours,
    interrupted: bool,
}

/// The end of a discharge: the first row below, when the voltage was crossed, and what had flowed by then.
#[derive(Clone, Copy, Debug)]
struct CutOff {
    row: usize,
    time: Seconds,
    flow: Flow,
}

/// Refuses a current at which no capacity is measured.
pub(super) fn refuse_rate(m: &Measurement<'_>, current: Amps) -> Result<(), String> {
    let share = current / m.unit_current();
    if (ACCEPTED_SHARE[0] * (1.0 - ROUNDING)..=ACCEPTED_SHARE[1] * (1.0 + ROUNDING)).contains(&share) {
        return Ok(());
    }
    // Two digits that count, so that no refused current reads as an accepted one.
    let digits = if share < 0.1 { 4 } else { 2 };
    Err(format!(
        "discharged at {share:.digits$} It; a capacity is measured at {} to {} It",
        ACCEPTED_SHARE[0], ACCEPTED_SHARE[1]
    ))
}

/// Follows a discharge at one current, whatever it is, from the start of a load to the end voltage; rows from `until` on belong to
/// another.
pub(super) fn discharge(
    m: &Measurement<'_>,
    steps: &CurrentSteps,
    load: usize,
    until: usize,
) -> Result<Discharge, String> {
    let segment = m.segments.get(load).ok_or("the load lies outside the trace")?;
    let current = usual_current(m, load);
    let end = Volts(m.nameplate.end_of_discharge_v);
    let most_back = AmpHours(m.nameplate.rated_capacity_ah * MOST_CHARGED_BACK);
    let limit = rest_limit(Some(m.nameplate));
    let usual = |point: &Point| (point.current / current - 1.0).abs() <= SAME_CURRENT;
    let points = m.trace.slice(segment.first..until);
    let period = m.usual_period(largest_part(m, load));

    // Rows may begin a little after the load did.
    let first = points.first().ok_or("the load has no rows")?;
    let mut flow = Flow { charge: first.current * (first.time - segment.start.time), ..Flow::default() };
    let mut watch: Watch<CutOff> = Watch::new(end, m.voltage_noise);
    let mut back = AmpHours(0.0);
    let mut off_rows = 0;
    let mut last_loaded = 0;
    let longest_step = (GAP * period.0).max(1.0);
    // Blocks in which the same current flows on above the end need no closer look.
    let level = [1.0 - SAME_CURRENT, 1.0 + SAME_CURRENT].map(|share| current.0 * share);
    let goes_on = |block: &&Summary| {
        block.voltages.extent.low > end.0
            && block.currents.extent.low >= level[0]
            && block.currents.extent.high <= level[1]
            && block.steps.time.high <= longest_step
    };
    // Nor do blocks in which nothing flows.
    let rests = |block: &&Summary| {
        let ValueRange { low, high } = block.currents.extent;
        block.voltages.extent.low > end.0
            && low >= -limit.0
            && high <= limit.0
            && high < level[0]
            && block.steps.time.high <= longest_step
    };
    let is_loaded_from =
        |row: usize| points.get(row..).is_some_and(|rest| rest.iter().take(3).any(|p| p.current > limit));
    let mut index = 0;
    while let Some([before, after]) = points.get(index..index + 2) {
        let block = m.trace.points.block_from(segment.first + index + 1);
        let block = block.filter(|_| index + BLOCK_ROWS < points.len());
        if let Some(block) = block.filter(goes_on) {
            flow.charge += block.steps.charged();
            index += BLOCK_ROWS;
            watch.see_above(block, points.get(index).map_or(after.time, |point| point.time));
            (last_loaded, off_rows) = (index, 0);
            continue;
        }
        if let Some(block) = block.filter(rests).filter(|_| !watch.is_down()) {
            flow.charge += block.steps.charged();
            index += BLOCK_ROWS;
            flow.interrupted |= is_loaded_from(index + 1);
            continue;
        }
        let step = after.time - before.time;
        let moved = before.charge_until(after);
        let flowed = flow;
        flow.charge += moved;
        if step.0 > longest_step {
            flow.in_gaps += moved.abs();
        }
        let is_lost = if usual(after) {
            off_rows = 0;
            let fall = before.voltage - after.voltage;
            let falls = usual(before) && before.voltage > end && fall.0 > 0.0;
            let part = if falls { (before.voltage - end) / fall } else { 1.0 };
            let state = || CutOff {
                row: segment.first + index + 1,
                time: before.time + step * part,
                flow: Flow { charge: flowed.charge + moved * part, ..flow },
            };
            watch.see(after, before.time, state) == Seen::Lost
        } else {
            off_rows += 1;
            if off_rows >= OFF_ROWS && watch.is_down() {
                break;
            }
            let is_lost = watch.see_lost(after, before.time);
            if is_lost {
                // Nobody knows whether the load went on.
                flow.in_gaps += current * step;
            }
            is_lost
        };
        if after.current < -limit {
            back += -moved;
            if back > most_back {
                break;
            }
        }
        if !is_lost && after.current > limit {
            last_loaded = index + 1;
        } else if !is_lost {
            flow.interrupted |= is_loaded_from(index + 2);
        }
        index += 1;
    }
    while last_loaded > 0 && level_of(m, segment.first + last_loaded).is_none() {
        last_loaded -= 1;
    }
    let lost = watch.lost();
    let found = match watch.crossing() {
        Some(end_found) => reached(m, load, current, &end_found, end),
        None => {
            let rows = segment.first..segment.first + last_loaded + 1;
            not_reached(m, rows, current, period, end, flow.in_gaps)
        }
    };
    let found = found.map(|found| Discharge { lost, ..found });
    let until = found.as_ref().map_or(Seconds(f64::INFINITY), |found| found.end_time);
    steps.refuse_unanswered(segment.start.time, until)?;
    let found = found.map_err(|why| match lost.since {
        Some(since) => format!("{why}; from {:.0} s on a contact was lost at times", since.0),
        None => why,
    })?;
    if lost.time.0 > MOST_LOST * found.duration.0 {
        return Err(format!(
            "the voltage was lost for {:.0} s of {:.0} s; check the contacts",
            lost.time.0, found.duration.0
        ));
    }
    Ok(found)
}

/// Sums up a discharge whose end was reached.
fn reached(
    m: &Measurement<'_>,
    load: usize,
    current: Amps,
    found: &CutOff,
    end: Volts,
) -> Result<Discharge, String> {
    let segment = m.segments.get(load).ok_or("the load lies outside the trace")?;
    let rows = segment.first..found.row + 1;
    let duration = found.time - segment.start.time;
    let at_end = at_end(m, rows.clone(), found.time, end)?;
    Ok(Discharge {
        current,
        charge: found.flow.charge,
        duration,
        end_time: found.time,
        in_gaps: found.flow.in_gaps,
        extrapolated: AmpHours(0.0),
        end_slope: at_end.slope,
        end_noise: at_end.doubt,
        interrupted: found.flow.interrupted,
        currents: currents(m, load, current, found.time),
        faster_before: Vec::new(),
        lost: Lost::default(),
        range: check_rows(rows)?,
    })
}

/// Returns the currents of the longer stretches of a discharge, in order.
pub(super) fn long_currents(m: &Measurement<'_>, load: usize, until: Seconds) -> Vec<Amps> {
    let loads = m.segments.iter().skip(load).take_while(|segment| segment.start.time < until);
    let start = m.segments.get(load).map_or(until, |segment| segment.start.time);
    let long = (until - start) * SHORT_STRETCH;
    let long = loads.filter(|segment| segment.kind == Kind::Load && segment.duration() >= long);
    long.map(|segment| segment.current).collect()
}

/// Returns the smallest and the largest of some currents and of the usual one.
pub(super) fn range_of(currents: impl IntoIterator<Item = Amps>, usual: Amps) -> ValueRange {
    let only = |current: Amps| ValueRange { low: current.0, high: current.0 };
    currents.into_iter().fold(only(usual), |all, current| all.join(only(current)))
}

/// Returns the smallest and the largest current of the longer stretches of a discharge, and of most of its charge.
fn currents(m: &Measurement<'_>, load: usize, usual: Amps, until: Seconds) -> ValueRange {
    range_of(long_currents(m, load, until), usual)
}

/// Ends a discharge whose last loaded row lies just above the end voltage; refuses any other.
fn not_reached(
    m: &Measurement<'_>,
    rows: Range<usize>,
    current: Amps,
    period: Seconds,
    end: Volts,
    in_gaps: AmpHours,
) -> Result<Discharge, String> {
    let points = m.trace.slice(rows.clone());
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Err("the load has no rows".to_owned());
    };
    let charge = m.gather::<Steps>(rows.clone()).charged();
    let lacking = last.voltage - end;
    let refused = || {
        format!(
            "the load ends at {:.3} V, {:.0} mV above the end-of-discharge voltage of {} V, after {:.4} Ah",
            last.voltage.0,
            lacking.0 * 1e3,
            end.0,
            charge.0
        )
    };
    let too_much = |slope: f64| {
        // The voltage only falls faster towards the end, so the line gives the most that could still have come.
        let still = if slope < 0.0 { lacking.0.max(0.0) / -slope } else { f64::INFINITY };
        lacking > END_MARGIN && (current * Seconds(still)).0 > MOST_EXTRAPOLATED * charge.0
    };
    // Most loads end far above; then not even the steepest line that rows between two voltages can have is enough.
    let tail = end_rows(m, rows.clone());
    let (voltages, steps): (Voltages, Steps) = (m.gather(tail.clone()), m.gather(tail));
    let steepest = -STEEPEST_LINE * voltages.extent.width() / (voltages.rows as f64 - 1.0) / steps.time.low;
    if steps.time.low > 0.0 && too_much(steepest) {
        return Err(refused());
    }
    let at_end = at_end(m, rows.clone(), last.time, last.voltage)?;
    if too_much(at_end.line_slope) {
        return Err(refused());
    }
    let still = Seconds(lacking.0.max(0.0) / -at_end.slope);
    let more = Seconds(still.0.min(2.0 * period.0)) / 2.0;
    let load = m.segments.iter().position(|segment| segment.first == rows.start).unwrap_or(0);
    Ok(Discharge {
        current,
        charge: charge + current * more,
        duration: last.time - first.time + more,
        end_time: last.time,
        in_gaps,
        extrapolated: current * more,
        end_slope: at_end.slope,
        end_noise: at_end.doubt,
        interrupted: false,
        currents: currents(m, load, current, last.time),
        faster_before: Vec::new(),
        lost: Lost::default(),
        range: check_rows(rows)?,
    })
}

fn check_rows(rows: Range<usize>) -> Result<Range<usize>, String> {
    if rows.len() < FEWEST_ROWS {
        return Err(format!("the discharge has only {} rows; at least {FEWEST_ROWS}", rows.len()));
    }
    Ok(rows)
}

/// Returns the loads of a discharge that begins with one, up to the next charge.
fn loads_from<'m>(m: &'m Measurement<'_>, load: usize) -> impl Iterator<Item = (usize, &'m Segment)> {
    let after = m.segments.iter().enumerate().skip(load);
    after
        .take_while(|(_, segment)| segment.kind != Kind::Charge)
        .filter(|(_, segment)| segment.kind == Kind::Load)
}

/// Returns what flowed in a stretch, in Ah.
fn charge_of(segment: &Segment) -> f64 {
    (segment.current * segment.duration()).0
}

/// Returns the load that carries the largest part of the charge from a load on: its rows are those of the discharge, while a
/// pulse before it may be recorded much faster.
fn largest_part(m: &Measurement<'_>, load: usize) -> usize {
    let largest = loads_from(m, load).max_by(|a, b| charge_of(a.1).total_cmp(&charge_of(b.1)));
    largest.map_or(load, |(index, _)| index)
}

/// Returns the current that carries most of the charge from a load on.
pub(super) fn usual_current(m: &Measurement<'_>, load: usize) -> Amps {
    let mut levels: Vec<(f64, f64)> =
        loads_from(m, load).map(|(_, segment)| (segment.current.0, charge_of(segment))).collect();
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = levels.iter().map(|(_, charge)| charge).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    let middle = levels.iter().find(|(_, charge)| {
        sum += charge;
        sum >= half
    });
    Amps(middle.map_or(0.0, |(current, _)| *current))
}
