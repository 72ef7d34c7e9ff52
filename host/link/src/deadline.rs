//! The time by which a run must have ended, and what the host does about one that has not.
//!
//! The fixture runs its plan by itself: each step takes its duration at the longest. A run whose end is not heard of by
//! then has lost its end on the way or never will have one; the host stops it and says so.

use super::clock::{Clock, Moment};
use super::order::Order;
use super::{Ending, LinkError};
use celltriage_protocol::plan::Plan;
use celltriage_protocol::units::Micros;
use std::time::Duration;

/// A started plan waits at most this long for its first readings (`LONGEST_WAIT` of the firmware's sequencer; a test
/// compares the two).
pub const START_WAIT: Micros = Micros::from_secs(2);
/// So long after that the run is over, whatever was heard: what was lost is fetched within seconds, and a link that
/// breaks is waited for 10 s. Our choice.
pub const GRACE: Micros = Micros::from_secs(30);
/// The last part of it is for the stop: sent at least ten times, three times what the fixture bears without a word.
const FOR_THE_STOP: Micros = Micros::from_secs(10);

/// The time by which a run must have ended, on the fixture's clock.
#[derive(Clone, Copy, Debug)]
pub(super) struct Deadline {
    stop_at: Micros,
    end_at: Micros,
    longest: Micros,
}

impl Deadline {
    /// Returns that of a plan which is started now.
    pub fn of(plan: &Plan, clock: &Clock) -> Self {
        let steps = plan.steps.iter().fold(Micros::ZERO, |sum, step| sum.saturating_add(step.duration));
        let longest = steps.saturating_add(START_WAIT);
        let end_at = clock.fixture_now().saturating_add(longest).saturating_add(GRACE);
        Self { stop_at: end_at.saturating_sub(FOR_THE_STOP), end_at, longest }
    }

    /// Returns how the run is to be ended, once it is time.
    pub fn ending(&self, clock: &Clock) -> Option<Ending> {
        let longest = Duration::from_micros(self.longest.get());
        (clock.fixture_now() >= self.stop_at).then_some(Ending::Overdue { longest })
    }

    /// Returns whether nothing is waited for any more.
    pub fn is_over(&self, clock: &Clock) -> bool {
        clock.fixture_now() >= self.end_at
    }

    /// Returns the time that is left until the stop.
    pub fn left(&self, clock: &Clock) -> Duration {
        Duration::from_micros(self.stop_at.saturating_sub(clock.fixture_now()).get())
    }
}

/// A run that the host is ending: the host says stop in place of its keep-alives, so that the load goes off even where no
/// stop is heard.
#[derive(Clone, Debug)]
pub(super) struct Stopping {
    pub why: Ending,
    /// Whether the fixture has said that the load is off.
    pub heard: bool,
    pub said: Order,
    began: Moment,
}

impl Stopping {
    pub fn begin(why: Ending, clock: &Clock) -> Self {
        Self { why, heard: false, said: Order::default(), began: clock.now() }
    }

    /// Returns whether the fixture's word on the end is no longer waited for.
    pub fn is_over(&self, clock: &Clock) -> bool {
        clock.since(self.began) >= Duration::from_micros(FOR_THE_STOP.get())
    }

    pub const fn error(&self, link: String) -> LinkError {
        LinkError::Stopped { link, why: self.why, heard: self.heard }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_protocol::plan::{Action, Bounds, Step};
    use celltriage_protocol::units::{MicroCoulombs, MicroVolts, MilliCelsius};

    #[test]
    fn a_run_is_stopped_in_time_for_its_end_and_never_before_its_plan_is_over() {
        let minute = Step {
            action: Action::Rest,
            duration: Micros::from_secs(60),
            sample_period_us: 1_000,
            report_every: 1,
            bounds: Bounds {
                lowest_voltage: MicroVolts::new(i32::MIN),
                highest_temperature: MilliCelsius::new(60_000),
                highest_rise: MilliCelsius::new(10_000),
                most_charge: MicroCoulombs::MAX,
            },
        };
        let plan = Plan { steps: [minute, minute].into_iter().collect(), ..Plan::default() };
        let mut clock = Clock::at(Micros::from_secs(1_000));
        let deadline = Deadline::of(&plan, &clock);
        for (at, stops, over) in
            [(1_122, false, false), (1_141, false, false), (1_143, true, false), (1_153, true, true)]
        {
            clock.hear(Micros::from_secs(at));
            assert_eq!(deadline.ending(&clock).is_some(), stops, "{at}");
            assert_eq!(deadline.is_over(&clock), over, "{at}");
        }
    }

    #[test]
    fn where_the_fixtures_clock_stands_still_waiting_counts() {
        let mut clock = Clock::at(Micros::ZERO);
        let deadline = Deadline::of(&Plan::default(), &clock);
        clock.wait(Duration::from_secs(33));
        assert!(deadline.is_over(&clock));
    }
}
