//! When a watch may end: on the day that it names, or later by the time that nobody can vouch for.
//!
//! A watch counts from the day on which it was written down, and only time counts that the book itself has seen go by. A
//! clock that is set forward looks like a time in which nothing is written, so such a time counts for nothing once it is
//! longer than a week, and than the watch lets pass between two looks. Where entries before it have later times, either
//! its clock stood back or theirs stood ahead: then a step of more than a day counts as one, and the step with which the
//! clock comes back to where it was counts for nothing. So a clock that is put right makes no watch older, one that jumps
//! ahead ends none, and one that once stood ahead keeps none for years.

use crate::book_time::{BookTime, ms};
use crate::clock::days_left;
use crate::clock_doubt::QUIET;
use crate::event::Hold;
use jiff::civil::Date;
use jiff::{Span, ToSpan};
use serde::{Deserialize, Serialize};

const DAY_MS: i64 = 86_400_000;
/// Days under watch after the last sign that a cell is critical, before a look may find it otherwise: as long as a watch usually is
/// (`workshop/quarantine.rs`). No authority's number was found; cells flare up again after weeks (ERG 2024, guide 147), so
/// four weeks is our choice.
pub(crate) const CRITICAL_WATCH_DAYS: i64 = 28;
/// Longest time without an entry that counts, in days, where the watch asks for a look at least that often: a shop is
/// closed for long weekends and some holidays, and whoever writes nothing for more than a week watches nothing (our choice).
const LONGEST_SILENCE_DAYS: i64 = 7;

/// The end of a watch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WatchEnd {
    /// The day that it names, counted from the day on which it was written.
    counted: Date,
    /// The time in ms that an earlier entry has, and the clock that began it had not.
    contradicted_by_ms: Option<i64>,
    /// Longest time without an entry that counts, in ms.
    longest_silence_ms: i64,
    /// The book's times since it began; `None` if the book's times are not known.
    seen: Option<Seen>,
}

/// What the book has seen of a watch, in ms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Seen {
    began: i64,
    /// The latest time since, by the clock as it stands now.
    latest: i64,
    /// How much of the time since counts.
    counts: i64,
}

impl WatchEnd {
    /// Begins to count a watch that is written with the book's last entry.
    pub fn of(hold: &Hold, on: Date, time: BookTime) -> Self {
        // Over before it was written: its days count from then.
        let late = time.day_of_last().filter(|written| hold.until < *written);
        let late = late.map_or(0, |written| days_left(on, written).max(0));
        let silence = i64::from(hold.every_days).max(LONGEST_SILENCE_DAYS);
        Self {
            counted: hold.until.saturating_add(late.days()),
            contradicted_by_ms: time.contradicted_by_ms(),
            longest_silence_ms: silence.saturating_mul(DAY_MS),
            seen: time.last_ms().map(|began| Seen { began, latest: began, counts: 0 }),
        }
    }

    /// Begins to count, with the book's last entry, the days after which a watched cell may be found no longer critical: from the
    /// day on which both the sign and the watch were written down, whatever days were said.
    pub(crate) fn of_critical(hold: &Hold, on: Date, time: BookTime) -> Self {
        let from = time.day_of_last().map_or(on, |written| on.max(written));
        let until = from.saturating_add(CRITICAL_WATCH_DAYS.days());
        Self::of(&Hold { until, ..hold.clone() }, on, time)
    }

    /// Returns whether its own time is contradicted.
    pub const fn is_in_doubt(&self) -> bool {
        self.contradicted_by_ms.is_some()
    }

    /// Takes in the time of a later entry.
    pub fn pass_to(&mut self, to_ms: i64) {
        let Some(seen) = &mut self.seen else { return };
        let step = to_ms.saturating_sub(seen.latest);
        if step < -ms(QUIET) {
            // Set back: what it had been ahead was counted before, and was no time.
            seen.counts = seen.counts.saturating_add(step).max(0);
        } else if step <= 0 {
            // Another bench's clock, or a run that is written down at its end.
            return;
        } else if self.contradicted_by_ms.is_some_and(|mark| to_ms >= mark) {
            self.contradicted_by_ms = None;
        } else {
            let counts = match self.contradicted_by_ms {
                Some(_) => step.min(ms(QUIET)),
                None if step <= self.longest_silence_ms => step,
                None => 0,
            };
            seen.counts = seen.counts.saturating_add(counts);
        }
        seen.latest = to_ms;
    }

    /// Returns the first day on which the watch may end; what is begun of a day counts as a day more.
    pub fn day(&self) -> Date {
        let passed = |seen: Seen| seen.latest.saturating_sub(seen.began).saturating_sub(seen.counts);
        let not_counted = self.seen.map_or(0, passed);
        let begun = i64::from(not_counted.rem_euclid(DAY_MS) > 0);
        // More days than a calendar has: never.
        let moved = Span::new().try_days(not_counted.div_euclid(DAY_MS).saturating_add(begun));
        moved.map_or(Date::MAX, |days| self.counted.saturating_add(days))
    }
}
