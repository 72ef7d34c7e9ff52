//! `explain`: a decision number by number, from the book, from an assessment in a file, or from a trace.

use super::grade;
use crate::arguments::{BookPath, CaseArguments};
use crate::clock_check::open_to_read;
use crate::entry_hint::with_entry_hint;
use crate::error::{EXIT_DONE, Error, read_text};
use crate::io::Io;
use celltriage_assessment::Assessment;
use celltriage_assessment::explain::Explanation;
use celltriage_custody::cell_name::typed::Typed;
use celltriage_report::drawing::drawing;
use celltriage_report::explanation_page::explanation_page;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::{Fault, Workshop};
use clap::Args;
use std::path::{Path, PathBuf};

/// Options of `explain`.
#[derive(Debug, Args)]
pub struct ExplainArguments {
    /// The name of a cell or its tag as scanned (its newest decision), `entry:12` for an entry of the book, a file with an
    /// assessment (`.json`), or a trace (then with the label). A number is a cell.
    #[arg(value_name = "CELL|entry:NUMBER|FILE")]
    pub what: String,
    /// Only this criterion, e.g. `capacity`.
    #[arg(long, value_name = "ID")]
    pub criterion: Option<String>,
    /// Also draw the numbers into this SVG file.
    #[arg(long, value_name = "FILE")]
    pub drawing: Option<PathBuf>,
    /// As JSON (see host/JSON.md).
    #[arg(long)]
    pub json: bool,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Label, looks, place and policy, for a trace.
    #[command(flatten)]
    pub case: CaseArguments,
}

/// Runs `explain`.
///
/// # Errors
/// An input error where there is no such decision, a book error for the book.
pub fn run(arguments: &ExplainArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut explanation = find(arguments, io)?;
    if let Some(id) = &arguments.criterion {
        explanation.only(id).map_err(Error::input)?;
    }
    if let Some(path) = &arguments.drawing {
        std::fs::write(path, drawing(&explanation).svg())
            .map_err(|error| Error::input(format!("cannot write {}: {error}", path.display())))?;
        io.note(&format!("drawn into {}", path.display()));
    }
    if arguments.json {
        super::say_json(&explanation, io)?;
    } else {
        io.show_in_screens(&explanation_page(&explanation), 0);
    }
    Ok(EXIT_DONE)
}

/// A number is a cell, a file is a file, everything else is what stands for a cell or an entry.
fn find(arguments: &ExplainArguments, io: &mut Io<'_>) -> Result<Explanation, Error> {
    let what = arguments.what.as_str();
    let path = Path::new(what);
    if what.parse::<u32>().is_err() && path.is_file() {
        return Ok(Explanation::of(&from_file(path, arguments, io)?));
    }
    let clock = HeldClock::at(io.now);
    let shop = Workshop::new(open_to_read(&arguments.book.path, io)?, &clock, io.zone.clone());
    let cell = match Typed::read(what).map_err(|why| Error::input(why.to_string()))? {
        Typed::Entry(number) => return Ok(shop.decision(number)?.explained()),
        Typed::Cell(cell) => cell,
    };
    let newest = shop.newest_decision(&cell).map_err(|fault| {
        let no_file = matches!(fault, Fault::NoDecision { .. });
        let mut error = Error::from(fault);
        if no_file {
            error.message.push_str(", and there is no such file");
        }
        with_entry_hint(error, shop.book(), &cell, "explain")
    })?;
    io.note(&format!("entry {}, the newest decision on {cell}", newest.entry));
    Ok(newest.explained())
}

fn from_file(path: &Path, arguments: &ExplainArguments, io: &mut Io<'_>) -> Result<Assessment, Error> {
    if path.extension().is_some_and(|ending| ending == "json") {
        let text = read_text(path, "assessment")?;
        return Assessment::from_json(&text).map_err(|error| {
            Error::input(format!("{}: this is no assessment: {error}", path.display()))
                .hint("give what `assess --json` or `grade --json` wrote")
        });
    }
    grade::judged(path, &arguments.case, io)
}
