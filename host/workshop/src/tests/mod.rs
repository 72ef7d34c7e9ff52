//! The calls of custody and of reading the book, without a terminal: a held clock, a book in a temporary folder.

mod as_it_was;
mod copies;
mod custody;
mod danger;
mod findings;
mod leaving;
mod month;
mod proving;
mod reading;
mod receiving;
mod takers;
mod trial;

use crate::clock::HeldClock;
use crate::clock_word::ClockWord;
use crate::signer::Signer;
use crate::{Fault, Workshop};
use celltriage_assessment::case::{Case, Setting};
use celltriage_assessment::history::History;
use celltriage_assessment::record::Evidence;
use celltriage_assessment::test_support::example;
use celltriage_assessment::{Assessment, Subject};
use celltriage_book::Book;
use celltriage_custody::checklist::Answers;
use celltriage_custody::event::{ContainerKind, ContainerOpened, Event};
use celltriage_custody::test_support::{TODAY, answers_for, opened};
use celltriage_custody::{CustodyError, PackRules, Refusal};
use celltriage_rules::{LegalState, Packs};
use celltriage_verdict::{CellState, Fate};
use jiff::tz::TimeZone;
use std::path::PathBuf;

/// Noon of the day on which everything happens.
const NOON: &str = "2026-11-25T12:00:00Z";

/// What a workshop needs: a folder for its book, a clock, rules.
pub struct Place {
    folder: tempfile::TempDir,
    pub clock: HeldClock,
    pub rules: PackRules,
}

impl Place {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
            clock: HeldClock::at(NOON.parse().unwrap()),
            rules: PackRules::new(Packs::built_in().unwrap()),
        }
    }

    pub fn book(&self) -> PathBuf {
        self.folder.path().join("book.sqlite")
    }

    /// A file beside the book.
    pub fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn shop(&self) -> Workshop<'_> {
        Workshop::new(Book::open(self.book()).unwrap(), &self.clock, TimeZone::UTC)
    }

    /// The same by another clock.
    pub fn at<'c>(&self, clock: &'c HeldClock) -> Workshop<'c> {
        Workshop::new(Book::open(self.book()).unwrap(), clock, TimeZone::UTC)
    }
}

pub fn signer() -> Signer {
    Signer { by: "Ines Harrow".to_owned(), on: None, clock: ClockWord::Unsaid }
}

/// A cell of the workshop as a case, with an example of a decision on it.
pub fn decided(cell: &str, change: impl FnOnce(&mut Subject)) -> (Case, Assessment) {
    let assessment = example(|subject| {
        subject.cell_id = Some(cell.to_owned());
        subject.nameplate.mass_g = Some(45.0);
        change(subject);
    });
    let case = Case {
        id: cell.to_owned(),
        nameplate: assessment.cell.nameplate.clone(),
        observations: assessment.cell.observations.clone(),
        setting: Setting::built_in(assessment.conditions.place.clone(), TODAY).unwrap(),
        history: History::default(),
        files: Vec::new(),
    };
    (case, assessment)
}

/// Writes a decision on a cell into the book, and returns its entry.
pub fn assessed(shop: &mut Workshop<'_>, cell: &str, fate: Fate, condition: CellState) -> u32 {
    let (case, mut assessment) = decided(cell, |_| {});
    (assessment.verdict.fate, assessment.verdict.condition) = (fate, condition);
    shop.write_graded(&case, assessment, Evidence::Nothing).unwrap().entry().unwrap()
}

pub fn judgement(shop: &Workshop<'_>, cell: &str, state: LegalState) -> crate::judging::NewJudgement {
    let (because, place) = (Some("looked at twice".to_owned()), None);
    let answers: Answers = answers_for(state);
    crate::judging::NewJudgement {
        cell: cell.to_owned(),
        assessment: shop.to_judge(cell).unwrap().entry,
        state,
        answers,
        qualification: "battery technician, maker's criteria at hand".to_owned(),
        because,
        device: None,
        removed_on: None,
        photo: None,
        discarded_on: None,
        place,
    }
}

pub fn container(name: &str, kind: ContainerKind, place: &str) -> ContainerOpened {
    let Event::ContainerOpened(container) = opened(name, kind, place) else { unreachable!() };
    container
}

/// The refusal in a fault.
pub fn refusal<T: std::fmt::Debug>(done: Result<T, Fault>) -> Refusal {
    match done.unwrap_err() {
        Fault::Custody(error) => match *error {
            CustodyError::Refused(refusal) => refusal,
            other => panic!("no refusal: {other}"),
        },
        other => panic!("no refusal: {other}"),
    }
}
