//! Where an entry was written: said after every write, in one form.

use crate::io::Io;
use std::fmt::Display;
use std::path::Path;

/// Returns the words.
pub fn written(entry: impl Display, book: &Path) -> String {
    format!("written as entry {entry} of {}", book.display())
}

/// Says it beside the data.
pub fn tell_written(entry: impl Display, book: &Path, io: &mut Io<'_>) {
    io.note(&written(entry, book));
}
