//! The tunnel to the bench, and the fixture's clock, which goes with it.
//!
//! Takes questions, gives answers; the framing is told in [`crate::words`]. The clock is the machine's own timer
//! between an answer and the next question, and what the bench says where the fixture waits.

use crate::kept;
use crate::registers::{TICK_NS, timer};
use crate::semihosting::Stream;
use crate::words::{ANSWER, LONGEST, QUESTION, flag, kind};
use celltriage_protocol::units::Micros;
use core::cell::Cell;

/// What an answer says.
#[derive(Clone, Copy, Debug)]
pub struct Answer(u8);

impl Answer {
    /// Returns whether a flag is set.
    pub const fn says(self, flag: u8) -> bool {
        self.0 & flag != 0
    }
}

/// The tunnel.
#[derive(Debug)]
pub struct Tunnel {
    questions: Stream,
    answers: Stream,
    /// Clock when the timer stood at `mark`.
    clock_ns: Cell<u64>,
    mark: Cell<u32>,
    /// What the polarity comparator said last; until it has said something the cell counts as reversed.
    reversed: Cell<bool>,
}

impl Tunnel {
    /// Opens the tunnel and says that the program has started.
    pub fn open() -> Self {
        let tunnel = Self {
            questions: Stream::output(),
            answers: Stream::input(),
            clock_ns: Cell::new(0),
            mark: Cell::new(timer()),
            reversed: Cell::new(true),
        };
        tunnel.ask(kind::AWAKE, &[], &mut []);
        tunnel
    }

    /// Returns the stream of questions, for those that are not answered.
    pub const fn questions(&self) -> Stream {
        self.questions
    }

    /// Returns the time since the program started, in nanoseconds.
    pub fn now_ns(&self) -> u64 {
        self.clock_ns.get() + u64::from(self.mark.get().wrapping_sub(timer())) * TICK_NS
    }

    /// Returns the time since the program started.
    pub fn now(&self) -> Micros {
        Micros::new(self.now_ns() / 1_000)
    }

    /// Returns what the polarity comparator said last.
    pub fn cell_is_reversed(&self) -> bool {
        self.reversed.get()
    }

    /// Lets the timer run without its counting as time of the fixture.
    pub fn without_time(&self, act: impl FnOnce()) {
        let now_ns = self.now_ns();
        act();
        self.set_clock(now_ns);
    }

    /// Asks; fills `rest` with the rest of the answer. Where the bench is gone, everything is refused and the cell
    /// counts as reversed.
    pub fn ask(&self, kind: u8, parts: &[&[u8]], rest: &mut [u8]) -> Answer {
        let now_ns = self.now_ns();
        let mut answer = [0; ANSWER + LONGEST];
        let answer = answer.get_mut(..ANSWER + rest.len()).unwrap_or_default();
        let asked = send(self.questions, kind, now_ns, parts) && self.answers.read(answer);
        let Some((&mut [flags, ref clock @ ..], bytes)) =
            answer.split_first_chunk_mut::<ANSWER>().filter(|_| asked)
        else {
            self.reversed.set(true);
            return Answer(flag::REFUSED);
        };
        if flags & flag::POWER_FAILED != 0 {
            kept::power_failed();
            cortex_m::peripheral::SCB::sys_reset();
        }
        self.reversed.set(flags & flag::REVERSED != 0);
        rest.copy_from_slice(bytes);
        self.set_clock(u64::from_le_bytes(*clock).max(now_ns));
        Answer(flags)
    }

    fn set_clock(&self, now_ns: u64) {
        self.mark.set(timer());
        self.clock_ns.set(now_ns);
    }
}

/// Sends a question in one piece; returns whether it fitted and the bench took it.
pub fn send(stream: Stream, kind: u8, now_ns: u64, parts: &[&[u8]]) -> bool {
    let length: usize = parts.iter().map(|part| part.len()).sum();
    if length > LONGEST {
        return false;
    }
    let mut question = [0; QUESTION + LONGEST];
    let length_bytes = (length as u16).to_le_bytes();
    let clock_bytes = now_ns.to_le_bytes();
    let head: [&[u8]; 3] = [&[kind], &clock_bytes, &length_bytes];
    let mut place = question.iter_mut();
    for byte in head.iter().chain(parts).copied().flatten() {
        if let Some(place) = place.next() {
            *place = *byte;
        }
    }
    question.get(..QUESTION + length).is_some_and(|question| stream.write(question))
}
