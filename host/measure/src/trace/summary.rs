//! What rows in a row have in common, in parts that are asked for one by one.
//!
//! Each part of a [`Summary`] can be gathered from rows and joined with that of the rows that follow. Nobody who wants
//! to know a mean current pays for temperatures.

use super::{Moments, Point};
use crate::si::{AmpHours, Celsius, SECONDS_PER_HOUR};

/// Something that rows have in common: told from the rows, or from what two neighbouring ranges of them have in common.
pub trait Gather: Sized {
    /// Of no rows.
    const NONE: Self;

    /// Gathers it from rows; `before` is the row before the first, where the step from it counts.
    fn of(before: Option<&Point>, rows: &[Point]) -> Self;

    /// Returns that part of a block's summary.
    fn of_block(block: &Summary) -> &Self;

    /// Adds what follows.
    fn join(&mut self, next: &Self);
}

/// Smallest and largest of some values; of none, the smallest is above the largest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ValueRange {
    /// Smallest.
    pub low: f64,
    /// Largest.
    pub high: f64,
}

impl ValueRange {
    /// Of no values.
    pub const NONE: Self = Self { low: f64::INFINITY, high: f64::NEG_INFINITY };

    /// Takes in one value more; a value that is not a number changes nothing.
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

/// All parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Voltages.
    pub voltages: Voltages,
    /// Currents.
    pub currents: Currents,
    /// Ways from row to row.
    pub steps: Steps,
    /// Temperatures.
    pub temperatures: Temperatures,
    /// Sums that give the straight line through the voltages.
    pub moments: Moments,
}

impl Summary {
    /// Summarises rows; `before` is the row before the first.
    pub fn of(before: Option<&Point>, rows: &[Point]) -> Self {
        Self {
            voltages: Gather::of(before, rows),
            currents: Gather::of(before, rows),
            steps: Gather::of(before, rows),
            temperatures: Gather::of(before, rows),
            moments: Gather::of(before, rows),
        }
    }
}

/// Voltages of rows, with the times at which they were read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Voltages {
    /// Number of rows.
    pub rows: usize,
    /// Sum of the times, s.
    pub time_sum: f64,
    /// Sum of the voltages, V.
    pub sum: f64,
    /// Smallest and largest, V.
    pub extent: ValueRange,
}

impl Gather for Voltages {
    const NONE: Self = Self { rows: 0, time_sum: 0.0, sum: 0.0, extent: ValueRange::NONE };

    fn of(_: Option<&Point>, rows: &[Point]) -> Self {
        let mut all = Self { rows: rows.len(), ..Self::NONE };
        for point in rows {
            all.time_sum += point.time.0;
            all.sum += point.voltage.0;
            all.extent.take(point.voltage.0);
        }
        all
    }

    fn of_block(block: &Summary) -> &Self {
        &block.voltages
    }

    fn join(&mut self, next: &Self) {
        self.rows += next.rows;
        self.time_sum += next.time_sum;
        self.sum += next.sum;
        self.extent = self.extent.join(next.extent);
    }
}

/// Currents of rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Currents {
    /// Number of rows.
    pub rows: usize,
    /// Sum, A.
    pub sum: f64,
    /// Sum of the squares, A^2.
    pub squares: f64,
    /// Smallest and largest, A.
    pub extent: ValueRange,
}

impl Gather for Currents {
    const NONE: Self = Self { rows: 0, sum: 0.0, squares: 0.0, extent: ValueRange::NONE };

    fn of(_: Option<&Point>, rows: &[Point]) -> Self {
        let mut all = Self { rows: rows.len(), ..Self::NONE };
        for point in rows {
            let current = point.current.0;
            all.sum += current;
            all.squares += current * current;
            all.extent.take(current);
        }
        all
    }

    fn of_block(block: &Summary) -> &Self {
        &block.currents
    }

    fn join(&mut self, next: &Self) {
        self.rows += next.rows;
        self.sum += next.sum;
        self.squares += next.squares;
        self.extent = self.extent.join(next.extent);
    }
}

