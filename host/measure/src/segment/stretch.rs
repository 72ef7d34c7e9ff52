//! A stretch of rows of one level, while it is gathered: which rows belong to it, and which only stray.

use crate::si::{Amps, Seconds};
use crate::trace::{BLOCK_ROWS, Point, Points, ValueRange};

/// Share of the level that is still the same level.
const SAME_LEVEL: f64 = 0.02;
/// Standard deviations of noise that are still the same level: 1 row in 500 million strays further.
const NOISE_DEVIATIONS: f64 = 6.0;
/// Rows that set the level of a stretch.
const ANCHOR_ROWS: usize = 20;
/// Rows over which the noise is taken.
const NOISE_ROWS: usize = 64;
/// Rows between two stretches of one level that do not part them.
pub(super) const BRIDGED_ROWS: usize = 2;
/// More than one row off a level is only passed over if it was off for less than this; pulses last longer.
const BRIEF: Seconds = Seconds(0.02);
/// Median of the size of the difference of two normal numbers, in standard deviations of one.
const MEDIAN_DIFFERENCE: f64 = 0.953_9;

/// Rows of one level while they are gathered.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    pub(super) first: usize,
    pub(super) last: usize,
    pub(super) rows: usize,
    sum: f64,
}

impl Stretch {
    pub(super) fn grow(levels: &mut Levels<'_>, first: usize) -> Self {
        let points = levels.points;
        let current = |index: usize| points.get(index).map(|point| point.current.0);
        let time = |index: usize| points.get(index).map_or(f64::INFINITY, |point| point.time.0);
        let start = current(first).unwrap_or(0.0);
        let mut stretch = Self { first, last: first, rows: 1, sum: start };
        let mut anchor = start;
        let mut index = first + 1;
        while let Some(value) = current(index) {
            // Most blocks lie in the middle of a level with all of their rows.
            if let Some(sum) = levels.whole_block(index, anchor).filter(|_| stretch.rows >= ANCHOR_ROWS) {
                index += BLOCK_ROWS;
                stretch.last = index - 1;
                stretch.rows += BLOCK_ROWS;
                stretch.sum += sum;
                continue;
            }
            if !levels.is_same(index, value, anchor) {
                // A row or two off the level, as a disturbed conversion leaves them, do not end the level.
                let returns = (1..=BRIDGED_ROWS).find(|rows| {
                    let brief = || time(index + rows) - time(stretch.last) <= BRIEF.0;
                    let near = |next: f64| levels.is_same(index, next, anchor);
                    current(index + rows).is_some_and(near) && (*rows == 1 || brief())
                });
                match returns {
                    Some(rows) if stretch.rows >= 2 => index += rows,
                    _ => break,
                }
                continue;
            }
            stretch.last = index;
            stretch.rows += 1;
            stretch.sum += value;
            if stretch.rows <= ANCHOR_ROWS {
                anchor = stretch.mean();
            }
            index += 1;
        }
        stretch
    }

    pub(super) fn mean(&self) -> f64 {
        self.sum / self.rows as f64
    }

    pub(super) fn join(&mut self, next: &Self) {
        *self = Self {
            first: self.first,
            last: next.last,
            rows: self.rows + next.rows,
            sum: self.sum + next.sum,
        };
    }
}

/// Decides whether a current is still of a level.
pub(super) struct Levels<'a> {
    pub(super) points: &'a Points,
    pub(super) rest_limit: Amps,
    /// Standard deviation of the noise of every [`NOISE_ROWS`] rows; made when first asked for, as it seldom matters.
    pub(super) noise: Vec<Option<f64>>,
}

impl Levels<'_> {
    /// Returns whether a current around a row lies within the tolerance of a level.
    pub(super) fn is_same(&mut self, row: usize, current: f64, level: f64) -> bool {
        let distance = (current - level).abs();
        distance <= self.tolerance(level) || distance <= NOISE_DEVIATIONS * self.noise_around(row)
    }

    /// Returns how far from a level a current may lie, were there no noise.
    fn tolerance(&self, level: f64) -> f64 {
        (SAME_LEVEL * level.abs()).max(self.rest_limit.0 / 2.0)
    }

    /// Returns the sum of the currents of the block that begins with a row, if all of them are of a level for sure.
    fn whole_block(&self, row: usize, level: f64) -> Option<f64> {
        let block = self.points.block_from(row)?;
        let ValueRange { low, high } = block.currents.extent;
        let furthest = (high - level).max(level - low);
        (furthest <= self.tolerance(level)).then_some(block.currents.sum)
    }

    fn noise_around(&mut self, row: usize) -> f64 {
        let chunk = row / NOISE_ROWS;
        if self.noise.is_empty() {
            self.noise.resize(self.points.len() / NOISE_ROWS + 1, None);
        }
        let points = self.points.chunks(NOISE_ROWS).nth(chunk).unwrap_or(&[]);
        self.noise.get_mut(chunk).map_or(0.0, |known| *known.get_or_insert_with(|| noise(points)))
    }
}

/// Returns the standard deviation of the current's noise, blind to steps.
fn noise(points: &[Point]) -> f64 {
    let mut differences: Vec<f64> = points
        .windows(2)
        .filter_map(|two| if let [a, b] = two { Some((b.current.0 - a.current.0).abs()) } else { None })
        .collect();
    let middle = differences.len() / 2;
    if differences.is_empty() {
        return 0.0;
    }
    *differences.select_nth_unstable_by(middle, f64::total_cmp).1 / MEDIAN_DIFFERENCE
}
