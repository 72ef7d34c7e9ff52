//! `book list`, `book find`: one line for each entry, and where it comes from.

use crate::command::say_json;
use crate::error::Error;
use crate::io::Io;
use celltriage_book::{Head, Sort};
use celltriage_custody::simulated::of_entry;
use celltriage_document::wrap::wrapped;
use celltriage_instrument::simulated::marked;
use celltriage_workshop::Workshop;
use celltriage_workshop::origin::{Origin, Origins};
use serde_json::{Value, json};

/// Shows the newest entries, and what was never judged.
///
/// # Errors
/// A book error.
pub(super) fn list(
    shop: &Workshop<'_>,
    (fate, most): (Option<&str>, u32),
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let listed = shop.entries(fate, most)?;
    let sort = shop.book().identity()?.sort;
    if let Some(line) = sort.and_then(of_sort).filter(|_| !as_json) {
        io.say(line);
    }
    rows(shop, &listed.entries, as_json, io)?;
    for unfinished in listed.unfinished {
        io.note(&format!(
            "note: recording {} of cell {} ({} bytes, begun {}) was never judged: the program ended before it",
            unfinished.number, unfinished.cell_id, unfinished.length, unfinished.at
        ));
    }
    Ok(())
}

/// What a book says of itself before its entries.
const fn of_sort(sort: Sort) -> Option<&'static str> {
    match sort {
        Sort::Real => None,
        Sort::Simulated => Some("SIMULATED: this book is of simulated cells and takes no others"),
        Sort::Mixed => {
            Some("this book holds real cells and simulated ones; each simulated one says SIMULATED")
        }
    }
}

/// Fewest columns that words need beside the columns of a row.
const ROOM: usize = 20;

/// Breaks a line that is too long between words; its columns (number, day, cell, fate) stay, and what goes on stands below
/// the last of them.
fn broken(line: &str, width: usize) -> String {
    if line.chars().count() <= width {
        return line.to_owned();
    }
    let columns = line.rfind("  ").map_or(0, |at| at + 2);
    let (columns, text) = line.split_at_checked(columns).unwrap_or(("", line));
    let taken = columns.chars().count();
    let (columns, taken, text) = if taken + ROOM <= width { (columns, taken, text) } else { ("", 2, line) };
    format!(
        "{columns}{}",
        wrapped(text, width.saturating_sub(taken)).join(&format!("\n{}", " ".repeat(taken)))
    )
}

/// Shows these entries, each in a line.
///
/// # Errors
/// A book error.
pub(super) fn rows(
    shop: &Workshop<'_>,
    entries: &[Head],
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let origins = shop.origins()?;
    if as_json {
        let rows: Vec<Value> = entries.iter().map(|entry| row(entry, &origins)).collect();
        return say_json(&rows, io);
    }
    for entry in entries {
        let day = entry.at.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
        // Also where the entry was written before the word stood in its line.
        let summary = marked(&entry.summary, of_entry(entry) == Some(true));
        let from = origins.of(entry).map_or_else(String::new, |origin| format!(" [{}]", in_words(&origin)));
        let line = format!("{:>5}  {day}  {summary}{from}", entry.number);
        // Who reads on gets one line an entry; a terminal would break it inside a word.
        let line = if io.screen { broken(&line, io.width) } else { line };
        io.say(&line);
    }
    if entries.is_empty() {
        io.note("no entries");
    }
    Ok(())
}

fn row(entry: &Head, origins: &Origins) -> Value {
    let mut row = json!({
        "number": entry.number, "at": entry.at.to_string(), "kind": entry.kind, "cell": entry.subject.name,
        "fate": entry.fate, "summary": entry.summary, "program": entry.program,
        "corrects": entry.corrects, "simulated": of_entry(entry),
    });
    if let (Some(members), Some(origin)) = (row.as_object_mut(), origins.of(entry)) {
        members.insert("from".to_owned(), in_json(&origin));
    }
    row
}

/// Says from which bench an entry comes, and its number there.
pub(super) fn in_words(origin: &Origin) -> String {
    match origin.from {
        Some((_, number)) => format!("from {}, entry {number} there", origin.bench_in_words()),
        None => format!("from {}", origin.bench_in_words()),
    }
}

/// The same for machines.
pub(super) fn in_json(origin: &Origin) -> Value {
    json!({
        "bench": origin.bench, "chain": origin.chain.to_string(),
        "book": origin.from.map(|(book, _)| book.to_string()), "number": origin.from.map(|(_, number)| number),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_that_is_too_long_breaks_between_words_below_its_last_column() {
        let row = "    7  2026-11-25 12:00  PE-1  REUSE   one two three four five six seven";
        assert_eq!(broken(row, 80), row);
        let told = broken(row, 60);
        let lines: Vec<&str> = told.trim_end().lines().collect();
        assert_eq!(lines.first(), Some(&"    7  2026-11-25 12:00  PE-1  REUSE   one two three four"));
        assert_eq!(lines.get(1).map(|line| line.trim_start()), Some("five six seven"));
        // No room beside the columns: below them.
        let narrow = broken(row, 40);
        assert!(narrow.lines().all(|line| line.chars().count() <= 40), "{narrow}");
        assert_eq!(narrow.split_whitespace().last(), Some("seven"));
    }
}
