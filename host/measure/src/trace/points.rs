//! What blocks of rows have in common, gathered once, so that nobody reads all rows again for each question.
//!
//! Ten seconds at 1 kHz are ten thousand rows, and two dozen questions are put to them: is a current off its level, are
//! rows missing, how much charge flowed. [`Points`] reads every row once; any part of the [`Summary`] of any range then
//! costs its ends and a hundredth of its rows, and whoever looks for single rows passes over the blocks that cannot hold
//! them.

use super::{Gather, Point, Resolution, Summary};
use crate::si::Amps;
use std::ops::{Deref, Range};

/// Rows of a block.
pub const BLOCK_ROWS: usize = 64;

/// The rows of a trace, read as a slice, with the summaries of their blocks.
#[derive(Clone, Debug, Default)]
pub struct Points {
    all: Vec<Point>,
    blocks: Vec<Summary>,
    resolution: Resolution,
}

impl Points {
    /// Reads all rows once.
    pub fn new(all: Vec<Point>) -> Self {
        let before = |index: usize| all.get((index * BLOCK_ROWS).checked_sub(1)?);
        let chunks = all.chunks(BLOCK_ROWS).enumerate();
        let blocks = chunks.map(|(index, rows)| Summary::of(before(index), rows)).collect();
        let resolution = Resolution::of(&all);
        Self { all, blocks, resolution }
    }

    /// Returns the smallest steps of both converters.
    pub fn resolution(&self) -> Resolution {
        self.resolution
    }

    /// Tells the last digit that currents are written to. One that stands still at 1.000000 A was rounded to its last zero and
    /// not to the tenth of an ampere that it happens to be a multiple of.
    pub fn current_is_written_to(&mut self, digit: Amps) {
        let unit = &mut self.resolution.current_unit;
        unit.0 = unit.0.min(digit.0);
    }

    /// Gives the rows to change; all of them are read again when the hand is taken off.
    #[cfg(test)]
    pub fn edit(&mut self) -> Edit<'_> {
        Edit(self)
    }

    /// Returns the blocks that touch a range: the rows of each that lie in it, and the summary of all of its rows.
    pub fn blocks_touching(&self, rows: Range<usize>) -> impl Iterator<Item = (Range<usize>, &Summary)> {
        let first = rows.start / BLOCK_ROWS;
        let count = rows.end.div_ceil(BLOCK_ROWS).saturating_sub(first);
        self.blocks.iter().enumerate().skip(first).take(count).map(move |(index, summary)| {
            let start = index * BLOCK_ROWS;
            (start.max(rows.start)..(start + BLOCK_ROWS).min(rows.end), summary)
        })
    }

    /// Returns the block that begins with a row and is full; `None` if none does.
    pub fn block_from(&self, row: usize) -> Option<&Summary> {
        let summary = self.blocks.get(row / BLOCK_ROWS)?;
        (row.is_multiple_of(BLOCK_ROWS) && summary.voltages.rows == BLOCK_ROWS).then_some(summary)
    }

    /// Gathers what the rows of a range have in common; ways only from row to row inside it.
    pub fn gather<Part: Gather>(&self, rows: Range<usize>) -> Part {
        let (start, end) = (rows.start, rows.end.min(self.all.len()));
        let rows_of = |rows: Range<usize>| self.all.get(rows).unwrap_or(&[]);
        // The first row's step leads out of the range, so a block that begins with it does not fit.
        let head = ((start / BLOCK_ROWS + 1) * BLOCK_ROWS).min(end);
        let tail = (end / BLOCK_ROWS * BLOCK_ROWS).max(head);
        let mut sum = Part::of(None, rows_of(start..head));
        for block in self.blocks.get(head.div_ceil(BLOCK_ROWS)..tail / BLOCK_ROWS).unwrap_or(&[]) {
            sum.join(Part::of_block(block));
        }
        if tail < end {
            sum.join(&Part::of(tail.checked_sub(1).and_then(|row| self.all.get(row)), rows_of(tail..end)));
        }
        sum
    }
}

impl Deref for Points {
    type Target = [Point];

    fn deref(&self) -> &[Point] {
        &self.all
    }
}

impl<'a> IntoIterator for &'a Points {
    type Item = &'a Point;
    type IntoIter = std::slice::Iter<'a, Point>;

    fn into_iter(self) -> Self::IntoIter {
        self.all.iter()
    }
}

