//! The years of a shop: which cells come, what becomes of each, and what the fixtures need meanwhile.
//!
//! Of twenty cells eleven stay in use, eight go to the recycler in boxes of 40 to 60, and one is damaged. With weighings,
//! watches, corrections, capacity runs, papers and weekly checks that is about one further entry a cell. Some two hundred
//! cells stand in the shop at the end, however many there were.

use crate::boxes::Boxes;
use crate::pen::{Pen, Written};
use crate::templates::Templates;
use crate::varied::{Of, decision};
use celltriage_book::{NewEntry, Subject, SubjectKind};
use celltriage_custody::event::{CellWeighed, Correction, Event, Hold, Inspection, Release};
use celltriage_custody::units::Milligrams;
use celltriage_measure::nameplate::Nameplate;
use celltriage_workshop::capacity_run::{self, Stage, Step};
use jiff::{SignedDuration, Timestamp, ToSpan};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::collections::VecDeque;

/// Models of cells, and fixtures.
const MODELS: u32 = 20;
const FIXTURES: u32 = 3;
/// Which decision of the demo's day each of twenty cells gets; the 20th changes from one to the next.
const KINDS: [usize; 19] = [0, 1, 7, 0, 2, 0, 1, 7, 0, 1, 2, 0, 7, 1, 0, 2, 7, 0, 1];
const OTHERS: [usize; 5] = [3, 4, 5, 6, 8];
/// One damaged cell of so many is watched, for four weeks.
const WATCHED_OF: u32 = 100;

/// The shop.
pub struct Years {
    templates: Templates,
    cells: u32,
    begun: u32,
    step: SignedDuration,
    first: Timestamp,
    pen: Pen,
    intact: Boxes,
    damaged: Boxes,
    watched: VecDeque<(Timestamp, String)>,
    checked: u32,
    numbers: ChaCha8Rng,
}

impl Years {
    /// A shop that sees so many cells until an hour before now: a thousand in three months, a million in five years.
    pub fn new(templates: Templates, cells: u32, now: Timestamp) -> Self {
        let days = 90.0 * (f64::from(cells) / 1000.0).powf(0.435);
        let last = now.saturating_sub(SignedDuration::from_hours(1)).expect("a time");
        let span = SignedDuration::from_secs_f64(days * 86_400.0);
        let step = span / i32::try_from(cells).expect("a number of cells");
        let first = last.saturating_sub(span).expect("a time");
        let intact = Boxes::new("IN", false, templates.intact.clone());
        let damaged = Boxes::new("DD", true, templates.damaged.clone());
        let mut years = Self {
            templates,
            cells,
            begun: 0,
            step,
            first,
            pen: Pen::new(first),
            intact,
            damaged,
            watched: VecDeque::new(),
            checked: 0,
            numbers: ChaCha8Rng::seed_from_u64(1),
        };
        years.fixtures("");
        years
    }

    /// The frames of a decision of the day.
    pub fn frames(templates: &Templates, kind: usize) -> Vec<u8> {
        templates.decisions[kind].frames.clone()
    }

    /// Returns what is written of the next cells; nothing once all have come.
    pub fn next(&mut self, most: u32) -> Vec<Written> {
        for _ in 0..most.min(self.cells - self.begun) {
            self.begun += 1;
            self.cell(self.begun);
        }
        self.pen.take()
    }

    fn cell(&mut self, number: u32) {
        let at =
            self.first.saturating_add(self.step * i32::try_from(number).expect("a number")).expect("a time");
        // What was done with the cell before may have taken longer.
        let at = at.max(self.pen.now());
        self.pen.at(at);
        let weeks = u32::try_from(at.duration_since(self.first).as_hours() / 168).expect("weeks");
        if weeks > self.checked {
            self.checked = weeks;
            self.fixtures("check-measurement");
        }
        self.releases(at);
        let kind = match KINDS.get((number as usize) % 20) {
            Some(kind) => *kind,
            None => OTHERS[(number as usize / 20) % OTHERS.len()],
        };
        let name = format!("PE-{number:07}");
        let model = format!("Gannet {}", 100 + number % MODELS);
        if number % 20 == 3 {
            self.runs(&name, &[Stage::ToCharge { why: None }, Stage::Resting]);
        }
        let of = Of { cell: &name, model: &model, at: self.pen.now(), fixture: number % FIXTURES + 1 };
        let entry = decision(&self.templates.decisions[kind], &of, &mut self.numbers);
        let assessed = self.pen.entry(entry, number.is_multiple_of(10).then_some(kind));
        if number % 20 == 3 && number + 100 < self.cells {
            self.runs(&name, &[Stage::Done { decision: assessed }]);
        }
        match kind {
            1 | 2 => self.intact.take(&name, assessed, number.is_multiple_of(4), &mut self.pen),
            3..=6 | 8 if (number / 20) % WATCHED_OF == 13 || number + 60 > self.cells => self.watches(&name),
            3..=6 | 8 => self.damaged.take(&name, assessed, false, &mut self.pen),
            _ => {}
        }
        if number.is_multiple_of(500) {
            self.corrects(&name, assessed, number.is_multiple_of(2000));
        }
    }

