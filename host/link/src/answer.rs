//! An answer of the fixture, and what had been heard before it came.

use celltriage_protocol::reply::{Reply, State};
use celltriage_protocol::units::Micros;

/// An answer, and what had been heard before it: events that came together with it are later than what it tells.
#[derive(Debug)]
pub(super) struct Answer {
    pub number: u32,
    pub reply: Reply,
    /// The first event that had not come then.
    pub expected: u32,
    /// The newest time that was told by then.
    pub told: Micros,
}

/// A state, and the same.
#[derive(Debug)]
pub(super) struct Seen {
    pub state: State,
    pub expected: u32,
    pub told: Micros,
}

/// Waits to the end.
pub(super) const fn never() -> bool {
    false
}
