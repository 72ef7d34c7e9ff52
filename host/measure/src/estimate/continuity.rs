//! Whether the voltage of a discharge goes on where it stopped: rows that are there twice, or missing with their time.
//!
//! Input: a measurement, the rows of a discharge and its current; output: each jump of the voltage under an unchanged current, with
//! the charge that is in doubt for it. A constant current lowers the voltage steadily. Where it jumps up, rows were written
//! twice, and what flowed since it last was as high is counted twice; where it jumps down, rows are missing together with their time,
//! and what the slope beside makes of the jump was never counted. A contact that moved shows the same; then the end voltage is
//! in doubt instead, by as much. The rows are put into bins, so that noise and ten million rows cost little.

use super::discharge::SAME_CURRENT;
use super::measurement::{MEDIAN_SIZE, Measurement};
use super::median::median;
use crate::segment::Kind;
use crate::si::{AmpHours, Amps, Seconds, Volts};
use crate::trace::Point;
use std::ops::Range;

/// Bins on either side of a place that tell where the voltage is: their middle one counts, so that one wild bin does not.
const SIDE: usize = 7;
/// Most bins of a discharge: some seconds each at 0.2 It, in which a wild row does not matter. The first and the last minute, fourteen
/// bins each, are not looked at.
const MOST_BINS: usize = 4_000;
/// Fewest bins that a discharge is cut into, however noisy it is: 20 min are a fifteenth of it.
const FEWEST_BINS: usize = 300;
/// Rows of a bin that its middle voltage is told from.
const ROWS_OF_BIN: usize = 64;
/// Standard deviations of a bin that the difference of two middles of seven never reaches by chance: seven of its own.
const DEVIATIONS: f64 = 5.0;
/// The same, of what such differences scatter by in this discharge, whatever the reason.
const OWN_DEVIATIONS: f64 = 8.0;
/// Standard deviation of the middle of many normal values, in that of their mean.
const MIDDLE: f64 = 1.25;
/// Steps of the converter that a middle flickers by (judged).
const FLICKER: f64 = 1.5;
/// Noise of a bin that needs no larger ones.
const SMALL_NOISE: Volts = Volts(0.2e-3);
/// Smallest jump that is told: what lamps, fans and air conditioning make of a cell's temperature lies below (judged).
const SMALLEST: Volts = Volts(1e-3);
/// By how much a step may exceed what the slopes beside it make of its time, as a share of that (judged).
const UNEVEN: f64 = 0.5;
/// Where the rows in the middle are so many times further apart than those beside, some are missing (judged).
const HOLE: f64 = 3.0;
/// What a change of the current within its level moves the voltage by: twice the class's resistance times capacity.
const OHM_AH: f64 = 0.68;
/// A jump and its return within this share of the discharge, as large but for that one, are a contact or wild readings (judged).
const RETURN_WITHIN: f64 = 0.05;
const RETURN_SHARE: f64 = 0.3;
/// Charge that is worth telling, as a share of the rated capacity: less is in the budget anyway (judged).
const LEAST_CHARGE: f64 = 0.005;
/// Share of a jump that comes at once (judged).
const SUDDEN: f64 = 0.6;

/// A jump of the voltage under an unchanged current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Break {
    /// When.
    pub(super) at: Seconds,
    /// By how much it rose; negative where it fell.
    pub(super) rose: Volts,
    /// Charge that may be counted twice, or not at all.
    pub(super) charge: AmpHours,
}

/// Some rows in a row.
#[derive(Clone, Copy, Debug)]
struct Bin {
    time: f64,
    voltage: f64,
    current: f64,
}

/// Returns the jumps of a discharge.
pub(super) fn breaks(m: &Measurement<'_>, rows: Range<usize>, usual: Amps) -> Vec<Break> {
    let per_bin = rows_per_bin(m, rows.len());
    let deviation = if per_bin == 1 { 1.0 } else { MIDDLE / (per_bin.min(ROWS_OF_BIN) as f64).sqrt() };
    let by_chance = DEVIATIONS * deviation * m.voltage_noise.0;
    let least = SMALLEST.0.max(by_chance).max(FLICKER * m.trace.points.resolution().voltage.0);
    let level = |current: Amps| (current / usual - 1.0).abs() <= SAME_CURRENT;
    let mut found = Vec::new();
    for (index, segment) in m.segments.iter().enumerate() {
        let body = m.body(index);
        let body = body.start.max(rows.start)..body.end.min(rows.end);
        if segment.kind == Kind::Load && level(segment.current) && !body.is_empty() {
            found.extend(in_bins(m, &bins(m, body, per_bin), least, usual));
        }
    }
    found
}

