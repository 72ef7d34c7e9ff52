//! A line that does everything a line does wrong: it loses, garbles, cuts and repeats frames, another host talks on it, and
//! at some time it may be cut for good.

use crate::{SharedBench, Stranger};
use celltriage_link::{Link, LinkError, Reopened};
use celltriage_protocol::units::Micros;
use rand::seq::IndexedRandom;
use rand::{Rng, RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

/// What goes wrong, each in so many of 1,000 frames, both ways.
#[derive(Clone, Copy, Debug, Default)]
pub struct Line {
    /// Frames that are lost whole.
    pub lost: u32,
    /// Frames of which a bit is flipped, a piece is cut off, or which have garbage in front.
    pub garbled: u32,
    /// Frames after which an earlier one comes once more.
    pub repeated: u32,
    /// Frames after which another host says something.
    pub strangers: u32,
    /// When the line is cut for good.
    pub cut_at: Option<Micros>,
}

/// The line. A run that goes on for much longer than its plan is a hang, and a test that fails.
pub struct BadLine {
    bench: SharedBench,
    line: Line,
    random: ChaCha8Rng,
    stranger: Stranger,
    /// What the host has said and the fixture has heard, for whoever repeats it.
    said: Rc<RefCell<Vec<Vec<u8>>>>,
    told: Vec<Vec<u8>>,
    to_host: Vec<u8>,
    hang: Micros,
}

/// No run of these tests takes so long.
const HANG: Micros = Micros::from_secs(120);
/// What is repeated is one of so many frames.
const REMEMBERED: usize = 200;

impl BadLine {
    /// To a bench; the same seed does the same things wrong.
    pub fn to(bench: &SharedBench, line: Line, seed: u64) -> Self {
        let hang = bench.0.borrow().now().saturating_add(HANG);
        Self {
            bench: bench.clone(),
            line,
            random: ChaCha8Rng::seed_from_u64(seed),
            stranger: Stranger::new(seed),
            said: Rc::default(),
            told: Vec::new(),
            to_host: Vec::new(),
            hang,
        }
    }

    /// Returns what the host has said, for a test that repeats it afterwards.
    pub fn said(&self) -> Rc<RefCell<Vec<Vec<u8>>>> {
        Rc::clone(&self.said)
    }

    fn happens(&mut self, per_thousand: u32) -> bool {
        per_thousand > 0 && self.random.random_range(0..1_000) < per_thousand
    }

    /// Returns what arrives of a frame.
    fn carried(&mut self, frame: &[u8]) -> Vec<u8> {
        if self.happens(self.line.lost) {
            return Vec::new();
        }
        let mut frame = frame.to_vec();
        if self.happens(self.line.garbled) {
            let at = self.random.random_range(0..frame.len());
            match self.random.random_range(0..3) {
                0 => frame[at] ^= 1 << self.random.random_range(0..8),
                1 => frame.truncate(at),
                _ => {
                    let mut garbage = vec![0; self.random.random_range(1..40)];
                    self.random.fill_bytes(&mut garbage);
                    frame.splice(0..0, garbage);
                }
            }
        }
        frame
    }

    fn is_cut(&self) -> Result<(), LinkError> {
        let now = self.bench.0.borrow().now();
        assert!(now < self.hang, "the host hangs");
        match self.line.cut_at {
            Some(at) if now >= at => Err(LinkError::Gone { link: self.describe(), reason: "cut".to_owned() }),
            _ => Ok(()),
        }
    }
}

impl Link for BadLine {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.is_cut()?;
        self.stranger.overhears(bytes);
        let carried = self.carried(bytes);
        self.bench.send(&carried)?;
        if self.happens(self.line.repeated) {
            let again = self.said.borrow().choose(&mut self.random).cloned().unwrap_or_default();
            self.bench.send(&again)?;
        }
        let mut said = self.said.borrow_mut();
        if said.len() == REMEMBERED {
            said.remove(0);
        }
        // What never arrived is not repeated but late, and counts when it comes.
        if carried == bytes {
            said.push(bytes.to_vec());
        }
        Ok(())
    }

    /// A host that waits for bytes waits on while nothing but lost ones come.
    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let span = Micros::new(u64::try_from(wait.as_micros()).unwrap_or(u64::MAX));
        let until = self.bench.0.borrow().now().saturating_add(span);
        let before = into.len();
        loop {
            self.is_cut()?;
            let mut waiting = std::mem::take(&mut self.to_host);
            let left = until.saturating_sub(self.bench.0.borrow().now());
            self.bench.receive(&mut waiting, Duration::from_micros(left.get()))?;
            while let Some(end) = waiting.iter().position(|byte| *byte == 0) {
                let frame: Vec<u8> = waiting.drain(..=end).collect();
                into.extend(self.carried(&frame));
                if self.happens(self.line.repeated)
                    && let Some(again) = self.told.choose(&mut self.random)
                {
                    into.extend(again);
                }
                if self.happens(self.line.strangers) {
                    let words = self.stranger.says();
                    self.bench.send(&words)?;
                }
                if self.told.len() == REMEMBERED {
                    self.told.remove(0);
                }
                self.told.push(frame);
            }
            self.to_host = waiting;
            if into.len() > before || self.bench.0.borrow().now() >= until {
                return Ok(into.len() - before);
            }
        }
    }

    fn draw(&mut self) -> u64 {
        self.random.next_u64()
    }

    fn describe(&self) -> String {
        "bad line".to_owned()
    }

    fn reopen(&mut self, _: u64) -> Result<Reopened, LinkError> {
        Ok(Reopened::Never)
    }
}
