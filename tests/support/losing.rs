//! A link on which whole frames get lost, both ways, by a rule; a rule that loses nothing sees what passes.

use crate::SharedBench;
use celltriage_link::{Link, LinkError};
use celltriage_protocol::frame::{self, Message};
use celltriage_protocol::units::Micros;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::time::Duration;

/// A frame on its way.
#[derive(Debug)]
pub struct Passing {
    /// How many frames have passed or been lost before it.
    pub number: u32,
    /// When, on the bench's clock.
    pub at: Micros,
    /// Its own number: that of an event, or of a request and its reply.
    pub sequence: u32,
    /// What it says, without its address.
    pub message: Message,
}

/// The link. A run that goes on for much longer than any plan of these tests is a hang, and a test that fails.
pub struct LosingLink<F> {
    bench: SharedBench,
    is_lost: F,
    number: u32,
    to_fixture: Vec<u8>,
    to_host: Vec<u8>,
    hang: Micros,
}

/// No run of these tests takes so long.
const HANG: Micros = Micros::from_secs(300);

impl<F: FnMut(&Passing) -> bool> LosingLink<F> {
    /// Loses on the way to and from a bench what the rule says.
    pub fn on(bench: &SharedBench, is_lost: F) -> Self {
        let hang = bench.0.borrow().now().saturating_add(HANG);
        Self { bench: bench.clone(), is_lost, number: 0, to_fixture: Vec::new(), to_host: Vec::new(), hang }
    }

    /// Takes the whole frames off the front; returns those that are not lost.
    fn sifted(&mut self, mut waiting: Vec<u8>) -> (Vec<u8>, Vec<u8>) {
        let at = self.bench.0.borrow().now();
        assert!(at < self.hang, "the host hangs");
        let mut kept = Vec::new();
        while let Some(end) = waiting.iter().position(|byte| *byte == 0) {
            let rest = waiting.split_off(end + 1);
            let whole = std::mem::replace(&mut waiting, rest);
            let mut candidate = whole[..end].to_vec();
            let lost = frame::decode(&mut candidate).is_ok_and(|frame| {
                let (sequence, message) = (frame.sequence, frame.message.bare());
                let passing = Passing { number: self.number, at, sequence, message };
                self.number += 1;
                (self.is_lost)(&passing)
            });
            if !lost {
                kept.extend(whole);
            }
        }
        (kept, waiting)
    }
}

impl<F: FnMut(&Passing) -> bool> Link for LosingLink<F> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut waiting = std::mem::take(&mut self.to_fixture);
        waiting.extend(bytes);
        let (kept, rest) = self.sifted(waiting);
        self.to_fixture = rest;
        self.bench.send(&kept)
    }

    /// A host that waits for bytes waits on while nothing but lost ones come.
    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let span = Micros::new(u64::try_from(wait.as_micros()).unwrap_or(u64::MAX));
        let until = self.bench.0.borrow().now().saturating_add(span);
        loop {
            let left = until.saturating_sub(self.bench.0.borrow().now());
            let mut waiting = std::mem::take(&mut self.to_host);
            self.bench.receive(&mut waiting, Duration::from_micros(left.get()))?;
            let (kept, rest) = self.sifted(waiting);
            self.to_host = rest;
            if !kept.is_empty() || self.bench.0.borrow().now() >= until {
                into.extend(&kept);
                return Ok(kept.len());
            }
        }
    }

    fn draw(&mut self) -> u64 {
        self.bench.draw()
    }

    fn describe(&self) -> String {
        "losing link".to_owned()
    }
}

/// A rule that loses so many frames of a thousand, the same for the same seed.
pub fn at_random(per_thousand: u32, seed: u64) -> impl FnMut(&Passing) -> bool {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    move |_| random.random_range(0..1_000) < per_thousand
}
