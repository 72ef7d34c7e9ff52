//! A number that names no cell, and an entry that has it: whoever typed the one may mean the other.

use crate::error::{Error, Kind};
use celltriage_book::{Book, Subject};

/// Adds how an entry is named, where a cell of that name is not in the book and an entry of that number is.
pub fn with_entry_hint(error: Error, book: &Book, cell: &str, command: &str) -> Error {
    let Some(entry) = number_of_entry(book, cell).filter(|_| error.kind == Kind::Input) else { return error };
    error.hint(format!("for the entry: celltriage {command} entry:{entry}"))
}

/// Adds whom an entry is about, for a command that takes cells only.
pub fn with_cell_hint(error: Error, book: &Book, cell: &str) -> Error {
    let Some(entry) = number_of_entry(book, cell).filter(|_| error.kind == Kind::Input) else { return error };
    let of = book.head(entry).ok().flatten().map_or_else(String::new, |head| head.subject.name);
    error.hint(format!("a cell is asked for; entry:{entry} is about {of}"))
}

fn number_of_entry(book: &Book, cell: &str) -> Option<u32> {
    let number = cell.parse().ok()?;
    let is_cell = book.entries_of(&Subject::cell(cell)).is_ok_and(|entries| !entries.is_empty());
    book.head(number).ok().flatten().filter(|_| !is_cell).map(|head| head.number)
}
