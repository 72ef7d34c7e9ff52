//! `label`: the label of a cell, as text or as files for the printer.

use super::say_json;
use crate::desk::{Desk, DeskArguments};
use crate::entry_hint::with_cell_hint;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::label_files::LabelFiles;
use celltriage_custody::Refusal;
use celltriage_custody::cell_name::typed::known_cell;
use celltriage_report::cell_label::{CellLabelled, cell_label};
use celltriage_workshop::Fault;
use celltriage_workshop::clock::HeldClock;
use clap::Args;

/// Options of `label`.
#[derive(Debug, Args)]
pub struct CellLabelArguments {
    /// The cell, or its tag as scanned.
    #[arg(value_parser = known_cell)]
    pub cell: String,
    /// Size and files.
    #[command(flatten)]
    pub files: LabelFiles,
    /// As JSON: what it says, and where it was written.
    #[arg(long)]
    pub json: bool,
    /// Which book.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `label`.
///
/// # Errors
/// An input error where the book does not know the cell or the label has no room, a book error for the book.
pub fn run(arguments: &CellLabelArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let desk = Desk::open(&arguments.desk, false, &clock, io)?;
    let name = arguments.cell.as_str();
    let state = desk.shop.state_about(&[name])?;
    let unknown = || {
        let fault = Fault::Unknown(Refusal::UnknownCell(name.to_owned()));
        with_cell_hint(fault.into(), desk.shop.book(), name)
    };
    let cell = state.cells.get(name).ok_or_else(unknown)?;
    let decision = cell.facts.as_ref().map(|facts| desk.shop.decision(facts.assessment)).transpose()?;
    let decided = decision.as_ref().map(|decision| (decision.entry, &decision.assessment));
    let today = desk.shop.today();
    let label = cell_label(&CellLabelled { name, cell, decided, today });
    if label.code.is_none() {
        io.note("note: no code can hold this name, so the label has none: that takes letters A to Z or digits, without marks");
    }
    let day = decided.map_or(today, |(_, assessment)| assessment.conditions.date);
    let written = arguments.files.write(&label, day, io)?;
    if arguments.json {
        say_json(&written.in_json(&label), io)?;
    } else if arguments.files.asks() {
        io.note(&format!("note: once it is on the cell: celltriage container labelled {name}"));
    } else {
        io.show(&label.in_text());
    }
    Ok(EXIT_DONE)
}
