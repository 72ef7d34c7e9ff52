//! Decisions of the book: one with what was found since, and one that is made again.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use crate::stands_now::StandsNow;
use celltriage_assessment::Assessment;
use celltriage_assessment::comparison::{Difference, METHOD, changed_rules, differences};
use celltriage_assessment::explain::Explanation;
use celltriage_assessment::record::{self, ASSESSMENT, assessment_of, method_of};
use celltriage_book::{Entry, Filter, Subject};
use celltriage_custody::State;

/// A decision of the book.
#[derive(Clone, Debug)]
pub struct Decision {
    /// Number of its entry.
    pub entry: u32,
    /// The decision.
    pub assessment: Assessment,
    /// How the cell stands now.
    pub now: StandsNow,
}

impl Decision {
    /// Explains it number by number, below what the book has of the cell now.
    pub fn explained(&self) -> Explanation {
        let mut explanation = Explanation::of(&self.assessment);
        explanation.known = self.now.known.clone();
        explanation
    }
}

/// A decision that was made again from what was kept with it.
#[derive(Clone, Debug)]
pub struct Recomputed {
    /// Its entry.
    pub entry: Entry,
    /// What differs.
    pub different: Vec<Difference>,
    /// Rules whose cautions came with only one of the two: their packs have changed since.
    pub other_rules: Vec<String>,
    /// The method that the entry was made by.
    pub method: u32,
}

/// What came of making a decision again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    /// Every figure and finding is as in the entry.
    Same,
    /// Something differs, and the entry was made by another method.
    OtherMethod,
    /// Something differs by the same method: an error.
    Wrong,
}

impl Recomputed {
    /// Returns what came of it.
    pub fn comparison(&self) -> Comparison {
        match (self.different.is_empty(), self.method == METHOD) {
            (true, _) => Comparison::Same,
            (false, false) => Comparison::OtherMethod,
            (false, true) => Comparison::Wrong,
        }
    }
}

impl Workshop<'_> {
    /// Returns the decision of an entry.
    ///
    /// # Errors
    /// There is no such entry, or it holds no decision.
    pub fn decision(&self, number: u32) -> Result<Decision> {
        self.decision_of(&self.entry(number.into())?)
    }

    /// Returns the newest decision on a cell.
    ///
    /// # Errors
    /// [`Fault::NoDecision`], or the book cannot be read.
    pub fn newest_decision(&self, cell: &str) -> Result<Decision> {
        let filter = Filter {
            about: Some(Subject::cell(cell)),
            kind: Some(ASSESSMENT.to_owned()),
            limit: Some(1),
            ..Filter::default()
        };
        let entries = self.book.entries(&filter)?;
        let newest = entries.first();
        let none = || Fault::NoDecision { book: self.book.path().to_owned(), cell: cell.to_owned() };
        self.decision_of(newest.ok_or_else(none)?)
    }

    fn decision_of(&self, entry: &Entry) -> Result<Decision> {
        let assessment = assessment_of(entry)?;
        let now = StandsNow::of(&State::about(&self.book, &[&entry.subject.name])?, entry, None);
        Ok(Decision { entry: entry.number, assessment, now })
    }

    /// Makes a decision again and compares: by the same method every figure and finding must come out as stored.
    ///
    /// # Errors
    /// There is no such entry, it holds no decision, or what it was made from cannot be read.
    pub fn recompute(&self, number: u64) -> Result<Recomputed> {
        let entry = self.entry(number)?;
        let stored = assessment_of(&entry)?;
        let now = record::recompute(&self.book, &entry)?;
        let method = method_of(&entry)?;
        Ok(Recomputed {
            different: differences(&stored, &now),
            other_rules: changed_rules(&stored, &now),
            method,
            entry,
        })
    }
}
