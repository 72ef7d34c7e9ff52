//! A cell's case file: what stands against it with what that blocks and what ends it, and what else is known.

use celltriage_assessment::CaseFile;
use celltriage_document::document::{Block, Document, Heading, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_verdict::KnownFinding;

/// Puts a case file together.
pub fn case_file_page(cell: &str, known: &CaseFile) -> Document {
    let title = say!(CaseFileOf, cell = cell);
    let mut page = Document::page(title.clone());
    page.push(Heading::title(title));
    if known.is_empty() {
        page.push(Paragraph::of(Phrase::NothingKnown));
    }
    page.blocks.extend(known.standing.iter().flat_map(finding));
    let beside = known.beside().into_iter().map(|line| Paragraph::of(line).hanging(2).into());
    page.section(Phrase::AlsoKnown, beside.collect::<Vec<Block>>());
    page
}

fn finding(found: &KnownFinding) -> [Block; 3] {
    let barred = found.bars().columns().into_iter().filter(|(_, barred)| *barred).map(|(name, _)| name);
    let barred = barred.collect::<Vec<_>>().join(", ");
    let row = found.kind.row();
    [
        Paragraph::of(Text::from(found.words())).hanging(2).into(),
        Paragraph::of(say!(Blocks, what = barred, why = row.because)).indented(4).into(),
        Paragraph::of(say!(EndedBy, what = row.release.words())).indented(4).into(),
    ]
}