impl From<Points> for Vec<Point> {
    fn from(points: Points) -> Self {
        points.all
    }
}

impl PartialEq for Points {
    fn eq(&self, other: &Self) -> bool {
        self.all == other.all
    }
}

/// Rows that are being changed.
#[cfg(test)]
pub struct Edit<'a>(&'a mut Points);

#[cfg(test)]
impl Deref for Edit<'_> {
    type Target = Vec<Point>;

    fn deref(&self) -> &Vec<Point> {
        &self.0.all
    }
}

#[cfg(test)]
impl std::ops::DerefMut for Edit<'_> {
    fn deref_mut(&mut self) -> &mut Vec<Point> {
        &mut self.0.all
    }
}

#[cfg(test)]
impl Drop for Edit<'_> {
    fn drop(&mut self) {
        *self.0 = Points::new(std::mem::take(&mut self.0.all));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::{Amps, Celsius, Seconds, Volts};
    use crate::trace::Temperatures;
    use proptest::prelude::*;

    fn points() -> impl Strategy<Value = Vec<Point>> {
        let temperature = || proptest::option::of((20.0..40.0f64).prop_map(Celsius));
        let row = (0.0..0.1f64, -1.0..3.0f64, 2.5..4.4f64, temperature(), temperature());
        proptest::collection::vec(row, 0..5 * BLOCK_ROWS).prop_map(|rows| {
            let mut time = 0.0;
            let place = |(step, current, voltage, cell, ambient)| {
                time += step;
                let (time, current, voltage) = (Seconds(time), Amps(current), Volts(voltage));
                Point { time, current, voltage, cell, ambient }
            };
            rows.into_iter().map(place).collect()
        })
    }

    /// Counts, extents and ends: what must be the same to the last digit.
    fn exact(of: &Summary) -> Vec<f64> {
        let Temperatures { cell_rows, warmest, rise_rows, largest_rise, .. } = of.temperatures;
        let extents = [of.voltages.extent, of.currents.extent, of.steps.time];
        let counts = [of.voltages.rows, of.currents.rows, cell_rows, rise_rows].map(|count| count as f64);
        let extents = extents.iter().flat_map(|extent| [extent.low, extent.high]);
        counts.into_iter().chain([warmest, largest_rise, of.moments.count]).chain(extents).collect()
    }

    /// Sums, which depend on the order of adding in their last digits.
    fn sums(of: &Summary) -> Vec<f64> {
        let (m, voltages, currents) = (of.moments, of.voltages, of.currents);
        let cell = of.temperatures.cell().map_or(0.0, |cell| cell.0);
        let sums = [voltages.time_sum, voltages.sum, currents.sum, currents.squares, cell];
        let charges = [of.steps.charged().0, of.steps.moved().0];
        let squares =
            [m.time_square, m.product, m.value_square, m.step_square, m.step_product, m.rise_square];
        sums.into_iter().chain(charges).chain([m.time, m.value]).chain(squares).collect()
    }

    proptest! {
        #[test]
        fn a_summary_by_blocks_is_that_of_all_its_rows(
            points in points(), start in 0..5 * BLOCK_ROWS, end in 0..6 * BLOCK_ROWS,
        ) {
            let points_with_blocks = Points::new(points.clone());
            let range = || start..end;
            let found = Summary {
                voltages: points_with_blocks.gather(range()),
                currents: points_with_blocks.gather(range()),
                steps: points_with_blocks.gather(range()),
                temperatures: points_with_blocks.gather(range()),
                moments: points_with_blocks.gather(range()),
            };
            let all = Summary::of(None, points.get(start..end.min(points.len())).unwrap_or(&[]));
            prop_assert_eq!(exact(&found), exact(&all));
            for (found, all) in sums(&found).into_iter().zip(sums(&all)) {
                prop_assert!((found - all).abs() <= 1e-9 * (1.0 + all.abs()));
            }
        }

        #[test]
        fn the_blocks_that_touch_a_range_cover_it_once(
            points in points(), start in 0..5 * BLOCK_ROWS, end in 0..5 * BLOCK_ROWS,
        ) {
            let end = end.min(points.len());
            let points = Points::new(points);
            let covered: Vec<usize> = points.blocks_touching(start..end).flat_map(|(rows, _)| rows).collect();
            prop_assert_eq!(covered, (start..end).collect::<Vec<usize>>());
        }
    }
}
