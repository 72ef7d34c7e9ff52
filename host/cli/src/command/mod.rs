//! One file per command; each takes what was typed and the outside world, and returns an exit code.

pub mod assess;
pub mod batch;
pub mod book;
pub mod container;
pub mod demo;
pub mod due;
pub mod explain;
pub mod finding;
pub mod fixture;
pub mod grade;
pub mod grade_many;
pub mod guided;
pub mod hot_cell_watch;
pub mod judge;
mod known_first;
pub mod model;
pub mod origin;
mod printed;
pub mod rules;
mod same_label;
pub mod settings;
pub mod shipment;
mod stands_now;
pub mod tag;
pub mod trial;

use crate::error::Error;
use crate::io::Io;
use celltriage_assessment::Assessment;
use celltriage_report::decision_page::decision_page;
use celltriage_verdict::KnownFinding;
use printed::Printed;

/// Returns data as JSON for machines.
///
/// # Errors
/// An input error where they cannot be written so.
fn in_json(value: &impl serde::Serialize) -> Result<String, Error> {
    serde_json::to_string_pretty(value).map_err(|error| Error::input(format!("cannot write JSON: {error}")))
}

/// Prints data as JSON.
///
/// # Errors
/// As [`in_json`].
fn say_json(value: &impl serde::Serialize, io: &mut Io<'_>) -> Result<(), Error> {
    io.say(&in_json(value)?);
    Ok(())
}

/// Shows an assessment: JSON for machines, a page for people.
///
/// # Errors
/// An error where the assessment cannot be written as JSON.
fn show(assessment: &Assessment, json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    show_below(&[], assessment, json, io)
}

/// Shows an assessment below what the book has found of the cell since.
///
/// # Errors
/// As [`show`].
fn show_below(
    since: &[KnownFinding],
    assessment: &Assessment,
    json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    if json {
        return say_json(&Printed::of(assessment, since), io);
    }
    io.show(&decision_page(since, assessment));
    Ok(())
}
