//! The roll call of the program's parts: the watchdog is fed only once each of them has said that it is alive.
//!
//! Takes a word of each part, from whichever thread or interrupt it runs in; says when all have spoken since the last time.
//! A part that hangs starves the watchdog, however busy the others are; so does one that is never begun.

use core::sync::atomic::{AtomicU8, Ordering};

/// A part of the program that must be alive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Part {
    /// The guard has judged: said by the fixture, in each pass in which it really has.
    Guard = 1,
    /// Requests were heard and answers offered: said by the fixture.
    Link = 1 << 1,
    /// The port to the host is served: said by the board.
    Port = 1 << 2,
    /// The main program goes round: said by the board.
    Main = 1 << 3,
}

impl Part {
    /// All parts.
    pub const ALL: [Self; 4] = [Self::Guard, Self::Link, Self::Port, Self::Main];
}

const EVERYBODY: u8 = Part::Guard as u8 | Part::Link as u8 | Part::Port as u8 | Part::Main as u8;

/// Who has spoken since the watchdog was fed last.
#[derive(Debug, Default)]
pub struct RollCall(AtomicU8);

impl Clone for RollCall {
    fn clone(&self) -> Self {
        Self(AtomicU8::new(self.0.load(Ordering::Relaxed)))
    }
}

impl RollCall {
    /// Returns a roll call in which nobody has spoken.
    pub const fn new() -> Self {
        Self(AtomicU8::new(0))
    }

    /// Says that a part is alive; returns whether the watchdog may be fed now. Then all have to speak again.
    pub fn check_in(&self, part: Part) -> bool {
        let before = self.0.fetch_or(part as u8, Ordering::Relaxed);
        // Only one of two that complete it at the same time feeds, which is enough.
        before | part as u8 == EVERYBODY
            && self.0.compare_exchange(EVERYBODY, 0, Ordering::Relaxed, Ordering::Relaxed).is_ok()
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use std::vec::Vec;

    #[test]
    fn the_watchdog_is_fed_once_all_have_spoken_in_any_order() {
        for turn in 0..Part::ALL.len() {
            let call = RollCall::new();
            for round in 0..3 {
                let mut parts = Part::ALL;
                parts.rotate_left(turn);
                let fed: Vec<bool> = parts.iter().map(|part| call.check_in(*part)).collect();
                assert_eq!(fed, [false, false, false, true], "turn {turn}, round {round}");
            }
        }
    }

    #[test]
    fn one_part_that_is_silent_starves_it_however_often_the_others_speak() {
        for silent in Part::ALL {
            let call = RollCall::new();
            for _ in 0..1_000 {
                for part in Part::ALL.into_iter().filter(|part| *part != silent) {
                    assert!(!call.check_in(part), "{silent:?} has said nothing");
                }
            }
            assert!(call.check_in(silent), "then it is fed at once");
            assert!(!call.check_in(silent), "and all have to speak again");
        }
    }

    #[test]
    fn parts_that_speak_from_several_threads_feed_no_more_often_than_each_has_spoken() {
        const ROUNDS: usize = 10_000;
        let call = &RollCall::new();
        let speak = |part: Part| move || (0..ROUNDS).filter(|_| call.check_in(part)).count();
        let fed: usize = std::thread::scope(|scope| {
            let threads = Part::ALL.map(|part| scope.spawn(speak(part)));
            threads.map(|thread| thread.join().unwrap()).iter().sum()
        });
        assert!((1..=ROUNDS).contains(&fed), "{fed}");
    }
}
