//! Follows a discharge from its start until the end-of-discharge voltage is crossed.
//!
//! Takes a measurement and the load it begins with; gives charge, time and what is uncertain about both, or why the end
//! was not reached. The crossing counts only under the current that carries most of the charge, and only if the voltage
//! stays down, so that neither a pulse nor noise ends a discharge. Where the last row lies just above the end, the line
//! through the last rows tells how much could still have come: half of it is added, and all of it is uncertainty.

use super::line_fit::median;
use super::measurement::Measurement;
use super::rest_voltage::last;
use crate::segment::{Kind, Segment, rest_limit};
use crate::si::{AmpHours, Amps, Seconds, Volts};
use crate::trace::{BLOCK_ROWS, Extent, Point, Steps, Summary, Voltages};
use std::ops::Range;

/// Currents that are accepted, as shares of It.
const ACCEPTED_SHARE: [f64; 2] = [0.1, 0.55];
/// The current at the end must be within this share of the usual one, so that no pulse makes the crossing.
const SAME_CURRENT: f64 = 0.25;
/// The end counts as reached this close; or where the voltage falls so fast that less than this share is missing.
const END_MARGIN: Volts = Volts(5e-3);
const MOST_EXTRAPOLATED: f64 = 0.005;
/// Rows this many times further apart than usual leave a gap.
const GAP: f64 = 8.0;
/// Shortest time over which the slope at the end is taken.
const SLOPE_SPAN: Seconds = Seconds(6.0);
/// A straight line of least squares through n values at least h apart is never steeper than twice their width over
/// (n - 1) h (Cauchy's inequality), and half of them may be left out as wild.
const STEEPEST_LINE: f64 = 4.0;
/// Rows on either side of a step that tell the voltage there.
const STEP_ROWS: usize = 3;
/// Share of the drop at the start that must come back when the load goes off.
const LEAST_RECOVERY: f64 = 0.25;
/// Noise of the voltage at the end that no longer matters.
const SMALL_NOISE: Volts = Volts(0.5e-3);
/// Rows that tell a crossing: at least so many, at most this share of the discharge.
const LEAST_LOOK: f64 = 5.0;
const WIDEST_LOOK: f64 = 0.02;
/// Standard deviation of a median of many normal numbers over that of their mean.
const MEDIAN_TO_MEAN: f64 = 1.253_3;
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
}

/// Follows a discharge from the start of a load to the end voltage.
pub(super) fn discharge(m: &Measurement<'_>, load: usize) -> Result<Discharge, String> {
    let segment = m.segments.get(load).ok_or("the load lies outside the trace")?;
    let current = usual_current(m, load);
    let share = current / m.unit_current();
    if !(ACCEPTED_SHARE[0]..=ACCEPTED_SHARE[1]).contains(&share) {
        return Err(format!(
            "discharged at {share:.2} It; a capacity is measured at {} to {} It",
            ACCEPTED_SHARE[0], ACCEPTED_SHARE[1]
        ));
    }
    let end = Volts(m.nameplate.end_of_discharge_v);
    let most_back = AmpHours(m.nameplate.rated_capacity_ah * MOST_CHARGED_BACK);
    let limit = rest_limit(Some(m.nameplate));
    let usual = |point: &Point| (point.current / current - 1.0).abs() <= SAME_CURRENT;
    let points = m.trace.slice(segment.first..m.trace.points.len());
    let period = m.usual_period(load);

    // Rows may begin a little after the load did.
    let first = points.first().ok_or("the load has no rows")?;
    let mut charge = first.current * (first.time - segment.start.time);
    let settled = Settled::new(m, points.len());
    let (mut back, mut in_gaps) = (AmpHours(0.0), AmpHours(0.0));
    let mut interrupted = false;
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
        let Extent { low, high } = block.currents.extent;
        low >= -limit.0 && high <= limit.0 && high < level[0] && block.steps.time.high <= longest_step
    };
    let is_loaded_from =
        |row: usize| points.get(row..).is_some_and(|rest| rest.iter().take(3).any(|p| p.current > limit));
    let mut index = 0;
    while let Some([before, after]) = points.get(index..index + 2) {
        if let Some(block) = m.trace.points.block_from(segment.first + index + 1).filter(goes_on) {
            charge += block.steps.charged();
            index += BLOCK_ROWS;
            last_loaded = index;
            continue;
        }
        if let Some(block) = m.trace.points.block_from(segment.first + index + 1).filter(rests) {
            charge += block.steps.charged();
            index += BLOCK_ROWS;
            interrupted |= is_loaded_from(index + 1);
            continue;
        }
        let step = after.time - before.time;
        let moved = before.charge_until(after);
        if usual(after)
            && after.voltage <= end
            && settled.is_below(points, index + 1, rows_left(m, segment.first + index + 1), end, &usual)
        {
            let fall = before.voltage - after.voltage;
            let part = if usual(before) && before.voltage > end && fall.0 > 0.0 {
                (before.voltage - end) / fall
            } else {
                1.0
            };
            let rows = segment.first..segment.first + index + 2;
            refuse_lost_current(m, load, after.time)?;
            let end_time = before.time + step * part;
            return Ok(Discharge {
                current,
                charge: charge + moved * part,
                duration: end_time - segment.start.time,
                end_time,
                in_gaps,
                extrapolated: AmpHours(0.0),
                end_slope: end_slope(m, rows.clone()),
                end_noise: settled.noise,
                interrupted,
                range: check_rows(rows)?,
            });
        }
        charge += moved;
        if step.0 > longest_step {
            in_gaps += moved.abs();
        }
        if after.current < -limit {
            back += -moved;
            if back > most_back {
                break;
            }
        }
        if after.current > limit {
            last_loaded = index + 1;
        } else {
            interrupted |= is_loaded_from(index + 2);
        }
        index += 1;
    }
    while last_loaded > 0 && level_of(m, segment.first + last_loaded).is_none() {
        last_loaded -= 1;
    }
    let until = points.get(last_loaded).map_or(segment.end.time, |point| point.time);
    refuse_lost_current(m, load, until)?;
    not_reached(m, segment.first..segment.first + last_loaded + 1, current, period, end)
}

