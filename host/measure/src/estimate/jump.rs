//! Jumps of the voltage without the current: contacts that moved.

use super::measurement::Measurement;
use super::median::median;
use crate::si::{Seconds, Volts};
use crate::trace::{Point, ValueRange};
use std::ops::Range;

/// Rows on either side of a suspected jump.
pub(super) const SIDE_ROWS: usize = 5;
/// Standard deviations of one sample that the medians of a few never differ by.
const JUMP_DEVIATIONS: f64 = 8.0;
/// Steps of the converter that the same medians flicker by (judged).
const FLICKER: f64 = 2.0;
/// A jump of the voltage by this share of its drop is a contact that moved, not the cell; a smaller one may be either, down
/// to a share that does not matter (both judged).
const JUMP_SHARE: f64 = 0.1;
const SMALLEST_JUMP_SHARE: f64 = 0.005;
/// A jump comes within this share of the time since the step: once that share has passed, the cell cannot move so fast.
pub(super) const JUMP_WITHIN: f64 = 0.1;

impl Measurement<'_> {
    /// Refuses a stretch in which the voltage jumps by a share of its `drop` that the cell itself cannot move so fast;
    /// returns the largest smaller jump, which may be the cell's or not.
    pub(super) fn refuse_jump(
        &self,
        range: Range<usize>,
        drop: Volts,
        within: Seconds,
    ) -> Result<Volts, String> {
        let by_chance = self.least_jump(range.clone()).0;
        let [least, limit] =
            [SMALLEST_JUMP_SHARE, JUMP_SHARE].map(|share| (drop.abs().0 * share).max(by_chance));
        let mut largest = 0.0f64;
        for (at, moved) in self.jumps(range, least, within) {
            if moved > limit {
                let text = "the voltage jumps at";
                return Err(format!("{text} {:.3} s without the current; check the sense leads", at.0));
            }
            largest = largest.max(moved);
        }
        Ok(Volts(largest))
    }

    /// Returns the least jump that neither noise nor the steps of the converter make in a range. A fixture averages less
    /// where it samples faster, so the rows of a pulse may be noisier than most.
    pub(super) fn least_jump(&self, range: Range<usize>) -> Volts {
        let noise = self.noise_of(range).0.max(self.voltage_noise.0);
        Volts((JUMP_DEVIATIONS * noise).max(FLICKER * self.trace.points.resolution().voltage.0))
    }

    /// Returns where the voltage jumps by more than a limit without the current: a contact that moved.
    pub(super) fn jump(&self, range: Range<usize>, limit: Volts, within: Seconds) -> Option<Seconds> {
        let limit = limit.0.max(self.least_jump(range.clone()).0);
        self.jumps(range, limit, within).next().map(|(at, _)| at)
    }

    /// Returns when and by how much, in V, the voltage jumps by more than a limit without the current.
    ///
    /// Medians of [`SIDE_ROWS`] rows on either side are compared, so that single wild rows do not count. Rows that lie
    /// too far apart tell nothing: there the cell itself may have moved; `within` is how long a jump may take. A cell
    /// that moves fast already moved so before: what the rows before went the same way is no jump (charge transfer of
    /// 15 ms moves a tenth of the drop in the 10 ms that follow the first 10 ms).
    fn jumps(
        &self,
        range: Range<usize>,
        limit: f64,
        within: Seconds,
    ) -> impl Iterator<Item = (Seconds, f64)> + '_ {
        let points = &self.trace.points;
        let end = (range.end + 1).saturating_sub(2 * SIDE_ROWS);
        let mut blocks = points.blocks_touching(range).peekable();
        let starts = std::iter::from_fn(move || {
            let (rows, block) = blocks.next()?;
            // No median moves further than the rows themselves, and in most blocks these stay close together.
            let next = blocks.peek().map_or(ValueRange::NONE, |(_, next)| next.voltages.extent);
            let is_still = block.voltages.extent.join(next).width() <= limit;
            Some(if is_still { 0..0 } else { rows.start..rows.end.min(end) })
        });
        starts.flatten().filter_map(move |start| self.jump_after(start, limit, within))
    }

    /// Returns time and size of the jump between [`SIDE_ROWS`] rows from a row on and as many after them, if there is one.
    fn jump_after(&self, start: usize, limit: f64, within: Seconds) -> Option<(Seconds, f64)> {
        let half = start + SIDE_ROWS;
        let (before, after) = (self.trace.slice(start..half), self.trace.slice(half..half + SIDE_ROWS));
        let brief = matches!((before.first(), after.last()), (Some(a), Some(b)) if b.time - a.time <= within);
        if !brief {
            return None;
        }
        let moved = middle(after) - middle(before);
        if moved.abs() <= limit {
            return None;
        }
        let earlier = start.checked_sub(SIDE_ROWS).map(|first| self.trace.slice(first..start));
        let moving = earlier.map_or(0.0, |earlier| (middle(before) - middle(earlier)) * moved.signum());
        let jump = moved.abs() - moving.max(0.0);
        after.first().filter(|_| jump > limit).map(|point| (point.time, jump))
    }
}

/// Returns the middle voltage of some rows, in V; zero of none.
pub(super) fn middle(points: &[Point]) -> f64 {
    let [a, b, c, d, e] = points else {
        return median(points.iter().map(|point| point.voltage.0).collect());
    };
    let [a, b, c, d, e] = [a, b, c, d, e].map(|point| point.voltage.0);
    // The smallest and the largest of four are never the middle one of five; it is the middle of the three others.
    let (low, high) = (a.min(b).max(c.min(d)), a.max(b).min(c.max(d)));
    low.min(high).max(low.max(high).min(e))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::{Amps, Seconds};
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_middle_of_five_is_that_of_all_sorted(mut voltages in proptest::array::uniform5(-1.0..1.0f64)) {
            let row = |voltage: f64| Point {
                time: Seconds(0.0),
                current: Amps(0.0),
                voltage: Volts(voltage),
                cell: None,
                ambient: None,
            };
            let found = middle(&voltages.map(row));
            voltages.sort_by(f64::total_cmp);
            prop_assert_eq!(found, voltages[2]);
        }
    }
}
