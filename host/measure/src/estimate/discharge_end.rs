//! How the voltage passes the end of a discharge: its slope there, and what noise leaves open.
//!
//! Input: the rows of a discharge up to its end; output: the line through the last of them. Noise is told twice: as what the
//! count of rows above and below leaves of the crossing, and where a load stopped at its first row below the end, as what
//! the line lies off it. What a coarse converter hides between two steps comes on top.

use super::crossing::doubt;
use super::measurement::{LEAST_SIGNIFICANCE, Measurement};
use super::median::median;
use super::rest_voltage::last;
use crate::segment::Segment;
use crate::si::{Seconds, Volts};
use crate::trace::left_by_rounding;
use std::ops::Range;

/// Shortest time over which the slope at the end is taken.
const SLOPE_SPAN: Seconds = Seconds(6.0);
/// Noise of the voltage at the end that no longer matters, and the share of the discharge whose rows may lower it.
const SMALL_NOISE: Volts = Volts(0.5e-3);
const WIDEST_LOOK: f64 = 0.02;
/// Least rows that give the slope at the end.
const END_ROWS: usize = 3;

/// Returns the stretch of constant current that a row belongs to. A row in which the load went off holds a mixture of
/// before and after and may show nearly the current of before; it is in none, and its voltage has begun to recover.
pub(super) fn level_of<'m>(m: &'m Measurement<'_>, row: usize) -> Option<&'m Segment> {
    m.segments.iter().find(|segment| (segment.first..=segment.last).contains(&row))
}

/// Returns the last rows, that tell the slope at the end: two rows' time and at least some seconds, and where the voltage
/// is noisy, more of them. Only rows of the last stretch tell it.
pub(super) fn end_rows(m: &Measurement<'_>, rows: Range<usize>) -> Range<usize> {
    let level = rows.end.checked_sub(1).and_then(|row| level_of(m, row)).map_or(rows.start, |s| s.first);
    let stretch = rows.start.max(level)..rows.end;
    let some = m.trace.slice(last(stretch.clone(), END_ROWS.max(against_noise(m, &rows))));
    let (Some(first), Some(last)) = (some.first(), some.last()) else { return rows.end..rows.end };
    m.between(stretch, Seconds(first.time.0.min(last.time.0 - SLOPE_SPAN.0)), last.time)
}

/// Returns how many rows make the noise of a line's end small, within a small share of the discharge.
fn against_noise(m: &Measurement<'_>, rows: &Range<usize>) -> usize {
    let wanted = (2.0 * m.voltage_noise.0 / SMALL_NOISE.0).powi(2);
    wanted.min(rows.len() as f64 * WIDEST_LOOK) as usize
}

/// Rows that give the voltage at the start, so that a wild one does not matter.
const FIRST_ROWS: usize = 5;

/// How the voltage passes a moment at the end.
pub(super) struct AtEnd {
    /// Slope of the line through the last rows in V/s.
    pub(super) line_slope: f64,
    /// The same, or where that cannot be distinguished from zero, the slope of the whole discharge.
    pub(super) slope: f64,
    /// Standard uncertainty of the voltage at that moment.
    pub(super) doubt: Volts,
}

/// Tells slope and doubt of the voltage at a moment at which it is taken to be `voltage`.
pub(super) fn at_end(
    m: &Measurement<'_>,
    rows: Range<usize>,
    at: Seconds,
    voltage: Volts,
) -> Result<AtEnd, String> {
    let few = "the discharge has no rows at its end";
    let points = m.trace.slice(rows.clone());
    let [first, .., before, last] = points else { return Err(few.to_owned()) };
    let line = m.voltage_at(end_rows(m, rows.clone()), at).ok_or(few)?;
    let begun = median(points.iter().take(FIRST_ROWS).map(|point| point.voltage.0).collect());
    let whole = (voltage.0 - begun) / (at - first.time).0;
    let is_told = line.slope < -LEAST_SIGNIFICANCE * line.slope_deviation;
    let slope = if is_told { line.slope } else { whole };
    if slope >= 0.0 {
        return Err("the voltage does not fall towards the end of the discharge".to_owned());
    }
    // A load that stops at its first row below the end stops where noise was lowest; the line tells by how much.
    let is_noisy = against_noise(m, &rows) > END_ROWS;
    let early = if is_noisy { line.value - voltage.0 } else { 0.0 };
    let by_count = doubt(m.voltage_noise, Volts(slope * (last.time - before.time).0));
    // A converter of coarse steps shows the end up to half a step early or late.
    let rounded = left_by_rounding(m.trace.points.resolution().voltage.0, m.voltage_noise.0);
    Ok(AtEnd { line_slope: line.slope, slope, doubt: Volts(by_count.0.hypot(early).hypot(rounded)) })
}
