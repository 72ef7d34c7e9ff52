//! What was not measured on a real cell: how an entry of the simulated bench is known, and what is said of it.
//!
//! A simulated cell says so wherever it is shown, is counted nowhere, and goes nowhere: one function tells it for a
//! decision, one for any entry of the book.

use crate::assessment::Circumstances;
use crate::error::Error;
use crate::record::ASSESSMENT;
use celltriage_book::Entry;
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};
use celltriage_instrument::simulated::is_simulated_source;
pub use celltriage_instrument::simulated::{
    BOARD, FIRST_LINE, KEPT_OFF, SIMULATED, is_board, is_simulated_fixture, marked,
};
use serde_json::Value;

/// Returns whether a decision is about a cell of the simulated bench: its link says so, or the board that measured it.
pub fn is_simulated(conditions: &Circumstances) -> bool {
    is_simulated_source(&conditions.source, conditions.fixture.as_deref())
}

/// Returns whether an entry is about a simulated cell; nothing where it tells neither that nor the contrary.
pub fn of_entry(entry: &Entry) -> Option<bool> {
    let text = |value: &Value, place: &str| value.pointer(place).and_then(Value::as_str).map(str::to_owned);
    match entry.kind.as_str() {
        ASSESSMENT => {
            let source = text(&entry.result, "/conditions/source")?;
            Some(is_simulated_source(&source, text(&entry.result, "/conditions/fixture").as_deref()))
        }
        ALARM | WATCH => text(&entry.inputs, "/fixture").map(|fixture| is_simulated_fixture(&fixture)),
        _ => None,
    }
}

/// Says that a run would mix what is simulated with what is real under one name.
pub fn mixed(cell: &str, simulated_run: bool) -> Error {
    let (run, there) = if simulated_run { ("simulated", "real") } else { ("real", "simulated") };
    let what = format!("the book has {there} entries of cell {cell}; a {run} run is not written beside them");
    Error::input(format!("{what}; nothing was measured"))
        .hint("take another name with --id, or another book with --book")
        .hint("where an earlier entry is wrong, a person strikes it: celltriage container correct ENTRY --strike")
}
