//! One file per command; each takes what was typed and the outside world, and returns an exit code.

pub mod assess;
pub mod batch;
pub mod book;
pub mod container;
pub mod demo;
pub mod due;
pub mod explain;
pub mod fixture;
pub mod fixture_choice;
pub mod grade;
pub mod grade_many;
pub mod guided;
pub mod hot_cell_watch;
pub mod judge;
mod known_first;
pub mod model;
pub mod rules;
pub mod shipment;

use crate::assessment::Assessment;
use crate::error::Error;
use crate::io::Io;
use crate::output::{Style, decision_page};

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
    if json {
        let text =
            assessment.to_json().map_err(|error| Error::input(format!("cannot write JSON: {error}")))?;
        io.say(&text);
    } else {
        let page = decision_page(assessment, &Style::new(io.width, io.colour));
        io.say(&page);
    }
    Ok(())
}
