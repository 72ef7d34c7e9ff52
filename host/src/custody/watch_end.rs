//! When a watch may end: on the day that it names, or later where the clock that began it stood wrong.
//!
//! A watch counts from the day on which it was written down. Where entries before it have later times, either its clock
//! stood back or theirs stood ahead, and from then on only time that the book itself has seen go by counts: a step of
//! more than a day from one entry to the next counts as one day, and the step with which the clock comes back to where
//! it was counts as none. So a clock that is put right makes no watch older, and one that once stood ahead keeps no
//! watch for years.

use crate::clock_check::QUIET;
use crate::custody::book_time::{BookTime, Step, ms};
use crate::custody::clock::days_left;
use crate::custody::event::Hold;
use jiff::civil::Date;
use jiff::{Span, ToSpan};

/// A day in ms; the longest step between two entries that counts whole.
const DAY_MS: i64 = 86_400_000;

/// The end of a watch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WatchEnd {
    /// The day that it names, counted from the day on which it was written.
    counted: Date,
    /// The time in ms that an earlier entry has, and the clock that began it had not.
    contradicted_by_ms: Option<i64>,
    /// Time in ms that the clock says has gone by and that does not count.
    not_counted_ms: i64,
}

impl WatchEnd {
    /// Begins to count a watch that is written on the day of the book's last entry.
    pub fn of(hold: &Hold, on: Date, time: &BookTime) -> Self {
        // Over before it was written: its days count from then.
        let late = time.day_of_last().filter(|written| hold.until < *written);
        let late = late.map_or(0, |written| days_left(on, written).max(0));
        Self {
            counted: hold.until.saturating_add(late.days()),
            contradicted_by_ms: time.contradicted_by_ms(),
            not_counted_ms: 0,
        }
    }

    /// Returns whether its own time is contradicted.
    pub const fn is_in_doubt(&self) -> bool {
        self.contradicted_by_ms.is_some()
    }

    /// Takes in the step to a later entry.
    pub fn pass(&mut self, step: Step) {
        let Some(mark_ms) = self.contradicted_by_ms else { return };
        let put_right = step.from_ms < mark_ms && step.to_ms >= mark_ms;
        let counts = if put_right { 0 } else { step.length_ms().clamp(0, ms(QUIET)) };
        self.not_counted_ms = self.not_counted_ms.saturating_add(step.length_ms().saturating_sub(counts));
        if put_right {
            self.contradicted_by_ms = None;
        }
    }

    /// Returns the first day on which the watch may end; what is begun of a day counts as a day more.
    pub fn day(&self) -> Date {
        let whole = self.not_counted_ms.div_euclid(DAY_MS);
        let begun = i64::from(self.not_counted_ms.rem_euclid(DAY_MS) > 0);
        // More days than a calendar has: never.
        let moved = Span::new().try_days(whole.saturating_add(begun));
        moved.map_or(Date::MAX, |days| self.counted.saturating_add(days))
    }
}
