//! What was not measured on a real cell: how an entry of the simulated bench is known, and what is said of it.
//!
//! A simulated cell says so wherever it is shown, is counted nowhere, and goes nowhere: one function tells it for a
//! decision, one for any entry of the book.

use crate::assessment::Circumstances;
use crate::error::Error;
use crate::fixture::target::name_of;
use crate::hot_cell::record::{ALARM, WATCH};
use crate::link::SIMULATED_SERIAL;
use crate::record::ASSESSMENT;
use celltriage_book::Entry;
use serde_json::Value;

/// The word that stands with everything that is not of a real cell.
pub const SIMULATED: &str = "SIMULATED";
/// The word as the first line of a page or a paper.
pub const FIRST_LINE: &str = "SIMULATED: not a real cell, nothing to act on";
/// What the board of the simulated bench calls itself, also behind a serial port.
pub const BOARD: &str = "simulated";
/// How every link to the simulated bench of this program begins to describe itself.
const BENCH: &str = "simulated bench";
/// Source of a decision on a cell of the simulated bench that was kept off it.
pub const KEPT_OFF: &str = "simulated bench; no measurement";

/// Returns whether a decision is about a cell of the simulated bench: its link says so, or the board that measured it.
pub fn is_simulated(conditions: &Circumstances) -> bool {
    told(&conditions.source, conditions.fixture.as_deref())
}

fn told(source: &str, fixture: Option<&str>) -> bool {
    source.starts_with(BENCH) || fixture.is_some_and(is_board)
}

/// Returns whether a fixture, as a recording describes it, is a simulated board.
pub fn is_board(fixture: &str) -> bool {
    fixture.split_whitespace().next() == Some(BOARD)
}

/// Returns whether an entry is about a simulated cell; nothing where it tells neither that nor the contrary.
pub fn of_entry(entry: &Entry) -> Option<bool> {
    let text = |value: &Value, place: &str| value.pointer(place).and_then(Value::as_str).map(str::to_owned);
    match entry.kind.as_str() {
        ASSESSMENT => {
            let source = text(&entry.result, "/conditions/source")?;
            Some(told(&source, text(&entry.result, "/conditions/fixture").as_deref()))
        }
        ALARM | WATCH => text(&entry.inputs, "/fixture").map(|fixture| is_simulated_fixture(&fixture)),
        _ => None,
    }
}

/// Returns whether a fixture of the book, by its name there, is the simulated one.
pub fn is_simulated_fixture(name: &str) -> bool {
    name == name_of(SIMULATED_SERIAL)
}

/// Returns the line of a list with the word, where it is not there already.
pub fn marked(line: &str, simulated: bool) -> String {
    if simulated && !line.contains(SIMULATED) { format!("{line} [{SIMULATED}]") } else { line.to_owned() }
}

/// Says that a run would mix what is simulated with what is real under one name.
pub fn mixed(cell: &str, simulated_run: bool) -> Error {
    let (run, there) = if simulated_run { ("simulated", "real") } else { ("real", "simulated") };
    let what = format!("the book has {there} entries of cell {cell}; a {run} run is not written beside them");
    Error::input(format!("{what}; nothing was measured"))
        .hint("take another name with --id, or another book with --book")
        .hint("where an earlier entry is wrong, a person strikes it: celltriage container correct ENTRY --strike")
}
