//! `report`: what was found of a cell, for whoever brought it and for the file: as text, as a page of HTML, as a PDF; a month in numbers.

mod month;

use super::say_json;
use crate::arguments::BookPath;
use crate::clock_check::open_to_read;
use crate::entry_hint::with_entry_hint;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::paper::Files;
use celltriage_custody::cell_name::typed::Typed;
use celltriage_document::document::Picture;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_report::cell_report::{CellReported, cell_report};
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::month::Month;
use clap::{Args, Subcommand};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Options of `report`.
#[derive(Debug, Args)]
#[command(subcommand_negates_reqs = true)]
pub struct ReportArguments {
    /// The name of a cell or its tag as scanned (its newest decision), or `entry:12` for an entry of the book.
    #[arg(value_name = "CELL|entry:NUMBER", required = true)]
    pub what: Option<String>,
    /// Write it as a PDF: one page of A4 where that has room.
    #[arg(long, global = true, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Write it as a page for a browser that holds all it shows.
    #[arg(long, global = true, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Photograph to be shown, JPEG or PNG; several times for several. Nobody but its files gets it: the book does not.
    #[arg(long, value_name = "FILE")]
    pub photo: Vec<PathBuf>,
    /// As JSON: of which entry it is, and where it was written; of a month its numbers.
    #[arg(long, global = true)]
    pub json: bool,
    /// Which book.
    #[command(flatten)]
    pub book: BookPath,
    /// Of something else than a cell. A cell that is called so is written `cell:month`.
    #[command(subcommand)]
    pub of: Option<ReportOf>,
}

/// What a report may be of besides.
#[derive(Debug, Subcommand)]
pub enum ReportOf {
    /// What happened in a month: cells by fate, what left.
    Month {
        /// Year and month, as 2026-11; by default the month before this one.
        #[arg(value_name = "MONTH")]
        month: Option<Month>,
    },
}

/// Runs `report`.
///
/// # Errors
/// An input error where there is no such decision, a photograph cannot be read or a file not be written; a book error for the book.
pub fn run(arguments: &ReportArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let shop = Workshop::new(open_to_read(&arguments.book.path, io)?, &clock, io.zone.clone());
    let files = Files { pdf: arguments.pdf.as_deref(), html: arguments.html.as_deref() };
    if let Some(ReportOf::Month { month }) = arguments.of {
        return month::run(&shop, month, files, arguments.json, io);
    }
    let what = arguments.what.as_deref().unwrap_or_default();
    let photographs = arguments.photo.iter().enumerate().map(|(number, path)| photograph(path, number + 1));
    let photographs = photographs.collect::<Result<Vec<_>, _>>()?;
    let found = shop.report_of(entry(&shop, what)?)?;
    let (name, digest) = (found.head.subject.name.as_str(), found.head.digest.to_string());
    let at = found.head.at.to_zoned_datetime(shop.zone().clone()).strftime("%Y-%m-%d %H:%M").to_string();
    let report = cell_report(&CellReported {
        name,
        assessment: &found.decision.assessment,
        entry: found.decision.entry,
        at: &at,
        digest: &digest,
        struck: found.struck.as_ref(),
        newer: found.newer,
        since: &found.decision.now.known,
        pulse: found.pulse.as_ref(),
        photographs: &photographs,
    });
    let files = files.write(&report, found.decision.assessment.conditions.date, io)?;
    if arguments.json {
        let files: Vec<_> = files.iter().map(|(form, path)| json!({ "form": form, "path": path })).collect();
        let of = json!({
            "schema": "celltriage.report/1", "cell": name, "entry": found.decision.entry, "digest": digest, "files": files,
        });
        say_json(&of, io)?;
    } else if files.is_empty() {
        io.show(&report);
    }
    Ok(EXIT_DONE)
}

/// Returns the entry that is asked for: a number is a cell.
fn entry(shop: &Workshop<'_>, what: &str) -> Result<u32, Error> {
    match Typed::read(what).map_err(|why| Error::input(why.to_string()))? {
        Typed::Entry(number) => Ok(number),
        Typed::Cell(cell) => match shop.newest_decision(&cell) {
            Ok(newest) => Ok(newest.entry),
            Err(fault) => Err(with_entry_hint(fault.into(), shop.book(), &cell, "report")),
        },
    }
}

fn photograph(path: &Path, number: usize) -> Result<Picture, Error> {
    let bytes = std::fs::read(path)
        .map_err(|error| Error::input(format!("cannot read {}: {error}", path.display())))?;
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let shows = Text::phrase(Phrase::ReportPhotograph, [("number", number.to_string()), ("name", name)]);
    let neither = || {
        Error::input(format!("{}: neither a JPEG nor a PNG; nothing was written", path.display()))
            .hint("save the photograph as JPEG or PNG")
    };
    Picture::of(bytes, shows).ok_or_else(neither)
}
