//! The times of the book's entries in the order of writing, where a clock that stood wrong shows.
//!
//! Entries are written one after the other, so their times never fall while every clock is right. Where one falls, some
//! clock was wrong; which one, the book alone does not tell.

use crate::clock_doubt::{QUIET, TOLERANCE};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::{TimeZone, offset};
use serde::{Deserialize, Serialize};

/// The times of entries as far as the book is read, in ms as the book keeps them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BookTime {
    last_ms: Option<i64>,
    newest_ms: Option<i64>,
}

/// The time from one entry to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// Time of the entry before, in ms.
    pub from_ms: i64,
    /// Time of the entry, in ms.
    pub to_ms: i64,
}

impl BookTime {
    /// Takes in the time of the next entry; returns the step to it.
    pub fn pass(&mut self, at: Timestamp) -> Option<Step> {
        let to_ms = at.as_millisecond();
        self.newest_ms = self.newest_ms.max(Some(to_ms));
        self.last_ms.replace(to_ms).map(|from_ms| Step { from_ms, to_ms })
    }

    /// Returns the newest time of all, in ms, where it is later than that of the last entry: that entry's clock stood
    /// back, or an earlier one stood ahead.
    pub fn contradicted_by_ms(&self) -> Option<i64> {
        let (last, newest) = (self.last_ms?, self.newest_ms?);
        (newest.saturating_sub(last) > ms(TOLERANCE)).then_some(newest)
    }

    /// Returns the time of the last entry, in ms.
    pub const fn last_ms(&self) -> Option<i64> {
        self.last_ms
    }

    /// Returns the earliest day that the last entry may have been written on.
    pub fn day_of_last(&self) -> Option<Date> {
        self.last_ms.and_then(earliest_day)
    }
}

impl Step {
    /// Returns the time that it says has gone by, in ms; negative where the clock was set back.
    pub const fn length_ms(self) -> i64 {
        self.to_ms.saturating_sub(self.from_ms)
    }

    /// Returns the earliest day of the entry, where its clock proves that the one before stood ahead. A run is written
    /// down at its end with the time of its beginning; none takes longer than what passes here (a full test: 6 h).
    pub fn set_back_to(self) -> Option<Date> {
        if self.length_ms() < -ms(QUIET) { earliest_day(self.to_ms) } else { None }
    }
}

/// Returns a span in ms.
pub(super) fn ms(span: jiff::SignedDuration) -> i64 {
    i64::try_from(span.as_millis()).unwrap_or(i64::MAX)
}

/// The day where it begins last on Earth, so never later than the day in the shop: entries tell no time zone.
fn earliest_day(at_ms: i64) -> Option<Date> {
    let at = Timestamp::from_millisecond(at_ms).ok()?;
    Some(at.to_zoned_datetime(TimeZone::fixed(offset(-12))).date())
}
