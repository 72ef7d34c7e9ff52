//! What stands above an entry of the book that is shown: what the book knows of its subject now.

use crate::decision_page::known_line;
use celltriage_custody::state::Struck;
use celltriage_document::document::{Document, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_verdict::KnownFinding;

/// Says that a cell is simulated and what is known of it.
pub fn known_page(simulated: bool, cell: &str, known: &[KnownFinding]) -> Document {
    let mut page = Document::page(say!(CellNamed, id = cell));
    if simulated {
        page.notice(FIRST_LINE);
    }
    for found in known {
        page.push(known_line(cell, found));
    }
    page
}

/// Says that an entry was struck.
pub fn struck_page(struck: &Struck) -> Document {
    let mut page = Document::page(Phrase::Struck);
    page.push(Paragraph::of(struck.words()).hanging(2));
    page
}