/// Returns the stretch of constant current that a row belongs to. A row in which the load went off holds a mixture of
/// before and after and may show nearly the current of before; it is in none, and its voltage has begun to recover.
fn level_of<'m>(m: &'m Measurement<'_>, row: usize) -> Option<&'m Segment> {
    m.segments.iter().find(|segment| (segment.first..=segment.last).contains(&row))
}

/// Returns how many rows of its level follow a row.
fn rows_left(m: &Measurement<'_>, row: usize) -> usize {
    level_of(m, row).map_or(0, |level| level.last - row)
}

/// Refuses a discharge whose current falls to zero on paper while the voltage stays where it was: then the load went
/// on and the current was not measured. A cell that really rests recovers at once by its resistance times the current.
fn refuse_lost_current(m: &Measurement<'_>, load: usize, until: Seconds) -> Result<(), String> {
    let median_of = |rows: Range<usize>| {
        let voltages: Vec<f64> = m.trace.slice(rows).iter().map(|point| point.voltage.0).collect();
        Volts(median(voltages))
    };
    let early = |index: usize| {
        let body = m.body(index);
        median_of(body.start..(body.start + STEP_ROWS).min(body.end))
    };
    let drop_per_ampere = |from: usize, to: usize, current: Amps| {
        (median_of(last(m.body(from), STEP_ROWS)) - early(to)) / current
    };
    let first = m.segments.get(load).ok_or("the load lies outside the trace")?;
    let expected = match m.rest_before(load) {
        Some(rest) => drop_per_ampere(rest, load, first.current),
        None => return Ok(()), // nothing to compare with
    };
    for (index, pair) in m.segments.windows(2).enumerate().skip(load) {
        let [loaded, rest] = pair else { continue };
        if rest.start.time >= until {
            break;
        }
        if loaded.kind != Kind::Load || rest.kind != Kind::Rest {
            continue;
        }
        let recovered = drop_per_ampere(index, index + 1, -loaded.current);
        if recovered.0 < LEAST_RECOVERY * expected.0 {
            return Err(format!(
                "at {:.1} s the current falls to zero and the voltage does not recover; the current was not measured",
                rest.start.time.0
            ));
        }
    }
    Ok(())
}

