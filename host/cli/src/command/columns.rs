//! `columns`: how another program's file is read: shown, looked at by a person, and kept as a mapping.

use super::say_json;
use crate::error::{EXIT_DONE, Error, read_text};
use crate::io::Io;
use crate::spoken::agrees;
use celltriage_measure::mapping::{Guess, Mapping};
use celltriage_report::columns_page::columns_page;
use celltriage_workshop::columns::columns_of;
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Ending of the file that a mapping is kept in, beside the trace.
const ENDING: &str = "columns.toml";

/// Options of `columns`.
#[derive(Debug, Args)]
pub struct ColumnsArguments {
    /// The file of another program or instrument, as text.
    #[arg(value_name = "TRACE")]
    pub trace: PathBuf,
    /// Look at what this mapping gives instead of guessing one.
    #[arg(long, value_name = "FILE")]
    pub columns: Option<PathBuf>,
    /// Write the mapping into this file; by default, once confirmed, beside the trace.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Your name: you have looked at the table, and the file is to be read so.
    #[arg(long, value_name = "NAME", env = "CELLTRIAGE_PERSON", hide_env_values = true)]
    pub by: Option<String>,
    /// As JSON; nobody is asked.
    #[arg(long)]
    pub json: bool,
}

/// Runs `columns`.
///
/// # Errors
/// An input error where the file cannot be read, where it gives no trace and is to be confirmed, and where the mapping cannot be
/// written.
pub fn run(arguments: &ColumnsArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let file = &arguments.trace;
    let bytes = std::fs::read(file)
        .map_err(|error| Error::input(format!("cannot read {}: {error}", file.display())))?;
    let given = arguments.columns.as_deref().map(read_mapping).transpose()?;
    let mut guess = columns_of(file, &bytes, given)?;
    if arguments.json {
        say_json(&as_json(&guess), io)?;
    } else {
        io.show(&columns_page(&file.display().to_string(), &guess));
    }
    guess.mapping.confirmed_by = match &arguments.by {
        Some(name) if is_confirmed(arguments.json, io) => Some(name.clone()),
        _ => None,
    };
    if guess.mapping.confirmed_by.is_some() && guess.trace.is_err() {
        return Err(Error::input("read so, the file gives no trace; nothing is confirmed".to_owned()).hint(
            "write the mapping with --out FILE, correct it there, and look again with --columns FILE",
        ));
    }
    let out = match (&arguments.out, &arguments.columns) {
        (Some(out), _) | (None, Some(out)) => Some(out.clone()),
        (None, None) => guess.mapping.confirmed_by.as_ref().map(|_| file.with_extension(ENDING)),
    };
    let Some(out) = out.filter(|_| arguments.out.is_some() || guess.mapping.confirmed_by.is_some()) else {
        let shown = file.display();
        io.note(&format!(
            "to keep it: celltriage columns {shown} --by NAME; to change it first: celltriage columns {shown} --out FILE"
        ));
        return Ok(EXIT_DONE);
    };
    write(&out, &guess.mapping, arguments.columns.as_deref())?;
    let then = if guess.mapping.confirmed_by.is_some() {
        format!("celltriage grade {} --columns {}", file.display(), out.display())
    } else {
        format!("celltriage columns {} --columns {} --by NAME", file.display(), out.display())
    };
    io.note(&format!("written to {}; next: {then}", out.display()));
    Ok(EXIT_DONE)
}

/// Reads a mapping from its file.
pub(super) fn read_mapping(path: &Path) -> Result<Mapping, Error> {
    let text = read_text(path, "mapping")?;
    Mapping::from_toml(&text, &path.display().to_string()).map_err(|faults| Error::input(faults.to_string()))
}

/// Asks whoever sits there; without a terminal the name alone answers.
fn is_confirmed(json: bool, io: &mut Io<'_>) -> bool {
    match io.ask.as_mut().filter(|_| !json) {
        Some(ask) => ask("Is the file to be read so? [y/n] ").is_some_and(|line| agrees(&line)),
        None => true,
    }
}

/// Writes a mapping; a file that is there is kept, but for the one that was looked at.
fn write(out: &Path, mapping: &Mapping, looked_at: Option<&Path>) -> Result<(), Error> {
    if out.exists() && looked_at != Some(out) {
        let text = format!("{} is there already; nothing is written", out.display());
        return Err(
            Error::input(text).hint("give another name with --out FILE, or look at it with --columns FILE")
        );
    }
    let text = mapping.to_toml().map_err(Error::input)?;
    std::fs::write(out, text)
        .map_err(|error| Error::input(format!("cannot write {}: {error}", out.display())))
}

fn as_json(guess: &Guess) -> serde_json::Value {
    let rows = guess.trace.as_ref().ok().map(|trace| trace.points.len());
    json!({
        "schema": "celltriage.columns/1",
        "mapping": guess.mapping,
        "doubts": guess.doubts,
        "not_read": guess.not_used,
        "rows": rows,
        "no_trace": guess.trace.as_ref().err(),
    })
}
