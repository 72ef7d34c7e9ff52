//! Which events are missing, and when to ask for them (again).
//!
//! Events are numbered by the fixture without gaps. What comes out of order is dropped, since all from the first missing
//! one on comes once more. The request for it, its answer and the events themselves can be lost too, so it is repeated
//! until the missing event comes: [`AGAIN`] after the last request or the last progress. What the fixture no longer keeps,
//! and what was asked for [`MOST_TRIES`] times in vain, stays a gap.

use super::clock::{Clock, Moment};
use std::time::Duration;

/// Without the missing event for this long, it is asked for once more. The fixture keeps two seconds of samples at 1 kHz:
/// time for three tries; on a line of 115,200 bit/s what is on its way before the answer takes 0.4 s at most (4 kB of the
/// system's buffer). Our choice between the two.
pub(super) const AGAIN: Duration = Duration::from_millis(500);
/// So often one event is asked for. Where each frame is lost one time in ten, both ways, one in ten million takes longer
/// (0.19 to the tenth); our choice.
const MOST_TRIES: u32 = 10;
/// So often it is asked for again as soon as what comes once more begins without it; then only after [`AGAIN`], or an
/// event that is lost each time would be asked for without end. Our choice.
const QUICK_TRIES: u32 = 3;

/// The order of events.
#[derive(Clone, Debug)]
pub(super) struct Missing {
    /// The first event that has not come; `None` until the fixture has told where it is.
    expected: Option<u32>,
    /// The number after the last event that the fixture is known to have.
    until: u32,
    /// The last request for what is missing, or the last progress after one.
    asked: Option<Moment>,
    /// Whether what was asked for has begun to come: an event out of order is then another loss.
    flowing: bool,
    tries: u32,
    skipped: u32,
    given_up: Option<u32>,
}

/// What an event is that has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Arrival {
    /// The next one.
    Next,
    /// One that is to be dropped.
    Dropped,
    /// The same, and the first missing one, with this number, is to be asked for now.
    Ask(u32),
}

impl Missing {
    /// Takes no event before [`Self::begin`].
    pub const fn unknown() -> Self {
        Self { expected: None, until: 0, asked: None, flowing: false, tries: 0, skipped: 0, given_up: None }
    }

    /// Begins with the event that the fixture will tell next.
    pub const fn begin(next: u32) -> Self {
        Self { expected: Some(next), until: next, ..Self::unknown() }
    }

    /// Returns the number of the first event that has not come.
    pub fn expected(&self) -> u32 {
        self.expected.unwrap_or_default()
    }

    /// Returns whether a gap was left.
    pub const fn has_skipped(&self) -> bool {
        self.skipped > 0
    }

    /// Takes the number of an event that has come.
    pub fn arrived(&mut self, number: u32, clock: &Clock) -> Arrival {
        let Some(expected) = self.expected else { return Arrival::Dropped };
        match number.wrapping_sub(expected) {
            0 => {
                self.go_to(expected.wrapping_add(1), clock);
                Arrival::Next
            }
            ahead if is_ahead(ahead) => {
                self.know(number.wrapping_add(1));
                if self.asked.is_none() || self.flowing {
                    self.ask(expected, clock)
                } else {
                    Arrival::Dropped
                }
            }
            _ => Arrival::Dropped,
        }
    }

    /// Hears that the fixture has told all events before this one.
    pub fn know(&mut self, next: u32) {
        if is_ahead(next.wrapping_sub(self.until)) {
            self.until = next;
        }
    }

    /// Hears that the events follow once more, up to this one.
    pub fn resending(&mut self, through: u32) {
        self.know(through.wrapping_add(1));
        self.flowing |= self.tries < QUICK_TRIES;
    }

    /// Hears the number of the oldest event still kept: goes on from there. Never back: a late answer would bring events
    /// a second time. Returns what to ask for now.
    pub fn gone(&mut self, oldest: u32, clock: &Clock) -> Option<u32> {
        let distance = oldest.wrapping_sub(self.expected?);
        if !is_ahead(distance) {
            return None;
        }
        self.skipped = self.skipped.saturating_add(distance);
        self.go_to(oldest, clock);
        self.tries = 1;
        self.flowing = false;
        self.asked = Some(clock.now());
        Some(oldest)
    }

    /// Lets what is missing be asked for at once: nothing of what was asked before can come.
    pub const fn ask_at_once(&mut self) {
        self.asked = None;
    }

    /// Returns the event to ask for now, if one is missing and it is time.
    pub fn due(&mut self, clock: &Clock) -> Option<u32> {
        let expected = self.expected?;
        if expected == self.until || self.asked.is_some_and(|asked| clock.since(asked) < AGAIN) {
            return None;
        }
        if self.tries >= MOST_TRIES {
            self.given_up = Some(expected);
            self.skipped = self.skipped.saturating_add(1);
            self.go_to(expected.wrapping_add(1), clock);
        }
        let first = self.expected();
        if first == self.until {
            return None;
        }
        self.ask(first, clock);
        Some(first)
    }

