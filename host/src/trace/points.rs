//! What blocks of rows have in common, gathered once, so that nobody reads all rows again for each question.
//!
//! Ten seconds at 1 kHz are ten thousand rows, and two dozen questions are put to them: is a current off its level, are
//! rows missing, how much charge flowed. [`Points`] reads every row once; a [`Summary`] of any range then costs its ends
//! and a hundredth of its rows, and whoever looks for single rows passes over the blocks that cannot hold them.

use super::Point;
use crate::si::{AmpHours, Celsius, SECONDS_PER_HOUR};
use std::ops::{Deref, Range};

/// Rows of a block.
pub const BLOCK_ROWS: usize = 64;

/// Smallest and largest of some values; of none, the smallest is above the largest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Smallest.
    pub low: f64,
    /// Largest.
    pub high: f64,
}

impl Extent {
    /// Of no values.
    pub const NONE: Self = Self { low: f64::INFINITY, high: f64::NEG_INFINITY };

    /// Takes in one value more; a value that is no number changes nothing.
    fn take(&mut self, value: f64) {
        self.low = if value < self.low { value } else { self.low };
        self.high = if value > self.high { value } else { self.high };
    }

    /// Returns the extent of both.
    pub fn join(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    /// Returns how far apart smallest and largest are; negative infinity of no values.
    pub fn width(self) -> f64 {
        self.high - self.low
    }
}

/// What some rows in a row have in common. Steps and charge run from each row's predecessor to the row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Number of rows.
    pub rows: usize,
    /// Sum of the times, s.
    pub time_sum: f64,
    /// Voltages, V.
    pub voltage: Extent,
    /// Their sum, V.
    pub voltage_sum: f64,
    /// Currents, A.
    pub current: Extent,
    /// Their sum, A.
    pub current_sum: f64,
    /// Sum of their squares, A^2.
    pub current_squares: f64,
    /// Times from row to row, s.
    pub step: Extent,
    /// Charge that flowed, A s, as if the current went straight from row to row.
    pub charge: f64,
    /// The same without the sign of each part.
    pub moved: f64,
    /// Rows that know the cell's temperature.
    pub cell_rows: usize,
    /// Sum of these temperatures, degC.
    pub cell_sum: f64,
    /// The warmest of them, degC; negative infinity of none.
    pub warmest: f64,
    /// Rows that know both the cell's and the air's temperature.
    pub rise_rows: usize,
    /// Largest difference between cell and air, K; negative infinity of none.
    pub largest_rise: f64,
}

impl Summary {
    /// Of no rows.
    pub const NONE: Self = Self {
        rows: 0,
        time_sum: 0.0,
        voltage: Extent::NONE,
        voltage_sum: 0.0,
        current: Extent::NONE,
        current_sum: 0.0,
        current_squares: 0.0,
        step: Extent::NONE,
        charge: 0.0,
        moved: 0.0,
        cell_rows: 0,
        cell_sum: 0.0,
        warmest: f64::NEG_INFINITY,
        rise_rows: 0,
        largest_rise: f64::NEG_INFINITY,
    };

    /// Summarises rows; `before` is the row before the first, where its step and charge count.
    fn of(before: Option<&Point>, points: &[Point]) -> Self {
        let mut sum = Self { rows: points.len(), ..Self::NONE };
        for point in points {
            let (voltage, current) = (point.voltage.0, point.current.0);
            sum.time_sum += point.time.0;
            sum.voltage.take(voltage);
            sum.voltage_sum += voltage;
            sum.current.take(current);
            sum.current_sum += current;
            sum.current_squares += current * current;
        }
        sum.take_steps(before, points);
        sum.take_temperatures(points);
        sum
    }

    fn take_steps(&mut self, before: Option<&Point>, points: &[Point]) {
        let (first, after) = match (before, points.split_first()) {
            (Some(before), _) => (before, points),
            (None, Some((first, after))) => (first, after),
            (None, None) => return,
        };
        let (mut time, mut current) = (first.time.0, first.current.0);
        let (mut twice, mut moved_twice) = (0.0, 0.0);
        for point in after {
            let step = point.time.0 - time;
            let part = (current + point.current.0) * step;
            (time, current) = (point.time.0, point.current.0);
            self.step.take(step);
            twice += part;
            moved_twice += part.abs();
        }
        self.charge = twice / 2.0;
        self.moved = moved_twice / 2.0;
    }

    fn take_temperatures(&mut self, points: &[Point]) {
        for point in points {
            let Some(cell) = point.cell else { continue };
            self.cell_rows += 1;
            self.cell_sum += cell.0;
            self.warmest = if cell.0 > self.warmest { cell.0 } else { self.warmest };
            let Some(ambient) = point.ambient else { continue };
            let rise = (cell - ambient).0;
            self.rise_rows += 1;
            self.largest_rise = if rise > self.largest_rise { rise } else { self.largest_rise };
        }
    }

