//! The table of what can be known against a cell: what each finding blocks, and what ends it.

use celltriage_document::document::{Block, Document, Heading, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_verdict::{KNOWN_TABLE, Release};

/// The ends of a finding, in the order of the page.
const ENDS: [Release; 7] = [
    Release::Striking,
    Release::FinishedTest,
    Release::Screening,
    Release::Cooling,
    Release::NewMeasurement,
    Release::EndOfWatch,
    Release::Judgement,
];

/// Puts the table together, a part for each way in which a finding ends.
pub fn known_table_page() -> Document {
    let mut page = Document::page(Phrase::KnownTable);
    page.push(Heading::title(Phrase::KnownTable));
    page.push(Paragraph::of(Phrase::KnownTableReading));
    for end in ENDS {
        page.push(Block::Space).push(Paragraph::of(say!(EndedBy, what = end.words())));
        let mut table = Table::under([
            Phrase::Found,
            Phrase::BarsLoad,
            Phrase::BarsCharge,
            Phrase::BarsDischarge,
            Phrase::BarsReuse,
            Phrase::BarsNotWaste,
            Phrase::BarsIntactWaste,
            Phrase::BarsLeaving,
        ]);
        for row in KNOWN_TABLE.into_iter().filter(|row| row.release == end) {
            let bars = row.bars.columns().map(|(_, barred)| Text::from(if barred { "no" } else { "." }));
            let [load, charge, discharge, reuse, not_waste, intact_waste, leaving] = bars;
            let found = row.words.into();
            table.row([found, load, charge, discharge, reuse, not_waste, intact_waste, leaving]);
        }
        page.push(table);
    }
    page
}
