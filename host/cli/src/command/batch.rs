//! `batch`: several cells at once, each on its own fixture and its own thread, for example overnight.
//!
//! Takes a file with one `[[cell]]` for each fixture. Each cell is measured, judged and written into the book by itself;
//! one that fails leaves the others running.

use super::{known_first, say_json};
use crate::arguments::{BookPath, LabelArguments, LooksArguments, SettingArguments};
use crate::beside;
use crate::case::{read_label, read_looks, warn_of_label};
use crate::clock_check::{begun, open_to_write};
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error, Kind, read_text};
use crate::fault_words::{SaidIn, of_workshop};
use crate::io::Io;
use crate::run_view::RunView;
use crate::written_to::written;
use celltriage_assessment::case::{Case, Setting};
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_document::phrase::Phrase;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_measure::plan::Extent;
use celltriage_report::day_table::{Row, day_table};
use celltriage_workshop::Workshop;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use celltriage_written::read;
use clap::Args;
use indicatif::MultiProgress;
use serde::Deserialize;
use serde_json::json;
use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Sender, channel};

/// Options of `batch`.
#[derive(Debug, Args)]
pub struct BatchArguments {
    /// TOML file with one `[[cell]]` for each fixture: id, cell (label file), port or simulated, observations (file) or
    /// no_signs, thickness_mm (a list, one number for each point), extent (rest, screen, proof, full; by default screen, as `assess`),
    /// despite_stop (why a fixture stopped by its check standard is used).
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Where and by which policy.
    #[command(flatten)]
    pub setting: SettingArguments,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Print what became of each cell as JSON.
    #[arg(long)]
    pub json: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    cell: Vec<BatchCell>,
}

/// One cell on one fixture.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct BatchCell {
    id: String,
    cell: Option<PathBuf>,
    port: Option<String>,
    simulated: Option<String>,
    observations: Option<PathBuf>,
    #[serde(default)]
    no_signs: bool,
    #[serde(default)]
    thickness_mm: Vec<f64>,
    #[serde(default)]
    extent: JobExtent,
    despite_stop: Option<String>,
}

#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
enum JobExtent {
    Rest,
    // As `assess`.
    #[default]
    Screen,
    Proof,
    Full,
}

/// Columns for a cell's name before each of its lines.
const NAME: usize = 10;

/// What became of a job; `None` if it was not begun.
type Outcome = Result<Option<Assessed>, Error>;

/// What is told of a cell that was not begun.
const NOT_BEGUN: &str = "a person has stopped the batch before this cell was begun";

