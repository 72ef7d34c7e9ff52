//! The workshop itself: an open book, a clock, and the time zone in which its days begin.

use crate::clock::Clock;
use crate::fault::Result;
use crate::{kept_models, kept_runs};
use celltriage_book::{Book, MOST_BEHIND};
use celltriage_custody::ledger::Ledger;
use celltriage_custody::{Scope, State, kept_state};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A workshop. Each thing that it can do is one call; the files of this crate add them.
pub struct Workshop<'c> {
    pub(crate) book: Book,
    pub(crate) ledger: Ledger,
    /// Events since it was last looked at whether what is kept has fallen behind.
    unlooked: u32,
    clock: &'c dyn Clock,
    zone: TimeZone,
}

impl<'c> Workshop<'c> {
    /// Takes an open book, a clock and the time zone of the place.
    pub const fn new(book: Book, clock: &'c dyn Clock, zone: TimeZone) -> Self {
        // The first event looks.
        Self { book, ledger: Ledger::new(), unlooked: MOST_BEHIND, clock, zone }
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

    /// Keeps what is drawn from the entries up to the last, so that questions about one thing read little; `step` hears the
    /// number of the entry up to which it is done. Long only the first time after an old book was opened.
    ///
    /// # Errors
    /// The book cannot be read or written.
    pub fn keep_up(&mut self, step: &mut dyn FnMut(u32)) -> Result<()> {
        State::keep_up(&mut self.book, step)?;
        kept_models::keep_up(&mut self.book, step)?;
        Ok(kept_runs::keep_up(&mut self.book, step)?)
    }

    /// The same where it has fallen behind by so many entries, so that most commits hold their entry alone.
    ///
    /// # Errors
    /// The book cannot be read or written.
    pub(crate) fn keep_up_if_behind(&mut self, most: u32) -> Result<()> {
        self.unlooked = 0;
        let mut behind = 0;
        for fold in [kept_state::FOLD, kept_models::FOLD, kept_runs::FOLD] {
            behind = self.book.behind(fold)?.max(behind);
        }
        if behind >= most { self.keep_up(&mut |_| {}) } else { Ok(()) }
    }

    /// The same before an event; it looks as often as it can fall behind.
    pub(crate) fn keep_up_before_an_event(&mut self) -> Result<()> {
        self.unlooked = self.unlooked.saturating_add(1);
        if self.unlooked >= MOST_BEHIND { self.keep_up_if_behind(MOST_BEHIND) } else { Ok(()) }
    }

    /// Returns what does not fit of what the book keeps, in words: whether each value is whole, or with `from_entries` whether all
    /// of it is what the entries say, which reads every one of them.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn faults_of_kept(&self, from_entries: bool, step: &mut dyn FnMut(u32)) -> Result<Vec<&'static str>> {
        let book = &self.book;
        let faults = [
            (
                kept_state::kept_fits(book, from_entries, step)?,
                "what it keeps of cells, containers and shipments is not what its entries say",
            ),
            (
                kept_models::kept_fits(book, from_entries, step)?,
                "what it keeps of models is not what its entries say",
            ),
            (
                kept_runs::kept_fits(book, from_entries, step)?,
                "what it keeps of capacity runs is not what its entries say",
            ),
        ];
        Ok(faults.into_iter().filter(|(fits, _)| !fits).map(|(_, words)| words).collect())
    }

    /// Reads how cells, containers and shipments with these names stand.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn state_about(&self, names: &[&str]) -> Result<State> {
        Ok(State::about(&self.book, names)?)
    }

    /// Reads how what a question is about stands.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn state(&self, scope: Scope<'_>) -> Result<State> {
        Ok(scope.read(&self.book)?)
    }
}