    /// Returns the number of an event that was given up since the last call.
    pub const fn take_given_up(&mut self) -> Option<u32> {
        self.given_up.take()
    }

    fn go_to(&mut self, next: u32, clock: &Clock) {
        self.expected = Some(next);
        self.know(next);
        self.tries = 0;
        self.flowing = true;
        self.asked = if next == self.until { None } else { self.asked.map(|_| clock.now()) };
    }

    fn ask(&mut self, expected: u32, clock: &Clock) -> Arrival {
        self.asked = Some(clock.now());
        self.flowing = false;
        self.tries = self.tries.saturating_add(1);
        Arrival::Ask(expected)
    }
}

/// Numbers wrap: the nearer half lies ahead.
pub(super) const fn is_ahead(distance: u32) -> bool {
    distance > 0 && distance < u32::MAX / 2
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_protocol::units::Micros;

    fn after(clock: &mut Clock, span: Duration) -> &Clock {
        clock.wait(span);
        clock
    }

    #[test]
    fn a_gap_is_asked_for_at_once_and_again_only_after_a_while_without_progress() {
        let mut clock = Clock::at(Micros::ZERO);
        let mut missing = Missing::begin(5);
        assert_eq!(missing.arrived(6, &clock), Arrival::Ask(5));
        assert_eq!(missing.arrived(7, &clock), Arrival::Dropped);
        assert_eq!(missing.due(&clock), None);
        assert_eq!(missing.due(after(&mut clock, AGAIN)), Some(5));
        assert_eq!(missing.due(&clock), None);
        assert_eq!(missing.arrived(5, &clock), Arrival::Next);
        assert_eq!(missing.due(&clock), None, "progress has been made");
        assert_eq!(missing.due(after(&mut clock, AGAIN)), Some(6), "the rest of it is lost");
        assert_eq!(missing.arrived(6, &clock), Arrival::Next);
        assert_eq!(missing.arrived(7, &clock), Arrival::Next);
        assert_eq!(missing.due(after(&mut clock, AGAIN * 9)), None, "nothing is missing");
    }

    #[test]
    fn another_loss_within_what_is_told_once_more_is_asked_for_at_once() {
        let clock = Clock::at(Micros::ZERO);
        let mut missing = Missing::begin(0);
        assert_eq!(missing.arrived(1, &clock), Arrival::Ask(0));
        missing.resending(9);
        assert_eq!(missing.arrived(0, &clock), Arrival::Next);
        assert_eq!(missing.arrived(2, &clock), Arrival::Ask(1));
        assert_eq!(missing.arrived(0, &clock), Arrival::Dropped, "what has come once is not taken twice");
    }

    #[test]
    fn a_loss_that_nothing_follows_shows_by_the_count_and_is_asked_for() {
        let clock = Clock::at(Micros::ZERO);
        let mut missing = Missing::begin(u32::MAX);
        missing.know(1);
        assert_eq!(missing.due(&clock), Some(u32::MAX));
        assert_eq!(missing.arrived(u32::MAX, &clock), Arrival::Next);
        assert_eq!(missing.arrived(0, &clock), Arrival::Next);
        assert_eq!((missing.expected(), missing.due(&clock)), (1, None));
    }

    #[test]
    fn what_is_no_longer_kept_is_skipped_and_never_gone_back_for() {
        let clock = Clock::at(Micros::ZERO);
        let mut missing = Missing::begin(5);
        assert_eq!(missing.arrived(30, &clock), Arrival::Ask(5));
        assert_eq!(missing.gone(20, &clock), Some(20));
        assert_eq!(missing.gone(20, &clock), None);
        assert_eq!(missing.gone(3, &clock), None);
        assert_eq!(missing.arrived(20, &clock), Arrival::Next);
        assert!(missing.has_skipped());
    }

    #[test]
    fn an_event_that_is_lost_each_time_is_not_asked_for_without_a_pause() {
        let mut clock = Clock::at(Micros::ZERO);
        let mut missing = Missing::begin(5);
        let mut asked = 0;
        for _ in 0..100 {
            asked += u32::from(missing.arrived(6, &clock) == Arrival::Ask(5));
            missing.resending(6);
        }
        assert_eq!(asked, QUICK_TRIES);
        assert_eq!(missing.due(after(&mut clock, AGAIN)), Some(5));
    }

    #[test]
    fn an_event_that_never_comes_is_given_up_and_the_next_one_asked_for() {
        let mut clock = Clock::at(Micros::ZERO);
        let mut missing = Missing::begin(5);
        missing.know(7);
        let asked: Vec<u32> = (0..25).filter_map(|_| missing.due(after(&mut clock, AGAIN))).collect();
        let tries = MOST_TRIES as usize;
        assert_eq!(asked, [vec![5; tries], vec![6; tries]].concat());
        assert_eq!((missing.expected(), missing.take_given_up()), (7, Some(6)));
    }
}
