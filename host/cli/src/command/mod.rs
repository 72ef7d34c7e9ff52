//! One file per command; each takes what was typed and the outside world, and returns an exit code.

pub mod assess;
pub mod batch;
pub mod book;
pub mod columns;
pub mod come_back;
pub mod completions;
pub mod container;
pub mod demo;
pub mod due;
mod entered;
pub mod explain;
pub mod finding;
pub mod fixture;
pub mod grade;
pub mod grade_many;
pub mod guided;
pub mod hot_cell_watch;
pub mod irregularity;
pub mod judge;
mod known_first;
pub mod label;
mod lead_on;
pub mod leave;
pub mod manual;
pub mod model;
pub mod origin;
mod printed;
mod put_away;
pub mod receive;
pub mod report;
pub mod rules;
mod same_label;
pub mod settings;
pub mod shipment;
mod shown;
mod stands_now;
pub mod tag;
pub mod trial;

use crate::error::Error;
use crate::io::Io;

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
