//! A story from a seed: days of work, with slips.
//!
//! Most steps follow a routine (a cell is tested, judged, boxed; a full box gets papers and leaves), so that stories get far; the
//! others come at any time about anything.

use crate::cells::{CELLS, Kind};
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
        let cell = drawn.cell();
        drawn.steps.push(Step::Settled(cell));
    }
    drawn.steps.push(Step::Checked);
    drawn.steps
}

struct Drawn {
    rng: ChaCha8Rng,
    steps: Vec<Step>,
}

impl Drawn {
    fn below(&mut self, end: usize) -> usize {
        self.rng.random_range(0..end)
    }

    fn cell(&mut self) -> u8 {
        self.rng.random_range(0..CELLS)
    }

    fn a_box(&mut self) -> u8 {
        self.rng.random_range(0..BOXES)
    }

    fn one_in(&mut self, times: u32) -> bool {
        self.rng.random_range(0..times) == 0
    }

    fn tested(&mut self, cell: u8) -> Step {
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
        let full = self.one_in(6);
        let dies_after = self.one_in(8).then(|| self.rng.random_range(1..400));
        Step::Tested { cell, tag, eyes, full, dies_after }
    }

    fn judging(&mut self) -> Judging {
        match self.below(8) {
            0 => Judging::NotWaste,
            1 | 2 => Judging::Intact,
            3 => Judging::Damaged,
            4 => Judging::Critical,
            _ => Judging::AsProposed,
        }
    }

    fn seen(&mut self) -> Seen {
        match self.below(8) {
            0 => Seen::Warm,
            1 => Seen::Unmeasured,
            2 => Seen::Worse,
            3 => Seen::Reacting,
            _ => Seen::Cool,
        }
    }

    /// What a day is made of.
    fn routine(&mut self) {
        let cell = self.cell();
        let tested = self.tested(cell);
        match self.below(7) {
            0 => {
                // A cell goes its whole way.
                let one = [0, 1][self.below(2)];
                self.steps.extend([tested, Step::Judged(cell, Judging::AsProposed), Step::Boxed(cell, one)]);
                if self.one_in(2) {
                    self.steps.extend([Step::Drafted(one), Step::Agreed(one), Step::Leaves(one)]);
                    self.steps
                        .push(Step::Opened(one + 3, [BoxFor::Intact, BoxFor::Damaged][usize::from(one)]));
                }
            }
            1 => {
                // A cell is watched for four weeks.
                self.steps.extend([tested, Step::Watched(cell, 28), Step::Boxed(cell, 2)]);
                for _ in 0..4 {
                    let seen = if self.one_in(6) { self.seen() } else { Seen::Cool };
                    self.steps.extend([Step::Passes(24 * 7), Step::Seen(cell, seen)]);
                }
                self.steps.extend([Step::Passes(25), Step::Seen(cell, Seen::Cool), Step::Released(cell)]);
                let how = self.judging();
                self.steps.push(Step::Judged(cell, how));
            }
            2 => {
                // A spare that is to serve again.
                let full =
                    Step::Tested { cell, tag: Tag::Own, eyes: Eyes::Careful, full: true, dies_after: None };
                self.steps.extend([full, Step::Judged(cell, Judging::NotWaste), Step::Recorded(cell)]);
            }
            3 => {
                // Something is found to be wrong, and is tried again.
                let other = self.tested(cell);
                let back = self.rng.random_range(0..3);
                self.steps.extend([tested, Step::Struck(cell, back), other]);
            }
            4 => {
                // A cell that warms: it is felt again after a while, or too soon, cool or not, and let go.
                let warming = self.steps.iter().find_map(|step| match step {
                    Step::Arrives(cell, Kind::Warming) => Some(*cell),
                    _ => None,
                });
                let cell = warming.unwrap_or(cell);
                let (eyes, full, dies_after) = (Eyes::Careful, false, None);
                let tested = Step::Tested { cell, tag: Tag::Own, eyes, full, dies_after };
                let (first, second, hours) = (self.one_in(3), self.one_in(3), self.rng.random_range(0..3));
                self.steps.extend([tested, Step::Thermometer(cell, first), Step::Passes(hours)]);
                self.steps.extend([Step::Thermometer(cell, second), Step::Ended(cell, 2)]);
                let again = self.tested(cell);
                self.steps.push(again);
            }
            5 => {
                // A spare is tried in a device, where something may happen to it, and is screened again.
                self.steps.extend([tested, Step::Fitted(cell)]);
                if self.one_in(2) {
                    self.steps.push(Step::Shaken(cell, true));
                }
                self.steps.extend([Step::Unfitted(cell), Step::Judged(cell, Judging::NotWaste)]);
                let again = self.tested(cell);
                self.steps.extend([again, Step::Judged(cell, Judging::NotWaste)]);
            }
            _ => self.steps.push(tested),
        }
    }

    /// Anything about anything.
    fn anything(&mut self) {
        let (cell, one) = (self.cell(), self.a_box());
        let step = match self.below(30) {
            0..=2 => self.tested(cell),
            3 | 4 => Step::Judged(cell, self.judging()),
            5 => Step::Opened(one, [BoxFor::Intact, BoxFor::Damaged, BoxFor::Watch][self.below(3)]),
            6..=8 => Step::Boxed(cell, one),
            9 => Step::TakenOut(cell),
            10 => Step::Watched(cell, self.rng.random_range(1..40)),
            11 | 12 => Step::Seen(cell, self.seen()),
            13 => Step::Released(cell),
            14 => Step::Reacts(cell),
            15 => Step::Drafted(one),
            16 => Step::Agreed(one),
            17 => Step::Leaves(one),
            18 => Step::Withdrawn(one),
            19 => Step::Recorded(cell),
            20 => Step::Struck(cell, self.rng.random_range(0..4)),
            21 => Step::ClockWrong([0, 0, 1, -1, -400, 300, 3_650][self.below(7)]),
            22 => Step::Restarted,
            23 => Step::Thermometer(cell, self.one_in(3)),
            24 => Step::Ended(cell, self.rng.random_range(0..4)),
            25 => Step::Fitted(cell),
            26 => Step::Unfitted(cell),
            27 => Step::Shaken(cell, self.one_in(2)),
            _ => Step::Passes([1, 3, 24, 24 * 30][self.below(4)]),
        };
        self.steps.push(step);
    }
}
