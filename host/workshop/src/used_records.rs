//! The test record that goes with a used cell that is not waste.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_assessment::Assessment;
use celltriage_assessment::record::assessment_of;
use celltriage_custody::event::Event;
use celltriage_custody::need::Need;
use celltriage_custody::used::{RecallCheck, UsedRecord, needed, results_of};
use celltriage_custody::{PackRules, Refusal};
use celltriage_verdict::Lifetime;
use jiff::civil::Date;

/// A cell with its latest assessment, from which its record is made.
#[derive(Clone, Debug)]
pub struct Tested {
    /// The cell.
    pub cell: String,
    /// Entry of the assessment.
    pub entry: u32,
    /// Day of the test.
    pub on: Date,
    /// The assessment.
    pub assessment: Assessment,
    /// What is recorded of its life.
    pub life: Lifetime,
}

/// What the workshop adds to the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ForUse {
    /// Name of the item.
    pub item: String,
    /// Year in which it was made, if known.
    pub production_year: Option<i16>,
    /// Company that answers for the evidence.
    pub company: String,
    /// Its address.
    pub address: String,
    /// What recall lists say.
    pub recall: RecallCheck,
    /// Invoice or contract, if there is one already.
    pub contract: Option<String>,
}

/// A record that is in the book.
#[derive(Clone, Debug)]
pub struct RecordMade {
    /// The event.
    pub entered: Entered,
    /// The record.
    pub record: UsedRecord,
    /// Day of its signature.
    pub on: Date,
    /// What the rules say of used cells that are not waste.
    pub needed: Vec<Need>,
}

impl Workshop<'_> {
    /// Returns a cell with its latest assessment.
    ///
    /// # Errors
    /// The book has none of it, or cannot be read.
    pub fn tested(&self, cell: &str) -> Result<Tested> {
        let unknown = || Refusal::UnknownCell(cell.to_owned());
        let state = self.state_about(&[cell])?;
        let found = state.cells.get(cell).ok_or_else(unknown)?;
        let facts = found.facts.as_ref().ok_or_else(unknown)?;
        let entry = self.book.entry(facts.assessment)?.ok_or_else(unknown)?;
        let assessment = assessment_of(&entry)?;
        let life = found.lifetime();
        Ok(Tested { cell: cell.to_owned(), entry: entry.number, on: facts.on, assessment, life })
    }

    /// Makes the test record of a cell.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn make_used_record(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        tested: &Tested,
        given: ForUse,
    ) -> Result<RecordMade> {
        let assessment = &tested.assessment;
        let record = UsedRecord {
            cell: tested.cell.clone(),
            item: given.item,
            production_year: given.production_year,
            company: given.company,
            address: given.address,
            assessment: tested.entry,
            tested_on: tested.on,
            results: results_of(assessment),
            statement: assessment.verdict.statement.clone(),
            life: (!tested.life.is_empty()).then(|| tested.life.words()),
            recall: given.recall,
            contract: given.contract,
        };
        let entered = self.enter_event(signer, rules, &Event::UsedRecord(Box::new(record.clone())))?;
        let needed = needed(rules.packs(), assessment.conditions.place.as_ref(), self.today());
        Ok(RecordMade { entered, record, on: self.day_of(signer), needed })
    }
}
