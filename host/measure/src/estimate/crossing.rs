//! Watches a voltage under load until it stays below the end-of-discharge voltage.
//!
//! Input: the rows of a discharge one by one; output: the place of the crossing. Two things look like an end and are not. A
//! contact that is lost makes the voltage fall faster than any cell: such rows are passed over until the voltage is back.
//! And a voltage that sinks and comes back was not at its end: the crossing is where rows above the end less rows below it
//! are most, so that it counts only if the voltage stays down until the load ends. Noise cancels in that count, and so do
//! single wild rows.

use crate::si::{Seconds, Volts};
use crate::trace::{Point, Summary};

/// No cell that is discharged in hours falls faster than this, in V/s (the steepest end of a published table at 0.2 It is
/// 0.7 mV/s; seventy times that), but a little may be a row that was rounded, and over a long time it may fall by a lot
/// (both judged).
const FASTEST_FALL: f64 = 0.05;
const LEAST_JUMP: Volts = Volts(0.12);
const MOST_FALL: Volts = Volts(1.2);
/// A fall must be this many standard deviations of one sample: a row in 10^15 strays so far by chance.
const JUMP_DEVIATIONS: f64 = 8.0;
/// Standard deviation of the place where a count of rows above less below is largest, times the cube root of the fall per
/// row and the noise squared: 0.51 (2 pi)^(1/3) (Chernoff's distribution, of variance 0.26: J. Comput. Graph. Stat. 10
/// (2001) 388, from memory).
const COUNT_SHARE: f64 = 0.95;
/// A voltage that went below the end by this much and came back is told; less is what a row's rounding
/// does (judged).
const TOLD_DEPTH: Volts = Volts(5e-3);

/// Rows whose voltage was not the cell's.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Lost {
    /// How many.
    pub(super) rows: usize,
    /// How long they took.
    pub(super) time: Seconds,
    /// When they began.
    pub(super) since: Option<Seconds>,
}

impl Lost {
    fn add(&mut self, row: &Point, since: Seconds) {
        self.join(Self { rows: 1, time: row.time - since, since: Some(row.time) });
    }

    /// Returns both together.
    pub(super) fn and(mut self, next: Self) -> Self {
        self.join(next);
        self
    }

    fn join(&mut self, next: Self) {
        self.rows += next.rows;
        self.time += next.time;
        self.since = self.since.or(next.since);
    }
}

/// What the watch makes of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Seen {
    /// Above the end.
    Above,
    /// Below it, as a cell may be.
    Below,
    /// Below it because a contact was lost.
    Lost,
}

/// Looks for the crossing; `State` is what the caller wants to know of it.
#[derive(Clone, Debug)]
pub(super) struct Watch<State> {
    end: Volts,
    noise: Volts,
    /// First row below since the voltage was last above it for good.
    crossing: Option<State>,
    /// Rows below less rows above since then.
    behind: usize,
    /// The rows below since then, and the lowest voltage of them.
    below: Lost,
    lowest: Volts,
    /// Last voltage above the end that came about as a cell's does.
    trusted: Option<(Seconds, Volts)>,
    is_lost: bool,
    lost: Lost,
}

impl<State> Watch<State> {
    /// Begins to watch; `noise` is the scatter of one voltage sample.
    pub(super) fn new(end: Volts, noise: Volts) -> Self {
        Self {
            end,
            noise,
            crossing: None,
            behind: 0,
            below: Lost::default(),
            lowest: end,
            trusted: None,
            is_lost: false,
            lost: Lost::default(),
        }
    }

    /// Takes in a row under the load and the time of the row before it.
    pub(super) fn see(&mut self, row: &Point, since: Seconds, state: impl FnOnce() -> State) -> Seen {
        if row.voltage > self.end {
            self.is_lost = false;
            if self.fall_to(row).is_none_or(|(fall, most)| fall.abs() <= most || most >= MOST_FALL) {
                self.trusted = Some((row.time, row.voltage));
            }
            self.come_back(1);
            return Seen::Above;
        }
        if self.see_lost(row, since) {
            return Seen::Lost;
        }
        self.behind += 1;
        self.below.add(row, since);
        self.lowest = Volts(self.lowest.0.min(row.voltage.0));
        if self.crossing.is_none() {
            self.crossing = Some(state());
        }
        Seen::Below
    }

    /// Takes in a row whatever its current; returns whether its voltage is not the cell's, since a contact was lost.
    pub(super) fn see_lost(&mut self, row: &Point, since: Seconds) -> bool {
        let falls_too_fast = || self.fall_to(row).is_some_and(|(fall, most)| fall > most);
        self.is_lost = row.voltage <= self.end && (self.is_lost || falls_too_fast());
        if self.is_lost {
            self.lost.add(row, since);
        }
        self.is_lost
    }

    /// Takes in a block of rows under the load that are all above the end.
    pub(super) fn see_above(&mut self, block: &Summary, until: Seconds) {
        let count = block.voltages.rows;
        self.is_lost = false;
        self.trusted = Some((until, Volts(block.voltages.sum / count as f64)));
        self.come_back(count);
    }