    /// Returns the charge that flowed.
    pub fn charged(&self) -> AmpHours {
        AmpHours(self.charge / SECONDS_PER_HOUR)
    }

    /// Returns the same without the sign of each part.
    pub fn moved(&self) -> AmpHours {
        AmpHours(self.moved / SECONDS_PER_HOUR)
    }

    /// Returns the mean temperature of the cell, where any row knows it.
    pub fn cell_temperature(&self) -> Option<Celsius> {
        (self.cell_rows > 0).then(|| Celsius(self.cell_sum / self.cell_rows as f64))
    }

    /// Adds what follows.
    pub fn join(&mut self, next: &Self) {
        self.rows += next.rows;
        self.time_sum += next.time_sum;
        self.voltage = self.voltage.join(next.voltage);
        self.voltage_sum += next.voltage_sum;
        self.current = self.current.join(next.current);
        self.current_sum += next.current_sum;
        self.current_squares += next.current_squares;
        self.step = self.step.join(next.step);
        self.charge += next.charge;
        self.moved += next.moved;
        self.cell_rows += next.cell_rows;
        self.cell_sum += next.cell_sum;
        self.warmest = self.warmest.max(next.warmest);
        self.rise_rows += next.rise_rows;
        self.largest_rise = self.largest_rise.max(next.largest_rise);
    }
}

/// The rows of a trace, read as a slice, with the summaries of their blocks.
#[derive(Clone, Debug, Default)]
pub struct Points {
    all: Vec<Point>,
    blocks: Vec<Summary>,
}

impl Points {
    /// Reads all rows once.
    pub fn new(all: Vec<Point>) -> Self {
        let before = |index: usize| all.get((index * BLOCK_ROWS).checked_sub(1)?);
        let chunks = all.chunks(BLOCK_ROWS).enumerate();
        let blocks = chunks.map(|(index, rows)| Summary::of(before(index), rows)).collect();
        Self { all, blocks }
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

    /// Returns the block that begins with a row and is full; nothing where none does.
    pub fn block_from(&self, row: usize) -> Option<&Summary> {
        let summary = self.blocks.get(row / BLOCK_ROWS)?;
        (row.is_multiple_of(BLOCK_ROWS) && summary.rows == BLOCK_ROWS).then_some(summary)
    }

    /// Summarises a range; steps and charge only from row to row inside it.
    pub fn summary(&self, rows: Range<usize>) -> Summary {
        let (start, end) = (rows.start, rows.end.min(self.all.len()));
        let rows_of = |rows: Range<usize>| self.all.get(rows).unwrap_or(&[]);
        // The first row's step leads out of the range, so a block that begins with it does not fit.
        let head = ((start / BLOCK_ROWS + 1) * BLOCK_ROWS).min(end);
        let tail = (end / BLOCK_ROWS * BLOCK_ROWS).max(head);
        let mut sum = Summary::of(None, rows_of(start..head));
        for block in self.blocks.get(head.div_ceil(BLOCK_ROWS)..tail / BLOCK_ROWS).unwrap_or(&[]) {
            sum.join(block);
        }
        sum.join(&Summary::of(tail.checked_sub(1).and_then(|row| self.all.get(row)), rows_of(tail..end)));
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
    use crate::si::{Amps, Seconds, Volts};
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

    /// Both summaries as numbers, the sums last.
    fn numbers(of: &Summary) -> ([f64; 11], [f64; 7]) {
        let Extent { low, high } = of.step;
        let [rows, cells, rises] = [of.rows, of.cell_rows, of.rise_rows].map(|count| count as f64);
        let ends = [
            rows,
            cells,
            rises,
            of.voltage.low,
            of.voltage.high,
            of.current.low,
            of.current.high,
            low,
            high,
            of.warmest,
            of.largest_rise,
        ];
        let sums = [
            of.time_sum,
            of.voltage_sum,
            of.current_sum,
            of.current_squares,
            of.charge,
            of.moved,
            of.cell_sum,
        ];
        (ends, sums)
    }

    proptest! {
        #[test]
        fn a_summary_by_blocks_is_that_of_all_its_rows(
            points in points(), start in 0..5 * BLOCK_ROWS, end in 0..6 * BLOCK_ROWS,
        ) {
            let found = numbers(&Points::new(points.clone()).summary(start..end));
            let rows = points.get(start..end.min(points.len())).unwrap_or(&[]);
            let all = numbers(&Summary::of(None, rows));
            prop_assert_eq!(found.0, all.0);
            for (found, all) in found.1.into_iter().zip(all.1) {
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
