//! What is to be done next with a cell in a capacity run, in a line or two.

use celltriage_document::document::{Document, Paragraph};
use celltriage_instrument::simulated::{FIRST_LINE, SIMULATED};

/// Columns for a cell's name.
const NAME: usize = 13;

/// Says what is due: the stage, then what to do.
pub fn step_page(stage: &str, text: &str, simulated: bool) -> Document {
    let mut page = Document::page(stage);
    if simulated {
        page.notice(FIRST_LINE);
    }
    page.push(Paragraph::of(text).after(0, stage, stage.chars().count() + 2));
    page
}

/// One cell in the list of open runs.
pub fn run_row(cell: &str, what: &str, since: &str, simulated: bool) -> Document {
    let mark = if simulated { format!("{SIMULATED}: ") } else { String::new() };
    let mut page = Document::page(say!(CellNamed, id = cell));
    let text = say!(Since, what = format!("{mark}{what}"), since = since);
    page.push(Paragraph::of(text).after(0, cell, NAME));
    page
}
