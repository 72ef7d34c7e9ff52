//! The watch over a cell that was or may become hot, from reaching the fixture to what is kept of it.
//!
//! Not a call on a [`Workshop`](crate::Workshop): a watch goes on without a book that opens, and neither the book nor a
//! clock in doubt ends it. What the book does not take is put beside it.

use crate::admission::not_mixed;
use crate::fault::Result;
use celltriage_book::{Book, Entry};
use celltriage_custody::State;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_instrument::connected::Connected;
use celltriage_instrument::hot_cell::keeper::Keeper;
use celltriage_instrument::hot_cell::record::WatchRecord;
use celltriage_instrument::hot_cell::unkept::Unkept;
use celltriage_instrument::hot_cell::watch::{HotCellWatch, Terms, WatchEvent};
use celltriage_instrument::simulated::BOARD;
use celltriage_link::Attendant;
use std::path::{Path, PathBuf};

/// A watch before its fixture is reached.
pub struct Prepared {
    terms: Terms,
    keeper: Keeper,
}

impl Prepared {
    /// Opens the book, if it can be opened.
    pub fn open(book: &Path, terms: Terms) -> Self {
        let keeper = Keeper::open(book, &terms.cell, terms.began);
        Self { terms, keeper }
    }

    /// Returns the book, if it is open: a face shows what it knows of the cell, and whether the clock is in doubt.
    pub fn book(&self) -> Option<&Book> {
        self.keeper.book()
    }

    /// Reaches the fixture.
    ///
    /// # Errors
    /// No fixture, or simulated and real entries of the cell would mix.
    pub fn reach(self, choice: &FixtureChoice) -> Result<Reached> {
        let Self { terms, keeper } = self;
        let connected = choice.connect(keeper.book())?;
        let simulated = connected.identity.board.as_str() == BOARD;
        let unread = match keeper.book() {
            Some(book) => compared(book, &terms.cell, simulated)?,
            None => None,
        };
        Ok(Reached { connected, terms, keeper, unread })
    }
}

/// Compares the fixture with what the book has of the cell; returns why that could not be read.
fn compared(book: &Book, cell: &str, simulated: bool) -> Result<Option<String>> {
    if let Err(error) = book.takes(simulated) {
        // A real cell may be hot at this moment: it is watched, whatever book was given.
        return if simulated { Err(error.into()) } else { Ok(Some(error.to_string())) };
    }
    match State::about(book, &[cell]) {
        Ok(state) => not_mixed(&state, cell, simulated).map(|()| None),
        // A real cell may be hot at this moment: it is watched, whatever the book is like.
        Err(error) if !simulated => Ok(Some(error.to_string())),
        Err(error) => Err(error.into()),
    }
}

/// A watch that can begin.
pub struct Reached {
    connected: Connected,
    terms: Terms,
    keeper: Keeper,
    unread: Option<String>,
}

impl Reached {
    /// Returns the fixture in one line.
    pub fn describe(&self) -> String {
        self.connected.describe()
    }

    /// Returns why the book says nothing of the cell although it is open.
    pub fn unread(&self) -> Option<&str> {
        self.unread.as_deref()
    }

    /// Watches to the end and keeps what was seen, beside the book if the book does not take it.
    ///
    /// # Errors
    /// The watch could not begin; nothing ends it by an error.
    pub fn watch(self, attendant: &mut dyn Attendant<WatchEvent>) -> Result<Watched> {
        let watch = HotCellWatch::begin(self.connected, self.terms, self.keeper)?;
        let (record, keeper, at) = watch.run(attendant);
        let kept = match keeper.finish(&record, at) {
            Ok(entry) => Kept::InBook(Box::new(entry)),
            Err(unkept) => Kept::beside(&unkept),
        };
        Ok(Watched { record, kept })
    }
}

/// A watch that has ended.
#[derive(Debug)]
pub struct Watched {
    /// What was seen.
    pub record: WatchRecord,
    /// Where it is kept.
    pub kept: Kept,
}

/// Where a watch is kept.
#[derive(Debug)]
pub enum Kept {
    /// In this entry of the book.
    InBook(Box<Entry>),
    /// In a file beside the book.
    Beside {
        /// Why the book did not take it.
        why: String,
        /// The file.
        file: PathBuf,
    },
    /// Nowhere.
    Nowhere {
        /// Why the book did not take it.
        why: String,
        /// Why it could not be put beside the book.
        beside: String,
    },
}

impl Kept {
    fn beside(unkept: &Unkept) -> Self {
        let why = unkept.why.clone();
        match unkept.put_beside() {
            Ok(file) => Self::Beside { why, file },
            Err(beside) => Self::Nowhere { why, beside },
        }
    }

    /// Returns the number of the entry.
    pub fn entry(&self) -> Option<u32> {
        match self {
            Self::InBook(entry) => Some(entry.number),
            Self::Beside { .. } | Self::Nowhere { .. } => None,
        }
    }

    /// Returns why the book did not take it.
    pub fn not_kept(&self) -> Option<&str> {
        match self {
            Self::InBook(_) => None,
            Self::Beside { why, .. } | Self::Nowhere { why, .. } => Some(why),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_book::{NewEntry, Subject};
    use celltriage_custody::event::Event;
    use jiff::Timestamp;
    use serde_json::json;

    #[test]
    fn a_book_whose_entries_cannot_be_read_keeps_no_real_cell_from_being_watched() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        assert_eq!(compared(&book, "PE-0405", false).unwrap(), None);
        let later = json!({ "schema": 9_999 });
        let new = NewEntry::of(Event::KINDS[0], Subject::cell("PE-0001"), Timestamp::UNIX_EPOCH);
        book.append_record(NewEntry { summary: "of a later program".into(), ..new }, &later).unwrap();
        assert!(compared(&book, "PE-0405", false).unwrap().is_some_and(|why| !why.is_empty()));
        assert!(compared(&book, "PE-0405", true).is_err(), "nobody is in danger from a simulated cell");
    }
}
