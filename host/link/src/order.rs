//! A request that is said again until it is answered, without waiting for the answer.

use super::clock::{Clock, Moment};
use std::collections::VecDeque;
use std::time::Duration;

/// Answers to older tries than these are no longer known.
const KEPT: usize = 16;

/// The tries of one request.
#[derive(Clone, Debug, Default)]
pub(super) struct Order {
    numbers: VecDeque<u32>,
    tries: u32,
    last: Option<Moment>,
}

impl Order {
    /// Returns whether it is to be said (again): never said, or not within this time.
    pub fn is_due(&self, every: Duration, clock: &Clock) -> bool {
        self.last.is_none_or(|last| clock.since(last) >= every)
    }

    /// Is not to be said before its time has passed once.
    pub fn wait(&mut self, clock: &Clock) {
        self.last = Some(clock.now());
    }

    /// Is to be said at once, however short ago it was.
    pub const fn hurry(&mut self) {
        self.last = None;
    }

    /// Was said under this number.
    pub fn said(&mut self, number: u32, clock: &Clock) {
        if self.numbers.len() >= KEPT {
            self.numbers.pop_front();
        }
        self.numbers.push_back(number);
        self.tries = self.tries.saturating_add(1);
        self.last = Some(clock.now());
    }

    /// Returns whether an answer with this number is one to it.
    pub fn has(&self, number: u32) -> bool {
        self.numbers.contains(&number)
    }

    /// Returns how often it was said.
    pub const fn tries(&self) -> u32 {
        self.tries
    }
}
