//! The test record of a used cell, laid out to be printed and signed.

use crate::point::point;
use crate::quantity_words::quantity_words;
use celltriage_custody::need::Need;
use celltriage_custody::used::UsedRecord;
use celltriage_document::document::{Block, Document, Facts, Points, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::estimate::Quantity;
use celltriage_verdict::figure_with_doubt;
use jiff::civil::Date;

/// Lays the record out, to be signed and fixed to the cell or its package; `needed` is what the rules of its place say
/// of used cells.
pub fn used_paper(record: &UsedRecord, signed_by: &str, on: Date, needed: &[Need]) -> Document {
    let mut table =
        Table::under([Phrase::Quantity, Phrase::ValueWithDoubt, Phrase::Method]).widest(&[20, 20]);
    for result in &record.results {
        let figure = figure_with_doubt(result.value, result.standard_uncertainty, &result.unit);
        table.row([words_of(&result.quantity), figure, result.method.clone()]);
    }
    let mut paper = Document::paper(Phrase::UsedTitle);
    paper.notice(Phrase::UsedNotice).push(head(record, signed_by, on)).section(Phrase::Tests, [table.into()]);
    let points = needed.iter().map(point).collect();
    paper.section(Phrase::GoesWithUsed, [Points { points }.into()]);
    paper.push(Block::FillIn(vec![Phrase::Declaration.into()]));
    paper
}

fn head(record: &UsedRecord, signed_by: &str, on: Date) -> Facts {
    let or = |given: Option<String>, phrase: Phrase| given.map_or(phrase.into(), Text::from);
    let (day, lists) = (record.recall.on, &record.recall.looked_in);
    let recall = match record.recall.listed {
        true => say!(Listed, day = day, lists = lists),
        false => say!(NotListed, day = day, lists = lists),
    };
    Facts::of([
        (Phrase::Item, record.item.as_str().into()),
        (Phrase::IdentificationNumber, record.cell.as_str().into()),
        (Phrase::ProductionYear, or(record.production_year.map(|year| year.to_string()), Phrase::NotKnown)),
        (Phrase::Company, record.company.as_str().into()),
        (Phrase::Address, record.address.as_str().into()),
        (Phrase::TestedOn, record.tested_on.to_string().into()),
        (Phrase::InOneSentence, record.statement.as_str().into()),
        (Phrase::LifeLabel, or(record.life.clone(), Phrase::NoLife)),
        (Phrase::RecallLists, recall),
        (Phrase::Contract, or(record.contract.clone(), Phrase::ToBeAdded)),
        (Phrase::RecordMadeBy, format!("{signed_by}, {on}").into()),
        (Phrase::BookEntry, say!(AssessmentEntry, entry = record.assessment)),
    ])
}

/// Returns the words for a quantity as it is named in the assessment.
fn words_of(key: &str) -> String {
    let known = Quantity::ALL.into_iter().find(|quantity| quantity.key() == key);
    known.map_or_else(|| key.to_owned(), |quantity| quantity_words(quantity).to_owned())
}
