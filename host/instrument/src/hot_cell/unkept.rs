//! Alarms that lie beside the book because it did not take them: until they are in it, they bar a load as if they were.
//!
//! Today's program puts small books there ([`aside`]); an older one put a JSON file (`BOOK.unkept-TIME-NUMBER.json`).

use super::alarm::Alarm;
use super::record::{ALARM, AlarmRecord};
use celltriage_book::{Book, BookError, Subject, aside, files};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Returns the files in which an alarm may lie beside a book: small books, and the files of an older program.
pub fn beside(book: &Path) -> Vec<PathBuf> {
    let mut found = files::named_after(book, files::folder_of(book), "unkept-", ".json");
    found.extend(aside::beside(book));
    found
}

/// Returns the alarm about a cell that such a file holds; a file that cannot be read may hold one about any cell.
pub fn alarm_about(file: &Path, cell: &str) -> Option<String> {
    let unreadable = || Some("a file that cannot be read".to_owned());
    if file.extension().is_none_or(|ending| ending != "json") {
        return alarm_in(file, cell).unwrap_or_else(|_| unreadable());
    }
    let Ok(text) = std::fs::read_to_string(file) else { return unreadable() };
    let Ok(told) = serde_json::from_str::<Value>(&text) else { return unreadable() };
    if told.get("cell").and_then(Value::as_str) != Some(cell) {
        return None;
    }
    let alarms = told.get("alarms_not_in_the_book").and_then(Value::as_array).cloned().unwrap_or_default();
    alarms.into_iter().find_map(|one| {
        // An alarm that cannot be read is one.
        match serde_json::from_value::<Alarm>(one.get("alarm").cloned().unwrap_or_default()) {
            Ok(alarm) => alarm.cause.is_about_the_cell().then(|| alarm.title()),
            Err(_) => unreadable(),
        }
    })
}

/// The same for a small book.
fn alarm_in(file: &Path, cell: &str) -> Result<Option<String>, BookError> {
    let book = Book::open_read_only(file)?;
    let alarms = book.records::<AlarmRecord>(ALARM, &Subject::cell(cell))?;
    // The gravest, the earliest of them.
    let about =
        alarms.into_iter().map(|(_, record)| record.alarm).filter(|alarm| alarm.level_of_cell().is_some());
    let gravest = about.min_by_key(|alarm| std::cmp::Reverse(alarm.level_of_cell()));
    Ok(gravest.map(|alarm| alarm.title()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hot_cell::alarm::{Cause, Level};
    use crate::hot_cell::record::{SCHEMA, alarm_entry};
    use celltriage_book::{PATIENCE, Rest};
    use jiff::Timestamp;

    fn put(book: &Path, cell: &str, cause: Cause) {
        let warm = cause == Cause::OverAir;
        let level = if warm { Level::Warm } else { Level::Reacting };
        let level = cause.is_about_the_cell().then_some(level);
        let alarm = Alarm { cause, level, value: 61.0, limit: 60.0, at_s: 5.0 };
        let record = AlarmRecord { schema: SCHEMA, fixture: "0001".into(), alarm, recording: 0 };
        let entry = alarm_entry(cell, &record, Timestamp::UNIX_EPOCH).unwrap();
        let kept = aside::keep(Rest::entry(book.to_owned(), "it is locked".into(), entry), PATIENCE);
        assert!(kept.not_kept().is_some());
    }

    #[test]
    fn a_small_book_bars_the_cell_of_its_alarm_and_one_that_cannot_be_read_bars_every_cell() {
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("book.sqlite");
        put(&book, "PE-1", Cause::Hot);
        put(&book, "PE-2", Cause::LinkLost);
        put(&book, "PE-4", Cause::OverAir);
        let bars = |cell: &str| beside(&book).iter().find_map(|file| alarm_about(file, cell));
        assert_eq!(bars("PE-1").as_deref(), Some("reacting: the cell is hot"));
        assert_eq!(bars("PE-2"), None, "nobody has seen anything of the cell");
        assert_eq!(bars("PE-3"), None);
        assert!(
            bars("PE-4").is_some_and(|why| why.starts_with("warm: ")),
            "a warm cell is not loaded either"
        );
        std::fs::write(beside(&book).remove(0), b"no longer a book").unwrap();
        assert_eq!(bars("PE-3").as_deref(), Some("a file that cannot be read"));
    }
}
