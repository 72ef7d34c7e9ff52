//! Whether the voltage follows the current as a cell's does: at once where it steps, and downwards under a load.
//!
//! A cell jumps by its ohmic part, within one row, and creeps after it. A channel that averages, or whose leads have a
//! filter, spreads the jump over many rows: an early reading is then too small, and nothing in its scatter shows it.

use super::jump::{SIDE_ROWS, middle};
use super::measurement::Measurement;
use crate::nameplate::Fullness;
use crate::si::Seconds;

/// Rows within which a cell jumps: one of them may hold a mixture of before and after.
const JUMP_ROWS: usize = 2;
/// The jump is compared with what the voltage has moved by after this many times the time it took (judged).
const LATER: f64 = 10.0;
/// A shorter level is looked at up to its end, if it has so many rows.
const LEAST_ROWS: usize = 10;
/// Least share of it that comes in the jump. A channel with one time constant shows a tenth where that is long; cells
/// show 0.49 and more (an iron phosphate cell at 15 degC, rows every 1 ms; most above 0.7).
const LEAST_AT_ONCE: f64 = 0.35;
/// Rows further apart tell nothing: within twenty of them the cell itself may move by more than it jumped (judged).
const SLOWEST_ROW: Seconds = Seconds(0.1);
const ROW_TOLERANCE: f64 = 1.05;
/// A movement of so many times what noise and the converter's steps may make tells its shape (judged).
const CLEAR: f64 = 2.0;
/// Rows missing between two levels beyond these are a slow load, not a slow channel (judged).
const TORN_ROWS: usize = 2;
/// For this long under a load nothing makes a cell's voltage rise; a cold one may warm up
/// later (judged).
const FALLS_FOR: Seconds = Seconds(10.0);
/// How much faster than at its end a rest may go on to rise (judged).
const RECOVERY_MARGIN: f64 = 1.5;

/// Refuses a level whose voltage needs many rows for its jump where the current steps within one.
pub(super) fn refuse_slow_voltage(m: &Measurement<'_>, level: usize) -> Result<(), String> {
    let Some([jump, later]) = jump_and_later(m, level) else { return Ok(()) };
    if jump >= LEAST_AT_ONCE * later || later <= CLEAR * m.least_jump(m.body(level)).0 {
        return Ok(());
    }
    Err(format!(
        "where the current steps within one row, only {:.0} % of the voltage's first movement follows at once: its channel \
         is slow or averages; record without a filter",
        jump / later * 100.0
    ))
}

/// Returns whether a level begins where the cell's own voltage falls away at once: full iron phosphate keeps a few tens of
/// millivolts above its plateau that any load takes away.
fn falls_at_the_top(m: &Measurement<'_>, level: usize) -> bool {
    if m.nameplate.settles_v().is_none() {
        return false;
    }
    let rows = m.newest_rest(level).map_or(0..0, |rest| super::rest_voltage::last(m.body(rest), SIDE_ROWS));
    // Without a rest nobody knows where it began.
    rows.is_empty() || m.nameplate.fullness(middle(m.trace.slice(rows))) != Fullness::NotFull
}

/// Returns what the voltage moves by within [`JUMP_ROWS`] at most, and in ten times that time, in V; `None` if the
/// rows around the step do not tell.
fn jump_and_later(m: &Measurement<'_>, level: usize) -> Option<[f64; 2]> {
    let (before, after) = (m.segments.get(level.checked_sub(1)?)?, m.segments.get(level)?);
    if !after.start.is_step
        || after.first - before.last > TORN_ROWS + 1
        || before.last - before.first < SIDE_ROWS
    {
        return None;
    }
    let rows = m.trace.slice(after.first..after.last + 1);
    let (first, fifth) = (rows.first()?.time, rows.get(SIDE_ROWS - 1)?.time);
    let row = (fifth - first) / (SIDE_ROWS - 1) as f64;
    if row.0 > SLOWEST_ROW.0 * ROW_TOLERANCE || falls_at_the_top(m, level) {
        return None;
    }
    let later = first + row * (LATER * JUMP_ROWS as f64);
    let until = m.between(after.first..after.last + 1, first, later).end;
    if until < after.first + LEAST_ROWS {
        return None;
    }
    let old = middle(m.trace.slice(before.last - SIDE_ROWS..before.last));
    let new = middle(m.trace.slice(until - SIDE_ROWS..until));
    let way = m.trace.slice(before.last - 1..until);
    let jumps = way.iter().zip(way.iter().skip(JUMP_ROWS)).map(|(a, b)| (b.voltage - a.voltage).abs().0);
    Some([jumps.fold(0.0, f64::max), (new - old).abs()])
}

/// Refuses a level under whose load the voltage rises; `recovery` is how fast it rose before, in V/s.
pub(super) fn refuse_rise(m: &Measurement<'_>, level: usize, recovery: f64) -> Result<(), String> {
    let body = m.body(level);
    let Some(start) = m.trace.points.get(body.start).map(|point| point.time) else { return Ok(()) };
    let rows = m.between(body, start, start + FALLS_FOR);
    if rows.len() < 2 * SIDE_ROWS {
        return Ok(());
    }
    let ends =
        [rows.start..rows.start + SIDE_ROWS, rows.end - SIDE_ROWS..rows.end].map(|rows| m.trace.slice(rows));
    let [early, late] = ends.map(middle);
    let risen = late - early - RECOVERY_MARGIN * recovery.max(0.0) * FALLS_FOR.0;
    if risen <= 0.0 || risen <= m.least_jump(rows).0 {
        return Ok(());
    }
    Err(format!(
        "the voltage rises by {:.1} mV under a constant load; the rows are out of order, or a contact moved",
        (late - early) * 1e3
    ))
}
