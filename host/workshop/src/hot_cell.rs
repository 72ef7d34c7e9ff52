//! The watch over a cell that was or may become hot, from reaching the fixture to what is kept of it.
//!
//! Not a call on a [`Workshop`](crate::Workshop): a watch goes on without a book that opens, and neither the book nor a
//! clock in doubt ends it. What the book does not take is put beside it.

use crate::admission::not_mixed;
use crate::fault::Result;
pub use celltriage_book::Kept;
use celltriage_book::{Book, SHORT_PATIENCE};
use celltriage_custody::State;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_instrument::connected::Connected;
use celltriage_instrument::hot_cell::keeper::Keeper;
use celltriage_instrument::hot_cell::record::WatchRecord;
use celltriage_instrument::hot_cell::watch::{HotCellWatch, Terms, WatchEvent};
use celltriage_instrument::simulated::BOARD;
use celltriage_link::Attendant;
use std::path::Path;
use std::sync::mpsc::channel;
use std::time::Duration;

/// So long the book may take to say what it has of the cell, before a watch begins (our choice: the cell may be hot already).
const LOOK_WITHIN: Duration = Duration::from_secs(2);

/// A watch before its fixture is reached.
pub struct Prepared {
    terms: Terms,
    keeper: Keeper,
    book: Option<Book>,
}

impl Prepared {
    /// Opens the book, if there is one and it answers soon.
    pub fn open(book: &Path, terms: Terms) -> Self {
        let keeper = Keeper::open(book, &terms.cell, terms.began);
        Self { terms, keeper, book: opened_soon(book) }
    }

    /// Returns the book, if it is open: a face shows what it knows of the cell, and whether the clock is in doubt.
    pub fn book(&self) -> Option<&Book> {
        self.book.as_ref()
    }

    /// Reaches the fixture.
    ///
    /// # Errors
    /// No fixture, or simulated and real entries of the cell would mix.
    pub fn reach(self, choice: &FixtureChoice) -> Result<Reached> {
        let Self { terms, keeper, book } = self;
        let connected = choice.connect(book.as_ref())?;
        let simulated = connected.identity.board.as_str() == BOARD;
        let unread = match &book {
            Some(book) => compared(book, &terms.cell, simulated)?,
            None => None,
        };
        Ok(Reached { connected, terms, keeper, unread })
    }
}

/// Opens a book that is there, and reads in it; `None` if that fails or its disk does not answer soon: no watch waits for it.
fn opened_soon(path: &Path) -> Option<Book> {
    let (give, taken) = channel();
    let path = path.exists().then(|| path.to_owned())?;
    let thread = std::thread::Builder::new().name("look into the book".to_owned());
    let begun = thread.spawn(move || {
        let book = Book::open_within(&path, SHORT_PATIENCE);
        let book = book.and_then(|book| book.time_of_last_entry().map(|_| book));
        let _nobody_may_wait_any_longer = give.send(book.ok());
    });
    begun.ok().and_then(|_| taken.recv_timeout(LOOK_WITHIN).ok().flatten())
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
        let kept = keeper.finish(&record, at);
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
