//! A person who wants to stop from a time of the bench on.

use crate::{Collector, SharedBench};
use celltriage_link::{Attendant, Recorder, RunEvent};
use celltriage_protocol::units::Micros;

/// In the middle of the hold of a short plan, which begins after at most 2 s of waiting and 2 s of rest.
pub const MID_HOLD: Micros = Micros::from_millis(4_500);

/// Collects, and wants to stop from a time of the bench on.
pub struct StopAt {
    /// What it has collected.
    pub inner: Collector,
    bench: SharedBench,
    at: Micros,
}

impl StopAt {
    /// On this bench, from this time on.
    pub fn new(bench: &SharedBench, at: Micros) -> Self {
        Self { inner: Collector::default(), bench: bench.clone(), at }
    }
}

impl Attendant<RunEvent> for StopAt {
    fn sees(&mut self, event: &RunEvent) {
        self.inner.sees(event);
    }

    fn stop_wanted(&self) -> bool {
        self.bench.0.borrow().now() >= self.at
    }
}

impl Recorder for StopAt {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.inner.keep(frame)
    }
}
