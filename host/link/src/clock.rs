//! Time on a link: real time, or that of a bench which runs while the host waits; whichever says more.
//!
//! A simulated bench has no time but the one that the host waits, a real fixture goes on by itself. Both are heard of
//! through the times that the fixture tells. A span to wait is over as soon as one of the clocks says so; the age of a
//! run is the fixture's own time, and real time only where that stands still.

use celltriage_protocol::event::Event;
use celltriage_protocol::units::Micros;
use std::time::{Duration, Instant};

/// The clock of a conversation.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clock {
    /// The newest time that the fixture has told.
    told: Micros,
    told_at: Instant,
    /// What was waited in vain since then.
    waited: Duration,
}

/// An instant on both clocks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    real: Instant,
    fixture: Micros,
}

impl Clock {
    /// Begins with a time that the fixture told just now.
    pub fn at(told: Micros) -> Self {
        Self { told, told_at: Instant::now(), waited: Duration::ZERO }
    }

    /// Hears a time of the fixture.
    pub fn hear(&mut self, at: Micros) {
        if at > self.told {
            *self = Self::at(at);
        }
    }

    /// Takes in a wait that brought nothing.
    pub fn wait(&mut self, span: Duration) {
        self.waited = self.waited.saturating_add(span);
    }

    /// Returns the newest time that the fixture has told.
    pub const fn told(&self) -> Micros {
        self.told
    }

    /// Returns this moment.
    pub fn now(&self) -> Moment {
        Moment { real: Instant::now(), fixture: self.told.saturating_add(micros(self.waited)) }
    }

    /// Returns how long ago a moment was, by the clock that says more.
    pub fn since(&self, moment: Moment) -> Duration {
        let now = self.now();
        let fixture = now.fixture.saturating_sub(moment.fixture);
        (now.real - moment.real).max(Duration::from_micros(fixture.get()))
    }

    /// Returns the fixture's time now: what it told last, and what has passed since.
    pub fn fixture_now(&self) -> Micros {
        self.told.saturating_add(micros(self.waited.max(self.told_at.elapsed())))
    }
}

/// Returns the time that an event tells.
pub(super) fn time_of(event: &Event) -> Micros {
    match event {
        Event::Samples(block) => block.next_at(),
        Event::PlanStarted { at, .. }
        | Event::StepStarted { at, .. }
        | Event::StepEnded { at, .. }
        | Event::PlanEnded { at, .. }
        | Event::Missing { at, .. } => *at,
        Event::Tripped(trip) => trip.at,
        Event::Taps(taps) => taps.at,
    }
}

fn micros(span: Duration) -> Micros {
    Micros::new(u64::try_from(span.as_micros()).unwrap_or(u64::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_in_vain_counts_until_the_fixture_tells_a_later_time() {
        let mut clock = Clock::at(Micros::from_secs(10));
        let began = clock.now();
        clock.wait(Duration::from_secs(2));
        assert!(clock.since(began) >= Duration::from_secs(2));
        assert!(clock.fixture_now() >= Micros::from_secs(12));
        clock.hear(Micros::from_secs(9));
        assert_eq!(clock.told(), Micros::from_secs(10), "an event that comes once more tells an old time");
        clock.hear(Micros::from_secs(11));
        let now = clock.fixture_now();
        assert!(now >= Micros::from_secs(11) && now < Micros::from_millis(11_900), "{now:?}");
    }
}