/// Returns how many rows make a bin: few enough bins for long traces, many enough rows against noise.
fn rows_per_bin(m: &Measurement<'_>, rows: usize) -> usize {
    let against_noise = (MIDDLE * m.voltage_noise.0 / SMALL_NOISE.0).powi(2).min(rows as f64) as usize;
    against_noise.min(rows / FEWEST_BINS).max(rows / MOST_BINS).max(1)
}

/// Puts rows into bins. Rows below the end of discharge were read while a contact was lost: they tell nothing here.
fn bins(m: &Measurement<'_>, body: Range<usize>, per_bin: usize) -> Vec<Bin> {
    let stride = per_bin.div_ceil(ROWS_OF_BIN);
    let end = m.nameplate.end_of_discharge_v;
    let of = |rows: &[Point]| {
        let mut rows: Vec<&Point> = rows.iter().step_by(stride).filter(|row| row.voltage.0 >= end).collect();
        rows.sort_by(|a, b| a.voltage.0.total_cmp(&b.voltage.0));
        // All of one row, so that a bin across a pause lies on the same line as those beside.
        let row = rows.get(rows.len() / 2)?;
        Some(Bin { time: row.time.0, voltage: row.voltage.0, current: row.current.0 })
    };
    m.trace.slice(body).chunks(per_bin).filter_map(of).collect()
}

/// Finds the jumps in a stretch of bins; of neighbouring places the one that jumps furthest.
fn in_bins(m: &Measurement<'_>, bins: &[Bin], least: f64, usual: Amps) -> Vec<Break> {
    let sides: Vec<Bin> = bins.windows(SIDE).map(middle).collect();
    let window = |start: usize| {
        let side = |number: usize| sides.get(start + number * SIDE).copied();
        Some([side(0)?, side(1)?, side(2)?, side(3)?])
    };
    let windows: Vec<[Bin; 4]> = (0..sides.len()).map_while(window).collect();
    let off_line = windows.iter().map(|[_, before, after, _]| after.voltage - before.voltage);
    let off_line = off_line.zip(&windows).map(|(moved, window)| {
        let [one, other] = expected(window);
        (moved - (one + other) / 2.0).abs()
    });
    let scatter = median(off_line.collect()) / MEDIAN_SIZE;
    let least = least.max(OWN_DEVIATIONS * scatter);
    let mut found: Vec<(usize, f64)> = Vec::new();
    for (start, window) in windows.iter().enumerate() {
        let Some(rose) = jump(m, window, least) else { continue };
        let at = start + 2 * SIDE;
        match found.last_mut() {
            Some((last, largest)) if at - *last <= 2 * SIDE && rose * *largest > 0.0 => {
                if rose.abs() > largest.abs() {
                    (*last, *largest) = (at, rose);
                }
            }
            _ => found.push((at, rose)),
        }
    }
    found.retain(|(at, rose)| is_sudden(bins, *at, *rose));
    let of = |(at, rose): (usize, f64)| {
        let [before, after] = [bins.get(at.checked_sub(1)?)?, bins.get(at)?];
        let seconds = if rose > 0.0 { written_twice(bins, at)? } else { never_written(bins, at, rose)? };
        let charge = usual * Seconds(seconds);
        Some(Break { at: Seconds((before.time + after.time) / 2.0), rose: Volts(rose), charge })
    };
    let within = (4 * SIDE).max((RETURN_WITHIN * bins.len() as f64) as usize);
    let least = AmpHours(LEAST_CHARGE * m.nameplate.rated_capacity_ah);
    without_returns(found, within).into_iter().filter_map(of).filter(|one| one.charge >= least).collect()
}

