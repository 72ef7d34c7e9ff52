//! How fast the fixture's time may pass.
//!
//! The bench skips the time in which the fixture waits, so hours pass in seconds. The host, however, thinks in real
//! time, and on a busy computer it may be held up. So the fixture's time may run ahead by at most two seconds since it
//! last took a whole frame from the host, and from there on passes many times slower than real time: a host that talks
//! gets hours in seconds, a host that is held up for half a minute is not taken for silent, one that is silent is found
//! to be. Nothing else is bent.

use celltriage_protocol::limits;
use std::time::{Duration, Instant};

/// How far the fixture's time may run ahead, unless a test wants less.
const LEAD: Duration = Duration::from_secs(2);
const _: () = assert!(LEAD.as_micros() < limits::HOST_SILENCE.get() as u128);
/// How much slower than real time it passes beyond that, unless a test wants less.
const SLOWNESS: u32 = 30;

/// The pace.
#[derive(Debug)]
pub struct Pace {
    /// How far the fixture's time may run ahead.
    pub lead: Duration,
    /// How much slower than real time it passes beyond that.
    pub slowness: u32,
    /// The longest real time in which the fixture took no frame: a host that runs a plan speaks twice a second, so more is a line
    /// or a computer that stood still.
    pub longest_silence: Duration,
    heard: Instant,
    heard_ns: u64,
    words: u32,
}

impl Pace {
    /// Starts with a fixture that has just begun.
    pub fn new() -> Self {
        Self {
            lead: LEAD,
            slowness: SLOWNESS,
            longest_silence: Duration::ZERO,
            heard: Instant::now(),
            heard_ns: 0,
            words: 0,
        }
    }

    /// Starts again with the fixture's clock, which has started again.
    pub fn begin_anew(&mut self) {
        let Self { lead, slowness, longest_silence, .. } = *self;
        *self = Self { lead, slowness, longest_silence, ..Self::new() };
    }

    /// Returns how long the fixture may wait: until `until_ns`, or shorter where it would run too far ahead. All times
    /// are the fixture's own; `words` counts the frames it has taken from the host.
    pub fn grant(&mut self, now_ns: u64, until_ns: u64, words: u32) -> u64 {
        if words != self.words {
            // Before the first word nobody runs a plan.
            if self.words > 0 {
                self.longest_silence = self.longest_silence.max(self.heard.elapsed());
            }
            (self.heard, self.heard_ns, self.words) = (Instant::now(), now_ns, words);
        }
        let allowed = self.heard_ns + (self.lead + self.heard.elapsed() / self.slowness).as_nanos() as u64;
        until_ns.min(allowed).max(now_ns)
    }
}
