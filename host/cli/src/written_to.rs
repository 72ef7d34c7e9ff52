//! Where an entry was written: said after every write, in one form.

use crate::io::Io;
use celltriage_book::Book;
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

/// The newest entry before something that may write and then end with an error.
#[derive(Clone, Copy, Debug)]
pub struct Before(Option<u32>);

impl Before {
    /// Looks at the book.
    pub fn of(book: &Book) -> Self {
        Self(newest(book))
    }

    /// Says where the newest entry was written, if there is a newer one; a book that cannot be read is for others to report.
    pub fn tell_newer(self, book: &Book, io: &mut Io<'_>) {
        if let Some(entry) = newest(book).filter(|entry| Some(*entry) > self.0) {
            tell_written(entry, book.path(), io);
        }
    }
}

fn newest(book: &Book) -> Option<u32> {
    book.last().ok()?.map(|head| head.number)
}
