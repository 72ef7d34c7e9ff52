//! What days are made of: routines that get far, and anything about anything.

use crate::cells::Kind;
use crate::draw::Drawn;
use crate::step::{BoxFor, Eyes, Heat, Judging, Meanwhile, Seen, Step, Tag};
use rand::Rng;

impl Drawn {
    /// What a day is made of.
    pub(crate) fn routine(&mut self) {
        let cell = self.cell();
        let tested = self.tested(cell);
        match self.below(11) {
            0 => {
                // A cell goes its whole way.
                let one = [0, 1][self.below(2)];
                let boxed = match self.below(6) {
                    0 => Step::AtOnce(cell, one, Meanwhile::Boxed(1 - one)),
                    1 => Step::AtOnce(cell, one, Meanwhile::Reacts),
                    _ => Step::Boxed(cell, one),
                };
                self.steps.extend([tested, Step::Judged(cell, Judging::AsProposed), boxed]);
                if self.one_in(4) {
                    // Somebody looks into the box, and finds it worse than it was.
                    self.steps.push(Step::Judged(cell, Judging::Damaged));
                }
                if self.one_in(2) {
                    self.steps.extend([Step::Drafted(one), Step::Agreed(one), Step::Leaves(one)]);
                    self.steps
                        .push(Step::Opened(one + 3, [BoxFor::Intact, BoxFor::Damaged][usize::from(one)]));
                }
            }
            1 => {
                // A cell is watched for four weeks.
                self.steps.extend([tested, Step::Watched(cell, 28), Step::Boxed(cell, 2)]);
                for _ in 0..3 {
                    let seen = if self.one_in(6) { self.seen() } else { Seen::Cool };
                    self.steps.extend([Step::Passes(24 * 7), Step::Seen(cell, seen)]);
                }
                // A longer time in which nothing is written counts for nothing.
                let felt = Step::Thermometer(cell, false);
                self.steps.extend([Step::Passes(24 * 7), felt, Step::Passes(25)]);
                if !self.one_in(4) {
                    self.steps.push(Step::Seen(cell, Seen::Cool));
                }
                self.steps.push(Step::Released(cell));
                let how = self.judging();
                self.steps.push(Step::Judged(cell, how));
            }
            2 => {
                // A spare that is to serve again.
                let full =
                    Step::Tested { cell, tag: Tag::Own, eyes: Eyes::Careful, full: true, mishap: None };
                self.steps.extend([full, Step::Judged(cell, Judging::NotWaste)]);
                if self.one_in(4) {
                    // It is not what it was, and nobody thinks of it.
                    self.steps.push(Step::HotWatched(cell, 1, Heat::HotAfter(20)));
                }
                self.steps.push(Step::Recorded(cell));
            }
            3 => {
                // Something is found to be wrong, and is tried again.
                let other = self.tested(cell);
                let back = self.rng.random_range(0..3);
                self.steps.push(tested);
                if self.one_in(3) {
                    self.steps.push(Step::Graded(cell));
                }
                self.steps.extend([Step::Struck(cell, back), other]);
            }
            4 => {
                // A cell that warms: it is felt again after a while, or too soon, cool or not, and let go.
                let warming = self.steps.iter().find_map(|step| match step {
                    Step::Arrives(cell, Kind::Warming) => Some(*cell),
                    _ => None,
                });
                let cell = warming.unwrap_or(cell);
                let (eyes, full, mishap) = (Eyes::Careful, false, None);
                let tested = Step::Tested { cell, tag: Tag::Own, eyes, full, mishap };
                let (first, second, hours) = (self.one_in(3), self.one_in(3), self.rng.random_range(0..3));
                self.steps.extend([tested, Step::Thermometer(cell, first), Step::Passes(hours)]);
                self.steps.extend([Step::Thermometer(cell, second), Step::Ended(cell, 2)]);
                if self.one_in(3) {
                    // It was a mistake, and is done again.
                    let back = self.rng.random_range(0..3);
                    self.steps.extend([Step::Struck(cell, back), Step::Ended(cell, 4), Step::Ended(cell, 5)]);
                }
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
            6 if self.one_in(2) => self.work_away(cell),
            6 => self.at_both_benches(cell),
            7 => self.watch_for_heat(cell),
            8 if self.one_in(2) => self.full_disk(cell),
            9 => {
                // The fixture drifts, and is mended after a while; or it is off so far that its check standard stops it.
                if self.one_in(4) {
                    let far = [-110, 120][self.below(2)];
                    let other = self.tested(cell);
                    self.steps.extend([Step::Standard, Step::Drifts(far, 0), Step::Standard, other]);
                    self.steps.extend([Step::Drifts(0, 0), Step::Standard]);
                    return self.steps.push(tested);
                }
                let thousandths = self.rng.random_range(-50..=50);
                let millivolts = self.rng.random_range(-20..=20);
                let full = self.one_in(4);
                let on_it = Step::Tested { cell, tag: Tag::Own, eyes: Eyes::Careful, full, mishap: None };
                self.steps.extend([Step::Drifts(thousandths, millivolts), on_it, tested]);
                if self.one_in(2) {
                    self.steps.push(Step::Drifts(0, 0));
                }
            }
            _ => self.steps.push(tested),
        }
    }

    /// Anything about anything.
    pub(crate) fn anything(&mut self) {
        let (cell, one) = (self.cell(), self.a_box());
        let step = match self.below(38) {
            37 => Step::AtOnce(cell, one, [Meanwhile::Boxed(self.a_box()), Meanwhile::Reacts][self.below(2)]),
            0..=2 => self.tested(cell),
            36 => Step::Graded(cell),
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
            28..=31 => Step::OtherBench,
            32 => Step::Away(self.one_in(2)),
            33 => [Step::Merged, Step::Drifts(0, 0), Step::DiskFreed][self.below(3)],
            _ => Step::Passes([1, 3, 24, 24 * 30][self.below(4)]),
        };
        self.steps.push(step);
    }
}
