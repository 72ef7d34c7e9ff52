//! The computer's clock: true time, and by how much it is wrong.

use celltriage_workshop::clock::Clock;
use jiff::{SignedDuration, Timestamp};
use std::cell::Cell;

/// The clock.
pub struct WrongClock {
    pub true_time: Cell<Timestamp>,
    pub wrong_by: Cell<SignedDuration>,
}

impl WrongClock {
    pub fn at(now: &str) -> Self {
        let true_time = now.parse().unwrap_or(Timestamp::UNIX_EPOCH);
        Self { true_time: Cell::new(true_time), wrong_by: Cell::new(SignedDuration::ZERO) }
    }

    /// Lets true time pass.
    pub fn pass(&self, span: SignedDuration) {
        self.true_time.set(self.true_time.get().saturating_add(span).unwrap_or(Timestamp::MAX));
    }
}

impl Clock for WrongClock {
    fn now(&self) -> Timestamp {
        self.true_time.get().saturating_add(self.wrong_by.get()).unwrap_or(Timestamp::MAX)
    }
}