    fn watches(&mut self, name: &str) {
        let day = self.pen.day();
        let until = day.saturating_add(28.days());
        for signed in self.templates.watch.clone() {
            let cell = name.to_owned();
            match signed.event {
                Event::Hold(hold) => self.pen.event(Event::Hold(Hold { cell, until, ..hold })),
                Event::Inspection(seen) => self.pen.event(Event::Inspection(Inspection { cell, ..seen })),
                _ => 0,
            };
        }
        let ends = self.pen.now().saturating_add(SignedDuration::from_hours(24 * 28)).expect("a time");
        self.watched.push_back((ends, name.to_owned()));
    }

    /// Ends the watches whose time is over.
    fn releases(&mut self, now: Timestamp) {
        while self.watched.front().is_some_and(|(ends, _)| *ends < now) {
            let Some((_, cell)) = self.watched.pop_front() else { return };
            let because = "unchanged for four weeks".to_owned();
            self.pen.event(Event::Release(Release { cell, because }));
        }
    }

    fn corrects(&mut self, name: &str, assessed: u32, strike: bool) {
        let because = "the label was read again".to_owned();
        let of = "assessment".to_owned();
        let remark = Correction { entry: assessed, of, subject: name.to_owned(), because, strike: false };
        self.pen.event(Event::Correction(remark.clone()));
        if strike {
            let mass = Milligrams::grams(680);
            let entry = self.pen.event(Event::CellWeighed(CellWeighed { cell: name.to_owned(), mass }));
            let of = "cell-weighed".to_owned();
            let because = "read in the wrong unit".to_owned();
            self.pen.event(Event::Correction(Correction { entry, of, because, strike, ..remark }));
        }
    }

    /// Stages of a capacity run.
    fn runs(&mut self, name: &str, stages: &[Stage]) {
        let label = self.templates.decisions[0].entry.inputs["nameplate"].clone();
        let label: Nameplate = serde_json::from_value(label).expect("a label");
        for stage in stages {
            let step = Step::new(stage.clone(), label.clone());
            let entry = capacity_run::entry(name, &step, false, self.pen.now()).expect("a stage");
            self.pen.entry(entry, None);
        }
    }

    /// What an owner does with each fixture: all of it, or only this.
    fn fixtures(&mut self, only: &str) {
        let entries: Vec<_> = self.templates.fixture.clone();
        let wanted = |kind: &str| only.is_empty() || kind == only;
        for number in 1..=FIXTURES {
            for entry in entries.iter().filter(|entry| wanted(&entry.kind)) {
                // One standard serves all fixtures.
                if entry.kind == "check-standard" && number > 1 {
                    continue;
                }
                let name = format!("fixture {number:016}");
                let mut inputs = entry.inputs.clone();
                let day = self.pen.day();
                for (place, value) in [
                    ("fixture", name.clone()),
                    ("on", day.to_string()),
                    (
                        "due",
                        day.saturating_add(if only.is_empty() { 365.days() } else { 7.days() }).to_string(),
                    ),
                ] {
                    if let Some(text) = inputs.get_mut(place) {
                        *text = value.into();
                    }
                }
                let sort = entry.subject.kind;
                let subject = if sort == SubjectKind::Fixture {
                    Subject::new(sort, &name)
                } else {
                    entry.subject.clone()
                };
                let told = entry.summary.replace(&entry.subject.name, &subject.name);
                let new =
                    NewEntry { summary: told, inputs, ..NewEntry::of(&entry.kind, subject, self.pen.now()) };
                self.pen.entry(new, None);
            }
        }
    }
}
