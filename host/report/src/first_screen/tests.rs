//! The first screen as people see it, for every fate and kind of case; and what holds for every screen there can be.

mod drawn;
mod kinds;

use super::{Around, ToType, first_screen};
use celltriage_assessment::Assessment;
use celltriage_document::form::terminal::Terminal;

/// What a face types.
fn typed(what: ToType, cell: &str) -> String {
    match what {
        ToType::Fit => format!("celltriage trial fit {cell} --job NAME"),
        ToType::Judge => format!("celltriage judge {cell}"),
        ToType::Assess => format!("celltriage assess --id {cell}"),
        ToType::Guided => format!("celltriage guided --id {cell}"),
        ToType::Watch => format!("celltriage container hold {cell}"),
        ToType::Keep => "the same with a book".to_owned(),
        ToType::Whole => format!("celltriage book show {cell}"),
        ToType::Numbers => format!("celltriage explain {cell}"),
    }
}

fn on(assessment: &Assessment, in_book: bool, terminal: Terminal) -> String {
    let cell = assessment.cell.id.as_deref().unwrap_or("CELL");
    let around = Around { in_book, typed: &|what| typed(what, cell) };
    terminal.text(&first_screen(assessment, &around, &terminal))
}

/// The screen of a terminal of so many columns.
fn screen(assessment: &Assessment, width: usize) -> String {
    on(assessment, true, Terminal::new(width))
}

/// Its words without what the lines put between them.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