/// Runs `batch`.
///
/// # Errors
/// An input error for the file, before anything is measured; what goes wrong later is told with each cell.
pub fn run(arguments: &BatchArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let cells = cells(&arguments.file)?;
    let setting = crate::case::read_setting(&arguments.setting, io)?;
    // While somebody is still there: each cell's thread opens the book by itself and asks nobody.
    let clock = HeldClock::at(io.now);
    let shop = Workshop::new(open_to_write(&arguments.book.path, false, io)?, &clock, io.zone.clone());
    // Nobody sits there at night.
    io.ask = None;
    let folder = arguments.file.parent().unwrap_or(Path::new(""));
    let mut ready = Vec::new();
    for (cell, seed) in cells.iter().zip(1..) {
        ready.push(made_ready(cell, seed, folder, &setting, &shop, io)?);
    }
    drop(shop);
    if ready.iter().any(|one| one.case.observations.answer(Sign::ActiveNow) == Answer::Yes) {
        crate::case::alarm(&setting, io);
    }
    io.note(&format!("{} cells, one fixture each; a failure does not stop the others", ready.len()));
    let outcomes = all_at_once(&ready, &arguments.book.path, io);

    let mut code = EXIT_DONE;
    let (mut rows, mut lines) = (Vec::new(), Vec::new());
    for (one, outcome) in ready.iter().zip(&outcomes) {
        let id = one.case.id.as_str();
        match outcome {
            Ok(Some(assessed)) => {
                if !assessed.is_finished() {
                    code = code.max(EXIT_UNFINISHED);
                }
                code = code.max(beside::exit_code(&assessed.kept, EXIT_DONE));
                let (entry, assessment) = (assessed.entry(), &assessed.assessment);
                lines.push(Row::Decided(assessment));
                let verdict = &assessment.verdict;
                let mut row = json!({ "cell": id, "entry": entry, "fate": verdict.fate, "statement": verdict.statement });
                if let (Some(why), Some(members)) = (assessed.kept.not_kept(), row.as_object_mut()) {
                    members.insert("not_kept".to_owned(), why.into());
                }
                rows.push(row);
            }
            Ok(None) => {
                code = code.max(Kind::Measurement.exit_code());
                lines.push(Row::Not(id, Phrase::DayNotBegun, NOT_BEGUN));
                rows.push(json!({ "cell": id, "entry": null, "error": format!("not begun: {NOT_BEGUN}"), "hints": [] }));
            }
            Err(error) => {
                code = code.max(error.exit_code());
                lines.push(Row::Not(id, Phrase::DayNotTested, &error.message));
                error.hints.iter().for_each(|hint| io.note(&format!("hint: {id}: {hint}")));
                rows.push(json!({ "cell": id, "entry": null, "error": error.message, "hints": error.hints }));
            }
        }
    }
    if arguments.json {
        say_json(&json!({ "schema": "celltriage.batch/1", "cells": rows }), io)?;
    } else {
        io.show(&day_table(Phrase::BatchTitle, &lines));
        io.note("each page: celltriage book show entry:NUMBER; why: celltriage explain CELL");
    }
    Ok(code)
}

/// Runs every job on a thread of its own; lines of all come out one after the other, each with its cell's name.
fn all_at_once(jobs: &[Job], book: &Path, io: &mut Io<'_>) -> Vec<Outcome> {
    let bars = MultiProgress::new();
    let (lines, written) = channel::<String>();
    let (now, zone, live, stop) = (io.now, io.zone.clone(), io.live, io.stop);
    let loudness = io.loudness;
    let width = io.width.saturating_sub(NAME + 1);
    std::thread::scope(|scope| {
        let threads: Vec<_> = jobs
            .iter()
            .map(|one| {
                let (lines, bars, zone) = (lines.clone(), bars.clone(), zone.clone());
                let bench = io.bench.clone();
                scope.spawn(move || {
                    let name = one.case.id.clone();
                    let mut err = Lines { name: name.clone(), begun: Vec::new(), to: lines };
                    let mut nowhere = std::io::sink();
                    let mut io = Io {
                        out: &mut nowhere,
                        err: &mut err,
                        ask: None,
                        now,
                        stated_day: None,
                        bench,
                        zone,
                        width,
                        height: None,
                        colour: false,
                        live,
                        screen: false,
                        bars: Some((bars, name)),
                        told: Vec::new(),
                        loudness,
                        in_words: false,
                        stop,
                    };
                    let done = attend(one, book, &mut io);
                    if let Err(error) = &done {
                        io.note(&error.to_string());
                    }
                    done
                })
            })
            .collect();
        drop(lines);
        for line in written {
            if live {
                bars.suspend(|| io.note(&line));
            } else {
                io.note(&line);
            }
        }
        let broken =
            || Err(Error::input("the program failed on this cell; the fixture drops its load by itself"));
        threads.into_iter().map(|thread| thread.join().unwrap_or_else(|_| broken())).collect()
    })
}

fn attend(job: &Job, book: &Path, io: &mut Io<'_>) -> Outcome {
    if io.stop_wanted() {
        io.note(&format!("not begun: {NOT_BEGUN}"));
        return Ok(None);
    }
    let clock = HeldClock::at(io.now);
    // A book of its own: the database lets several writers in, one after the other.
    let mut shop = Workshop::new(begun(book, io)?, &clock, io.zone.clone());
    let done = shop.attend_alone(job, &mut RunView::on(io));
    let assessed = done.map_err(|fault| of_workshop(fault, SaidIn::BatchFile))?;
    if let Some(entry) = assessed.entry() {
        io.note(&format!("{}, {}", assessed.assessment.verdict.fate, written(entry, book)));
    }
    Ok(Some(assessed))
}

