//! `explain`: a decision number by number, from the book, from an assessment in a file, or from a trace.

use super::grade;
use super::stands_now::StandsNow;
use crate::arguments::{BookPath, CaseArguments};
use crate::clock_check::open_to_read;
use crate::error::{EXIT_DONE, Error, read_text};
use crate::io::Io;
use celltriage_assessment::Assessment;
use celltriage_assessment::explain::Explanation;
use celltriage_assessment::record;
use celltriage_book::{Book, Entry, Filter};
use celltriage_custody::State;
use celltriage_report::drawing::drawing;
use celltriage_report::explanation_page::explanation_page;
use clap::Args;
use std::path::{Path, PathBuf};

/// Options of `explain`.
#[derive(Debug, Args)]
pub struct ExplainArguments {
    /// Number of an entry of the book, the name of a cell (its newest decision), a file with an assessment (`.json`), or
    /// a trace (then with the label).
    #[arg(value_name = "ENTRY|CELL|FILE")]
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
    let (assessment, now) = find(arguments, io)?;
    let mut explanation = Explanation::of(&assessment);
    if let Some(now) = now {
        explanation.known = now.known;
    }
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

/// A number is an entry, a file is a file, everything else the name of a cell. Where it stands in the book, also returns what
/// that has of the cell now.
fn find(arguments: &ExplainArguments, io: &mut Io<'_>) -> Result<(Assessment, Option<StandsNow>), Error> {
    let what = arguments.what.as_str();
    if let Ok(number) = what.parse::<u32>() {
        let book = open_to_read(&arguments.book.path, io)?;
        let entry = book.entry(number)?.ok_or_else(|| {
            Error::input(format!("{} has no entry {number}", book.path().display()))
                .hint("`celltriage book list` shows what there is")
        })?;
        return with_now(&book, &entry);
    }
    let path = Path::new(what);
    if path.is_file() {
        return Ok((from_file(path, arguments, io)?, None));
    }
    let book = open_to_read(&arguments.book.path, io)?;
    let filter = Filter { cell_id: Some(what.to_owned()), ..Filter::default() };
    let entries = book.entries(&filter)?;
    let newest = entries.iter().find(|entry| entry.kind == record::ASSESSMENT).ok_or_else(|| {
        Error::input(format!(
            "{} has no decision on a cell `{what}`, and there is no such file",
            book.path().display()
        ))
        .hint("`celltriage book list` shows what there is")
    })?;
    io.note(&format!("entry {}, the newest decision on {what}", newest.number));
    with_now(&book, newest)
}

fn with_now(book: &Book, entry: &Entry) -> Result<(Assessment, Option<StandsNow>), Error> {
    let assessment = record::assessment_of(entry)?;
    Ok((assessment, Some(StandsNow::of(&State::read(book)?, entry, None))))
}

fn from_file(path: &Path, arguments: &ExplainArguments, io: &mut Io<'_>) -> Result<Assessment, Error> {
    if path.extension().is_some_and(|ending| ending == "json") {
        let text = read_text(path, "assessment")?;
        return Assessment::from_json(&text).map_err(|error| {
            Error::input(format!("{}: this is no assessment: {error}", path.display()))
                .hint("give what `assess --json` or `grade --json` wrote")
        });
    }
    Ok(grade::judged(path, None, &arguments.case, io)?.1)
}