/// Returns whether most of a jump lies between two bins with at most one between them: a steep part of the curve takes longer.
fn is_sudden(bins: &[Bin], at: usize, rose: f64) -> bool {
    let near = bins.get(at.saturating_sub(SIDE + 1)..(at + SIDE + 1).min(bins.len())).unwrap_or(&[]);
    near.windows(3).any(|three| match three {
        [before, _, after] => (after.voltage - before.voltage) * rose.signum() >= SUDDEN * rose.abs(),
        _ => false,
    })
}

/// Leaves out what comes back soon: that moves no charge.
fn without_returns(found: Vec<(usize, f64)>, within: usize) -> Vec<(usize, f64)> {
    let mut left: Vec<(usize, f64)> = Vec::new();
    for (at, rose) in found {
        let comes_back = |(before, by): &(usize, f64)| {
            at - before <= within && (rose + by).abs() <= RETURN_SHARE * by.abs()
        };
        if left.last().is_some_and(comes_back) {
            left.pop();
        } else {
            left.push((at, rose));
        }
    }
    left
}

/// The middle of some bins.
fn middle(bins: &[Bin]) -> Bin {
    let of = |value: fn(&Bin) -> f64| median(bins.iter().map(value).collect());
    Bin { time: of(|bin| bin.time), voltage: of(|bin| bin.voltage), current: of(|bin| bin.current) }
}

/// Returns what the slope before, and that after, make of the time between.
fn expected([earlier, before, after, later]: &[Bin; 4]) -> [f64; 2] {
    let slope =
        |from: &Bin, to: &Bin| (to.voltage - from.voltage) / (to.time - from.time).max(f64::MIN_POSITIVE);
    let time = after.time - before.time;
    [slope(earlier, before) * time, slope(after, later) * time]
}

/// Returns by how much the voltage rises between the second and the third of four sides beyond what the slopes on either hand make
/// of the time between; `None` where that is little.
fn jump(m: &Measurement<'_>, sides: &[Bin; 4], least: f64) -> Option<f64> {
    let [earlier, before, after, later] = sides;
    let moved = after.voltage - before.voltage;
    if moved.abs() <= least {
        return None;
    }
    if after.time - before.time > HOLE * (before.time - earlier.time).max(later.time - after.time) {
        return None; // rows are missing, and their time is there: `holes.rs` counts them
    }
    let [one, other] = expected(sides);
    let (low, high) = (one.min(other), one.max(other));
    let uneven = UNEVEN * low.abs().max(high.abs());
    let by_current = OHM_AH / m.nameplate.rated_capacity_ah * (after.current - before.current).abs();
    let beyond = if moved > high { moved - high } else { (moved - low).min(0.0) };
    (beyond.abs() > least + by_current && beyond.abs() > uneven + by_current).then_some(beyond)
}

/// Returns the seconds that passed since the voltage last was as high as behind a jump up; `None` if it never was: then no row is
/// there twice.
fn written_twice(bins: &[Bin], at: usize) -> Option<f64> {
    // The place of a jump is known to some bins: only what surely lies before or behind it tells.
    let (before, behind) = (bins.get(..at.checked_sub(SIDE)?)?, bins.get(at + SIDE..at + 2 * SIDE)?);
    let again = middle(behind);
    let since = before.iter().rev().find(|bin| bin.voltage >= again.voltage)?;
    Some(again.time - since.time)
}

/// Returns the seconds in which the slope beside makes as much as a jump down.
fn never_written(bins: &[Bin], at: usize, rose: f64) -> Option<f64> {
    // Twice as wide sides where there are as many bins: the slope is told better.
    let wide =
        at.checked_sub(4 * SIDE).and_then(|from| bins.get(from..at + 4 * SIDE)).map(|all| (all, 2 * SIDE));
    let narrow =
        || at.checked_sub(2 * SIDE).and_then(|from| bins.get(from..at + 2 * SIDE)).map(|all| (all, SIDE));
    let (around, side) = wide.or_else(narrow)?;
    let mut sides = around.chunks(side).map(middle);
    let [earlier, before, after, later] = [sides.next()?, sides.next()?, sides.next()?, sides.next()?];
    let fall = (earlier.voltage - before.voltage + after.voltage - later.voltage).max(f64::MIN_POSITIVE);
    let whole = bins.last()?.time - bins.first()?.time;
    Some((-rose / fall * (before.time - earlier.time + later.time - after.time)).min(whole))
}
