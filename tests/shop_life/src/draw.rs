//! A story from a seed: days of work, with slips.
//!
//! Most steps follow a routine (`routines.rs`), so that stories get far; the others come at any time about anything.

use crate::cells::{CELLS, Kind};
use crate::mishap::Mishap;
use crate::step::{BoxFor, Eyes, Judging, Seen, Step, Tag};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Days of a week of work.
const DAYS: u32 = 7;
/// Boxes that a story may use.
const BOXES: u8 = 6;

/// Draws a week.
pub fn story(seed: u64) -> Vec<Step> {
    let mut drawn = Drawn { rng: ChaCha8Rng::seed_from_u64(seed), steps: Vec::new() };
    drawn.steps.push(Step::Opened(0, BoxFor::Intact));
    drawn.steps.push(Step::Opened(1, BoxFor::Damaged));
    drawn.steps.push(Step::Opened(2, BoxFor::Watch));
    for cell in 0..CELLS {
        let kind = Kind::DRAWN[drawn.below(Kind::DRAWN.len())];
        drawn.steps.push(Step::Arrives(cell, kind));
    }
    for _ in 0..DAYS {
        for _ in 0..drawn.rng.random_range(1..=2) {
            drawn.routine();
        }
        for _ in 0..drawn.rng.random_range(2..=6) {
            drawn.anything();
        }
        let hours = [8, 12, 16, 24, 24, 24 * 8, 24 * 29, 24 * 365][drawn.below(8)];
        drawn.steps.push(Step::Passes(hours));
    }
    if drawn.one_in(2) {
        drawn.steps.extend([Step::DiskFreed, Step::Merged]);
        let cell = drawn.cell();
        drawn.steps.push(Step::Settled(cell));
    }
    drawn.steps.extend([Step::DiskFreed, Step::Merged, Step::Checked]);
    drawn.steps
}

pub(crate) struct Drawn {
    pub(crate) rng: ChaCha8Rng,
    pub(crate) steps: Vec<Step>,
}

impl Drawn {
    pub(crate) fn below(&mut self, end: usize) -> usize {
        self.rng.random_range(0..end)
    }

    pub(crate) fn cell(&mut self) -> u8 {
        self.rng.random_range(0..CELLS)
    }

    pub(crate) fn a_box(&mut self) -> u8 {
        self.rng.random_range(0..BOXES)
    }

    pub(crate) fn one_in(&mut self, times: u32) -> bool {
        self.rng.random_range(0..times) == 0
    }

    pub(crate) fn tested(&mut self, cell: u8) -> Step {
        let tag = match self.below(12) {
            0 => Tag::Of(self.cell()),
            1 => Tag::Small,
            _ => Tag::Own,
        };
        let eyes = match self.below(12) {
            0 | 1 => Eyes::Blind,
            2 => Eyes::Hurried,
            3 => Eyes::Wrong,
            4 => Eyes::Alarmed,
            _ => Eyes::Careful,
        };
        let full = self.one_in(24);
        let mishap = self.one_in(4).then(|| self.mishap(full));
        Step::Tested { cell, tag, eyes, full, mishap }
    }

    pub(crate) fn mishap(&mut self, full: bool) -> Mishap {
        let reception = self.rng.random_range(1..if full { 4_000 } else { 400 });
        let seconds = self.rng.random_range(1..if full { 18_000 } else { 150 });
        match self.below(9) {
            0 | 1 => Mishap::Killed(reception),
            2 => Mishap::Restarts(reception),
            3 => Mishap::Unplugged(reception, [20, 900, 2_500, 3_500, 9_000][self.below(5)]),
            4 => Mishap::Noisy(self.rng.random_range(60..3_000)),
            5 => Mishap::ForceLeadOff(seconds),
            6 => Mishap::SenseLeadLoose(seconds),
            7 => Mishap::VoltageStuck(seconds),
            _ => Mishap::NoAnswer(seconds),
        }
    }

    pub(crate) fn judging(&mut self) -> Judging {
        match self.below(8) {
            0 => Judging::NotWaste,
            1 | 2 => Judging::Intact,
            3 => Judging::Damaged,
            4 => Judging::Critical,
            _ => Judging::AsProposed,
        }
    }

    pub(crate) fn seen(&mut self) -> Seen {
        match self.below(8) {
            0 => Seen::Warm,
            1 => Seen::Unmeasured,
            2 => Seen::Worse,
            3 => Seen::Reacting,
            _ => Seen::Cool,
        }
    }
}
