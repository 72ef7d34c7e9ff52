//! Time as a workshop's use cases see it: passed in, never read elsewhere.

use jiff::Timestamp;
use std::cell::Cell;

/// Tells the time.
pub trait Clock {
    /// Returns the time now.
    fn now(&self) -> Timestamp;
}

/// A clock that stands until somebody moves it: one call of a program is one moment, and a test holds time still.
#[derive(Debug)]
pub struct HeldClock(Cell<Timestamp>);

impl HeldClock {
    /// Holds a moment.
    pub const fn at(now: Timestamp) -> Self {
        Self(Cell::new(now))
    }

    /// Moves on to a later moment; it never goes back.
    pub fn move_to(&self, later: Timestamp) {
        self.0.set(self.0.get().max(later));
    }
}

impl Clock for HeldClock {
    fn now(&self) -> Timestamp {
        self.0.get()
    }
}
