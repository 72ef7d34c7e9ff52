//! Routines in which something goes on meanwhile: work at a bench away, a watch for heat, a disk that is full.

use crate::cells::Kind;
use crate::draw::Drawn;
use crate::step::{Eyes, Heat, Judging, Seen, Step, Tag};
use rand::Rng;

/// A careful screen of a cell under its own tag.
const fn screened(cell: u8) -> Step {
    Step::Tested { cell, tag: Tag::Own, eyes: Eyes::Careful, full: false, mishap: None }
}

impl Drawn {
    /// One cell at both benches, neither of which knows what the other finds; one of them lets it go by what it knows.
    pub(crate) fn at_both_benches(&mut self, cell: u8) {
        let cool = Step::Seen(cell, Seen::Cool);
        let (finds, lets_go, after) = match self.below(4) {
            0 => (
                vec![screened(cell), Step::Watched(cell, 28)],
                vec![screened(cell), Step::Watched(cell, 1), Step::Passes(49), cool, Step::Released(cell)],
                vec![cool, Step::Released(cell)],
            ),
            1 => (
                vec![screened(cell), Step::Reacts(cell)],
                vec![screened(cell), Step::Judged(cell, Judging::Intact)],
                vec![Step::Judged(cell, Judging::Damaged)],
            ),
            2 => {
                let warming = Step::Arrives(cell, Kind::Warming);
                let felt = Step::Thermometer(cell, false);
                (
                    vec![warming, screened(cell), Step::Thermometer(cell, self.one_in(2))],
                    vec![screened(cell), felt, Step::Passes(2), felt],
                    (1..6).map(|back| Step::Ended(cell, back)).collect(),
                )
            }
            _ => (
                vec![Step::Arrives(cell, Kind::Warming), Step::HotWatched(cell, 1, Heat::AsItIs)],
                vec![Step::Arrives(cell, Kind::Sound), Step::HotWatched(cell, 7, Heat::AsItIs)],
                (1..6).map(|back| Step::Ended(cell, back)).collect(),
            ),
        };
        let (shop, away) = if self.one_in(4) { (lets_go, finds) } else { (finds, lets_go) };
        if self.one_in(2) {
            self.steps.extend(shop);
            self.steps.push(Step::Away(true));
            self.steps.extend(away);
        } else {
            self.steps.push(Step::Away(true));
            self.steps.extend(away);
            self.steps.push(Step::Away(false));
            self.steps.extend(shop);
        }
        self.steps.push(Step::Merged);
        self.steps.extend(after);
    }

    /// Cells are worked on away, meanwhile also in the shop, and what was found there comes back.
    pub(crate) fn work_away(&mut self, cell: u8) {
        if self.one_in(2) {
            let before = self.tested(cell);
            self.steps.push(before);
        }
        self.steps.push(Step::Away(true));
        for _ in 0..self.rng.random_range(2..6) {
            let cell = if self.one_in(2) { cell } else { self.cell() };
            let there = self.at_a_cell(cell);
            self.steps.push(there);
            if self.one_in(4) {
                let cell = if self.one_in(2) { cell } else { self.cell() };
                let here = self.at_a_cell(cell);
                self.steps.extend([Step::Away(false), here, Step::Away(true)]);
            }
            if self.one_in(3) {
                let hours = [1, 24, 24 * 9][self.below(3)];
                self.steps.push(Step::Passes(hours));
            }
        }
        let back = if self.one_in(4) { Step::Away(false) } else { Step::Merged };
        self.steps.push(back);
        let after = self.at_a_cell(cell);
        self.steps.push(after);
    }

    /// What one does with a cell and nothing else.
    fn at_a_cell(&mut self, cell: u8) -> Step {
        match self.below(14) {
            0..=3 => self.tested(cell),
            4 => Step::Judged(cell, self.judging()),
            5 | 6 => Step::Watched(cell, self.rng.random_range(1..30)),
            7 => Step::Seen(cell, self.seen()),
            8 | 9 => Step::Released(cell),
            10 => Step::Struck(cell, self.rng.random_range(0..3)),
            11 => Step::Thermometer(cell, self.one_in(3)),
            12 => Step::Ended(cell, self.rng.random_range(0..3)),
            _ => Step::Reacts(cell),
        }
    }

    /// A cell is watched for heat, becomes hot or not, and is watched again until it may be let go, or not.
    pub(crate) fn watch_for_heat(&mut self, cell: u8) {
        let warming = self.steps.iter().find_map(|step| match step {
            Step::Arrives(cell, Kind::Warming) => Some(*cell),
            _ => None,
        });
        let cell = if self.one_in(3) { warming.unwrap_or(cell) } else { cell };
        let heat = match self.below(4) {
            0 => Heat::AsItIs,
            1 => Heat::WarmBefore,
            _ => Heat::HotAfter(self.rng.random_range(1..50)),
        };
        self.steps.push(Step::HotWatched(cell, 1, heat));
        if self.one_in(2) {
            let tested = self.tested(cell);
            self.steps.push(tested);
        }
        if heat != Heat::AsItIs && self.one_in(2) {
            self.steps.extend([Step::Watched(cell, 28), Step::Passes(24 * 29), Step::Seen(cell, Seen::Cool)]);
            self.steps.push(Step::Judged(cell, Judging::Damaged));
        }
        let hours = [1, 1, 5, 7][self.below(4)];
        self.steps.push(Step::HotWatched(cell, hours, Heat::AsItIs));
        self.steps.extend((1..10).map(|back| Step::Ended(cell, back)));
        let again = self.tested(cell);
        self.steps.push(again);
    }

    /// The disk becomes full while people go on.
    pub(crate) fn full_disk(&mut self, cell: u8) {
        let left = [0, 4, 8, 16, 40, 100][self.below(6)];
        self.steps.push(Step::DiskFull(left));
        for _ in 0..self.rng.random_range(1..6) {
            let cell = if self.one_in(2) { cell } else { self.cell() };
            let done = match self.below(6) {
                0 => Step::HotWatched(cell, 1, Heat::HotAfter(self.rng.random_range(1..50))),
                1 => Step::OtherBench,
                _ => self.at_a_cell(cell),
            };
            self.steps.push(done);
        }
        if !self.one_in(4) {
            self.steps.push(Step::DiskFreed);
        }
        let after = self.tested(cell);
        self.steps.push(after);
    }
}