/// Ways from each row's predecessor to the row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// Times from row to row, s.
    pub time: ValueRange,
    /// Charge that flowed, A s, as if the current went straight from row to row.
    charge: f64,
    /// The same without the sign of each part.
    moved: f64,
}

impl Steps {
    /// Returns the charge that flowed.
    pub fn charged(&self) -> AmpHours {
        AmpHours(self.charge / SECONDS_PER_HOUR)
    }

    /// Returns the same without the sign of each part.
    pub fn moved(&self) -> AmpHours {
        AmpHours(self.moved / SECONDS_PER_HOUR)
    }
}

impl Gather for Steps {
    const NONE: Self = Self { time: ValueRange::NONE, charge: 0.0, moved: 0.0 };

    fn of(before: Option<&Point>, rows: &[Point]) -> Self {
        let (first, after) = match (before, rows.split_first()) {
            (Some(before), _) => (before, rows),
            (None, Some((first, after))) => (first, after),
            (None, None) => return Self::NONE,
        };
        let (mut time, mut current) = (first.time.0, first.current.0);
        let mut all = Self::NONE;
        let (mut twice, mut moved_twice) = (0.0, 0.0);
        for point in after {
            let step = point.time.0 - time;
            let part = (current + point.current.0) * step;
            (time, current) = (point.time.0, point.current.0);
            all.time.take(step);
            twice += part;
            moved_twice += part.abs();
        }
        (all.charge, all.moved) = (twice / 2.0, moved_twice / 2.0);
        all
    }

    fn of_block(block: &Summary) -> &Self {
        &block.steps
    }

    fn join(&mut self, next: &Self) {
        self.time = self.time.join(next.time);
        self.charge += next.charge;
        self.moved += next.moved;
    }
}

/// Temperatures of rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Temperatures {
    /// Rows that know the cell's.
    pub cell_rows: usize,
    /// Sum of these, degC.
    cell_sum: f64,
    /// The warmest of them, degC; negative infinity of none.
    pub warmest: f64,
    /// Rows that know both the cell's and the air's.
    pub rise_rows: usize,
    /// Largest difference between cell and air, K; negative infinity of none.
    pub largest_rise: f64,
}

impl Temperatures {
    /// Returns the mean temperature of the cell, where any row knows it.
    pub fn cell(&self) -> Option<Celsius> {
        (self.cell_rows > 0).then(|| Celsius(self.cell_sum / self.cell_rows as f64))
    }
}

impl Gather for Temperatures {
    const NONE: Self = Self {
        cell_rows: 0,
        cell_sum: 0.0,
        warmest: f64::NEG_INFINITY,
        rise_rows: 0,
        largest_rise: f64::NEG_INFINITY,
    };

    fn of(_: Option<&Point>, rows: &[Point]) -> Self {
        let mut all = Self::NONE;
        for point in rows {
            let Some(cell) = point.cell else { continue };
            all.cell_rows += 1;
            all.cell_sum += cell.0;
            all.warmest = if cell.0 > all.warmest { cell.0 } else { all.warmest };
            let Some(ambient) = point.ambient else { continue };
            let rise = (cell - ambient).0;
            all.rise_rows += 1;
            all.largest_rise = if rise > all.largest_rise { rise } else { all.largest_rise };
        }
        all
    }

    fn of_block(block: &Summary) -> &Self {
        &block.temperatures
    }

    fn join(&mut self, next: &Self) {
        self.cell_rows += next.cell_rows;
        self.cell_sum += next.cell_sum;
        self.warmest = self.warmest.max(next.warmest);
        self.rise_rows += next.rise_rows;
        self.largest_rise = self.largest_rise.max(next.largest_rise);
    }
}

impl Gather for Moments {
    const NONE: Self = Moments::NONE;

    fn of(before: Option<&Point>, rows: &[Point]) -> Self {
        Self::of_rows(before, rows)
    }

    fn of_block(block: &Summary) -> &Self {
        &block.moments
    }

    fn join(&mut self, next: &Self) {
        self.add(next);
    }
}
