//! Why a cell was decided as it was: a table of what was measured or found, then the signs in two lines.

use crate::reason_row::{passed_row, row};
use celltriage_document::document::{Block, Fitting, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::estimate::Quantity;
use celltriage_verdict::{Finding, LIFETIME_RECORD, Reason, SAME_CELL, Value};
use std::collections::BTreeSet;

/// Narrower than this the table leaves no room for sources; they are told below it for what did not pass.
const WIDE: usize = 90;

/// Lays the reasons out.
pub fn reasons(reasons: &[Reason]) -> Vec<Block> {
    let mut rows: Vec<[Text; 5]> = Vec::new();
    let mut told = BTreeSet::new();
    // A sentence about a document does not fit into a column.
    let lifetime = reasons.iter().find(|reason| reason.criterion == LIFETIME_RECORD);
    // Thickness is read by a person, also of a cell that is on no fixture.
    let measured = |one: &Reason| {
        one.quantity.is_some_and(|quantity| quantity != Quantity::ThicknessGrowth) && one.value.is_some()
    };
    let nothing_measured = !reasons.iter().any(measured);
    let (mut missing, mut not_needed) = (Vec::new(), Vec::new());
    for reason in reasons.iter().filter(|reason| reason.criterion != LIFETIME_RECORD) {
        let of_a_number = matches!(reason.limit, Some(Value::Number(_)));
        match (reason.finding, reason.sign, reason.quantity) {
            (Finding::Pass | Finding::Missing | Finding::Inconclusive, Some(_), _) => {}
            (Finding::Missing, None, _) if of_a_number && !reason.mandatory => {
                not_needed.push(reason.title.as_str());
            }
            // A row for each of them would hide the one that has ended the test.
            (Finding::Missing, None, _) if of_a_number && nothing_measured => {
                missing.push(reason.title.as_str());
            }
            (Finding::Pass, None, Some(quantity)) => {
                if told.insert(quantity) {
                    rows.push(passed_row(quantity, reason, reasons));
                }
            }
            _ => rows.push(row(reason)),
        }
    }
    let headings = [Phrase::Criterion, Phrase::Found, Phrase::AskedFor, Phrase::Finding, Phrase::LimitFrom];
    let table = |columns: usize| {
        let mut table = Table::under(headings.into_iter().take(columns)).widest(&[26, 22, 16, 10]);
        for row in &rows {
            table.row(row.iter().take(columns).cloned());
        }
        Block::from(table)
    };
    let open = reasons.iter().filter(|one| matches!(one.finding, Finding::Fail | Finding::Inconclusive));
    let sources = open.map(|one| line(say!(LimitOf, title = one.title, source = one.source)));
    let narrow = std::iter::once(table(4)).chain(sources).collect();
    let mut blocks: Vec<Block> = Vec::new();
    if !rows.is_empty() {
        blocks.push(Fitting { least: WIDE, wide: vec![table(5)], narrow }.into());
    }
    for (titles, phrase) in [(missing, Phrase::NotMeasuredLine), (not_needed, Phrase::NotNeededLine)] {
        if !titles.is_empty() {
            blocks.push(line(Text::phrase(phrase, [("criteria", titles.join("; "))])));
        }
    }
    for (finding, phrase) in
        [(Finding::Pass, Phrase::LookedForLine), (Finding::Missing, Phrase::NotLookedForLine)]
    {
        let signs = reasons.iter().filter(|one| one.finding == finding).filter_map(|one| one.sign);
        let signs: Vec<_> = signs.map(|sign| sign.words()).collect();
        if !signs.is_empty() {
            blocks.push(line(Text::phrase(phrase, [("signs", signs.join(", "))])));
        }
    }
    blocks.extend(lifetime.map(|reason| line(say!(OfItsLife, told = reason.text))));
    // Both figures, with entry and day, and who has answered: more than a row holds.
    blocks
        .extend(reasons.iter().filter(|one| one.criterion == SAME_CELL).map(|one| line((&one.text).into())));
    blocks
}

fn line(text: Text) -> Block {
    Paragraph::of(text).indented(2).into()
}
