//! The workshop itself: an open book, a clock, and the time zone in which its days begin.

use crate::clock::Clock;
use crate::fault::Result;
use celltriage_book::Book;
use celltriage_custody::State;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A workshop. Each thing that it can do is one call; the files of this crate add them.
pub struct Workshop<'c> {
    pub(crate) book: Book,
    clock: &'c dyn Clock,
    zone: TimeZone,
}

impl<'c> Workshop<'c> {
    /// Takes an open book, a clock and the time zone of the place.
    pub const fn new(book: Book, clock: &'c dyn Clock, zone: TimeZone) -> Self {
        Self { book, clock, zone }
    }

    /// Returns the book.
    pub const fn book(&self) -> &Book {
        &self.book
    }

    /// Returns the time now.
    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }

    /// Returns the time zone.
    pub const fn zone(&self) -> &TimeZone {
        &self.zone
    }

    /// Returns the day at the place of the workshop.
    pub fn today(&self) -> Date {
        self.now().to_zoned_datetime(self.zone.clone()).date()
    }

    /// Reads how all cells, containers and shipments stand.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn state(&self) -> Result<State> {
        Ok(State::read(&self.book)?)
    }
}
