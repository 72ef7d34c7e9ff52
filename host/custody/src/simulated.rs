//! Which entries of the book are about simulated cells.

use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::{Entry, Head};
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};
use celltriage_instrument::simulated::{is_simulated_fixture, is_simulated_source};
use serde_json::Value;

/// Returns the same by the head alone, for entries that say it themselves.
pub fn of_head(head: &Head) -> Option<bool> {
    head.simulated.filter(|_| [ASSESSMENT, ALARM, WATCH].contains(&head.kind.as_str()))
}

/// Returns whether an entry is about a simulated cell; `None` if it says neither that nor the contrary.
pub fn of_entry(entry: &Entry) -> Option<bool> {
    let text = |value: &Value, place: &str| value.pointer(place).and_then(Value::as_str).map(str::to_owned);
    match entry.kind.as_str() {
        ASSESSMENT => {
            let source = text(&entry.result, "/conditions/source")?;
            let fixture = text(&entry.result, "/conditions/fixture");
            Some(is_simulated_source(&source, fixture.as_deref()))
        }
        ALARM | WATCH => text(&entry.inputs, "/fixture").map(|fixture| is_simulated_fixture(&fixture)),
        _ => None,
    }
}