/// Ends a discharge whose last loaded row lies just above the end voltage; refuses any other.
fn not_reached(
    m: &Measurement<'_>,
    rows: Range<usize>,
    current: Amps,
    period: Seconds,
    end: Volts,
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
    let slope = end_slope(m, rows.clone());
    if too_much(slope) {
        return Err(refused());
    }
    let settled_noise = Settled::new(m, points.len()).noise;
    let still = if slope < 0.0 { Seconds(lacking.0.max(0.0) / -slope) } else { Seconds(f64::INFINITY) };
    let more = Seconds(still.0.min(2.0 * period.0)) / 2.0;
    Ok(Discharge {
        current,
        charge: charge + current * more,
        duration: last.time - first.time + more,
        end_time: last.time,
        in_gaps: gaps(points, period),
        extrapolated: current * more,
        end_slope: slope,
        end_noise: settled_noise,
        interrupted: false,
        range: check_rows(rows)?,
    })
}

fn gaps(points: &[Point], period: Seconds) -> AmpHours {
    points.windows(2).fold(AmpHours(0.0), |sum, two| match two {
        [a, b] if (b.time - a.time).0 > GAP * period.0 && (b.time - a.time).0 > 1.0 => {
            sum + a.charge_until(b).abs()
        }
        _ => sum,
    })
}

fn check_rows(rows: Range<usize>) -> Result<Range<usize>, String> {
    if rows.len() < FEWEST_ROWS {
        return Err(format!("the discharge has only {} rows; at least {FEWEST_ROWS}", rows.len()));
    }
    Ok(rows)
}

/// Tells a crossing from noise: the middle value of enough rows around it must be down too.
struct Settled {
    /// Rows on either side.
    side: usize,
    /// Standard uncertainty of the middle value of them all.
    noise: Volts,
}

impl Settled {
    /// Chooses as many rows as make noise small, within a small share of the discharge.
    fn new(m: &Measurement<'_>, rows: usize) -> Self {
        let of_median = MEDIAN_TO_MEAN * m.voltage_noise.0;
        let wanted = (of_median / SMALL_NOISE.0).powi(2);
        let most = (rows as f64 * WIDEST_LOOK).max(LEAST_LOOK);
        let count = wanted.clamp(LEAST_LOOK, most);
        Self { side: (count / 2.0) as usize, noise: Volts(of_median / count.sqrt()) }
    }

    /// Returns whether the voltage is down around a row; towards the end of a load fewer rows have to do, and `left` are
    /// left of it.
    fn is_below(
        &self,
        points: &[Point],
        at: usize,
        left: usize,
        end: Volts,
        usual: &impl Fn(&Point) -> bool,
    ) -> bool {
        let after = points.get(at + 1..).unwrap_or(&[]);
        let side = after.iter().take(self.side.min(left)).take_while(|point| usual(point)).count();
        let around = points.get(at.saturating_sub(side)..=at + side).unwrap_or(&[]);
        let voltages: Vec<f64> = around.iter().filter(|p| usual(p)).map(|p| p.voltage.0).collect();
        median(voltages) <= end.0
    }
}

/// Returns the current that carries most of the charge from a load on.
fn usual_current(m: &Measurement<'_>, load: usize) -> Amps {
    let after = m.segments.get(load..).unwrap_or(&[]);
    let loads =
        after.iter().take_while(|segment| segment.kind != Kind::Charge).filter(|s| s.kind == Kind::Load);
    let mut levels: Vec<(f64, f64)> = loads.map(|s| (s.current.0, (s.current * s.duration()).0)).collect();
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = levels.iter().map(|(_, charge)| charge).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    let middle = levels.iter().find(|(_, charge)| {
        sum += charge;
        sum >= half
    });
    Amps(middle.map_or(0.0, |(current, _)| *current))
}

/// Returns the last rows, that tell the slope at the end: two rows' time and at least some seconds.
fn end_rows(m: &Measurement<'_>, rows: Range<usize>) -> Range<usize> {
    let some = m.trace.slice(last(rows.clone(), 3));
    let (Some(first), Some(last)) = (some.first(), some.last()) else { return rows.end..rows.end };
    m.between(rows, Seconds(first.time.0.min(last.time.0 - SLOPE_SPAN.0)), last.time)
}

/// Returns the slope of the voltage there in V/s.
fn end_slope(m: &Measurement<'_>, rows: Range<usize>) -> f64 {
    let rows = end_rows(m, rows);
    let Some(last) = m.trace.slice(rows.clone()).last() else { return 0.0 };
    m.voltage_at(rows, last.time).map_or(0.0, |line| line.slope)
}