/// Makes a job ready: everything a person could have got wrong is known before anything is measured.
fn made_ready(
    cell: &BatchCell,
    seed: u64,
    folder: &Path,
    setting: &Setting,
    shop: &Workshop<'_>,
    io: &mut Io<'_>,
) -> Result<Job, Error> {
    let of = |error: Error| Error { message: format!("cell {}: {}", cell.id, error.message), ..error };
    let extent = match cell.extent {
        JobExtent::Rest => Extent::Rest,
        JobExtent::Screen => Extent::Screen,
        JobExtent::Proof => Extent::Proof,
        JobExtent::Full => Extent::Full,
    };
    let choice = match (&cell.port, &cell.simulated) {
        (Some(_), None) | (None, Some(_)) => {
            FixtureChoice::cell(cell.port.as_deref(), cell.simulated.as_deref(), seed)
                .map_err(|error| of(error.into()))?
        }
        _ => return Err(of(Error::input("write either port or simulated"))),
    };
    let simulated_run = choice.bench_cell().is_some();
    let simulated = known_first::told_of(shop.book(), &cell.id, simulated_run, io).map_err(of)?.simulated;
    let label = LabelArguments {
        cell: cell.cell.as_ref().map(|file| folder.join(file)),
        ..LabelArguments::default()
    };
    let (mut nameplate, files) = match choice.bench_cell() {
        Some(bench) if cell.cell.is_none() => (bench.nameplate.clone(), Vec::new()),
        _ => read_label(&label).map_err(of)?,
    };
    let looks = LooksArguments {
        observations: cell.observations.as_ref().map(|file| folder.join(file)),
        no_signs: cell.no_signs,
        thickness_mm: cell.thickness_mm.iter().map(f64::to_string).collect(),
        ..LooksArguments::default()
    };
    let observations = read_looks(&looks, io).map_err(of)?;
    warn_of_label(shop, &cell.id, &mut nameplate, io)?;
    let case = Case { files, ..Case::new(&cell.id, nameplate, observations, setting.clone()) };
    let overrides = Overrides { acknowledge_trip: false, despite_stop: cell.despite_stop.clone() };
    Ok(Job { case, choice, simulated, extent, overrides })
}

/// Reads the file; two cells of one name, or two on one port, are a mistake.
fn cells(path: &Path) -> Result<Vec<BatchCell>, Error> {
    let text = read_text(path, "batch file")?;
    let mut file: File =
        read(&path.display().to_string(), &text).map_err(|faults| Error::input(faults.to_string()))?;
    let (mut names, mut ports) = (BTreeSet::new(), BTreeSet::new());
    for job in &mut file.cell {
        job.id = new_cell(&job.id)
            .map_err(|why| Error::input(format!("{}: id {:?}: {why}", path.display(), job.id)))?;
    }
    for job in &file.cell {
        if !names.insert(&job.id) {
            return Err(Error::input(format!("{}: cell {} is there twice", path.display(), job.id)));
        }
        if job.port.as_ref().is_some_and(|port| !ports.insert(port)) {
            let port = job.port.as_deref().unwrap_or_default();
            return Err(Error::input(format!("{}: port {port} is there twice", path.display()))
                .hint("one cell for each fixture; begin another batch for the next ones"));
        }
    }
    if file.cell.is_empty() {
        return Err(Error::input(format!("{}: there is no [[cell]]", path.display())));
    }
    Ok(file.cell)
}

/// Gives whole lines to the thread that prints, each with the cell's name before it.
struct Lines {
    name: String,
    begun: Vec<u8>,
    to: Sender<String>,
}

impl Write for Lines {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.begun.extend_from_slice(bytes);
        while let Some(end) = self.begun.iter().position(|byte| *byte == b'\n') {
            let line: Vec<u8> = self.begun.drain(..=end).collect();
            let line = format!("{:<NAME$} {}", self.name, String::from_utf8_lossy(&line).trim_end());
            let _nobody_may_listen = self.to.send(line);
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
