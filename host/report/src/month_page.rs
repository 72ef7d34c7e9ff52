//! What happened in a month, on one page for the file.

use celltriage_document::document::{Document, Facts, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_verdict::Fate;
use std::collections::BTreeMap;

/// Column of the values.
const COLUMN: usize = 23;

/// What the page of a month is made of.
#[derive(Clone, Copy, Debug)]
pub struct MonthShown<'a> {
    /// Year and month.
    pub month: &'a str,
    /// Whether it is about simulated cells.
    pub simulated: bool,
    /// Cells by what was decided last.
    pub cells: &'a BTreeMap<Fate, u32>,
    /// Decisions that count, and those that were struck.
    pub decisions: [u32; 2],
    /// Decisions on simulated cells that were left out.
    pub left_out: u32,
    /// Judgements, cells put into containers, cells fitted, alarms, irregularities.
    pub done: [u32; 5],
    /// What left: how, how many cells, their mass.
    pub left: &'a [(&'a str, u32, String)],
}

/// Puts the page together.
pub fn month_page(of: &MonthShown<'_>) -> Document {
    let mut page = Document::page(say!(MonthTitle, month = of.month));
    if of.simulated {
        page.notice(FIRST_LINE);
    }
    page.push(Paragraph::of(say!(MonthTitle, month = of.month)));
    let by_fate = of.cells.iter().map(|(fate, count)| say!(MonthByFate, count = count, fate = fate).said());
    let by_fate: Vec<String> = by_fate.collect();
    let cells: Text = match by_fate.is_empty() {
        true => Phrase::MonthNoCells.into(),
        false => by_fate.join(", ").into(),
    };
    let [decisions, struck] = of.decisions;
    let mut rows: Vec<(Phrase, Text)> = vec![
        (Phrase::MonthCells, cells),
        (Phrase::MonthDecisions, say!(MonthDecided, count = decisions, struck = struck)),
    ];
    let names = [
        Phrase::MonthJudged,
        Phrase::MonthPlaced,
        Phrase::MonthFitted,
        Phrase::MonthAlarms,
        Phrase::MonthIrregular,
    ];
    rows.extend(names.into_iter().zip(of.done).map(|(name, count)| (name, count.to_string().into())));
    page.push(Facts::of(rows).at(COLUMN));
    if !of.left.is_empty() {
        let mut table = Table::under([Phrase::MonthHow, Phrase::MonthCells, Phrase::MonthMass]);
        for (how, cells, mass) in of.left {
            table.row::<Text>([(*how).into(), cells.to_string().into(), mass.as_str().into()]);
        }
        page.section(Phrase::MonthLeft, [table.into()]);
    }
    if of.left_out > 0 {
        page.push(Paragraph::of(say!(MonthLeftOut, count = of.left_out)).indented(2));
    }
    page.push(Paragraph::of(Phrase::MonthCounted).indented(2));
    page
}