    /// Returns the crossing, if the voltage is down now.
    pub(super) fn crossing(self) -> Option<State> {
        self.crossing
    }

    /// Returns whether there is a crossing that the voltage has not come back from.
    pub(super) fn is_down(&self) -> bool {
        self.crossing.is_some()
    }

    /// Returns what was passed over so far.
    pub(super) fn lost(&self) -> Lost {
        self.lost
    }

    fn come_back(&mut self, rows: usize) {
        self.behind = self.behind.saturating_sub(rows);
        if self.behind > 0 || self.crossing.take().is_none() {
            return;
        }
        if (self.end - self.lowest).0 > self.clear().max(TOLD_DEPTH.0) {
            self.lost.join(self.below);
        }
        (self.below, self.lowest) = (Lost::default(), self.end);
    }

    /// Returns by how much noise does not move the voltage, in V. What trembles by more is not the noise of a converter.
    fn clear(&self) -> f64 {
        (JUMP_DEVIATIONS * self.noise.0).min(MOST_FALL.0)
    }

    /// Returns by how much the voltage fell from the last one that is trusted, and by how much a cell's may have.
    fn fall_to(&self, row: &Point) -> Option<(Volts, Volts)> {
        let (time, voltage) = self.trusted?;
        let most = Volts((FASTEST_FALL * (row.time - time).0).clamp(LEAST_JUMP.0, MOST_FALL.0));
        Some((voltage - row.voltage, Volts(most.0.max(self.clear()))))
    }
}

/// Returns the standard uncertainty that noise leaves of the voltage at the crossing, where it falls by so much from row
/// to row.
pub(super) fn doubt(noise: Volts, fall_per_row: Volts) -> Volts {
    // Where it falls faster than it trembles, both rows beside the crossing tell it.
    Volts((COUNT_SHARE * (fall_per_row.0.abs() * noise.0.powi(2)).cbrt()).min(noise.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::synthetic::Random;
    use crate::si::Amps;

    const END: Volts = Volts(3.0);

    fn row(time: f64, voltage: f64) -> Point {
        Point { time: Seconds(time), current: Amps(0.5), voltage: Volts(voltage), cell: None, ambient: None }
    }

    /// Watches voltages 1 s apart; gives the row of the crossing and what was lost.
    fn watched(voltages: &[f64], noise: f64) -> (Option<usize>, usize) {
        let mut watch = Watch::new(END, Volts(noise));
        for (index, voltage) in voltages.iter().enumerate() {
            let time = index as f64;
            watch.see(&row(time, *voltage), Seconds(time - 1.0), || index);
        }
        let lost = watch.lost().rows;
        (watch.crossing(), lost)
    }

    #[test]
    fn the_crossing_is_the_first_row_that_stays_down() {
        assert_eq!(watched(&[3.02, 3.01, 2.99, 2.98], 0.0), (Some(2), 0));
        assert_eq!(watched(&[3.02, 3.01, 2.999, 3.001, 2.99, 2.98], 0.0), (Some(4), 0));
        // One wild row up does not bring the voltage back.
        assert_eq!(watched(&[3.02, 3.01, 2.99, 2.98, 4.0, 2.97], 0.0), (Some(2), 0));
        assert_eq!(watched(&[3.02, 3.01], 0.0), (None, 0));
    }

    #[test]
    fn a_contact_that_is_lost_is_no_crossing() {
        assert_eq!(watched(&[3.6, 3.6, 0.0, 0.0, 3.6, 3.6], 0.0), (None, 2));
        assert_eq!(watched(&[3.6, 3.6, 2.9, 2.9], 0.0), (None, 2));
        // One that comes and goes slowly is passed over too.
        let sunk = [3.1, 3.05, 2.99, 2.95, 2.97, 3.03, 3.08, 3.1, 3.1, 3.05, 2.99];
        assert_eq!(watched(&sunk, 0.0), (Some(10), 3));
    }

    #[test]
    fn noise_scatters_the_crossing_by_as_much_as_is_told() {
        let (fall, noise, rows, runs) = (1e-4, 5e-3, 2000, 400);
        let mut random = Random(7);
        let mut sum = [0.0; 2];
        for _ in 0..runs {
            let middle = f64::from(rows) / 2.0;
            let voltage = |row: i32| END.0 + (middle - f64::from(row)) * fall;
            let voltages: Vec<f64> = (0..rows).map(|row| voltage(row) + noise * random.normal()).collect();
            let off = (watched(&voltages, noise).0.unwrap() as f64 - middle) * fall;
            sum = [sum[0] + off, sum[1] + off * off];
        }
        let told = doubt(Volts(noise), Volts(fall)).0;
        let [mean, square] = sum.map(|sum| sum / f64::from(runs));
        assert!(mean.abs() < 0.2 * told, "{mean} of {told}");
        assert!((0.85..1.15).contains(&(square.sqrt() / told)), "{} of {told}", square.sqrt());
    }
}
