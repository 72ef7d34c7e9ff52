//! What a watch hands over to be kept: a [`Writer`] brings it into the book, and the watch never waits for that.
//!
//! A book that is locked, full, damaged, gone or that hangs ends no watch: a cell that turns hot matters more than its record.
//! The keeper tells once that nothing is kept, and when it is kept again; what the book has not taken at the end is put beside
//! it.

use super::alarm::Alarm;
use super::record::{AlarmRecord, SCHEMA, WatchRecord, alarm_entry, watch_entry};
use celltriage_book::{Kept, News, PATIENCE, RETRY_EVERY, RecordingNumber, RecordingTerms, Writer};
use jiff::Timestamp;
use std::path::Path;
use std::time::Duration;

/// So much is held in memory at most (our choice: eleven days of a reading each two seconds, at 130 bytes).
const MOST_BYTES: usize = 64 << 20;
/// So long the book may take for its first word before the watch begins: nobody sees the cell yet, but it is soon enough
/// (our choice).
const FIRST_WORD: Duration = Duration::from_millis(500);

/// Keeps one watch.
pub struct Keeper {
    writer: Writer,
    cell: String,
    fixture: String,
    /// Alarms that cannot be written, in words.
    unwritten: Vec<String>,
}

impl Keeper {
    /// Begins to keep a watch in a book; where there is none, one is begun.
    pub fn open(path: &Path, cell: &str, began: Timestamp) -> Self {
        let terms =
            RecordingTerms { book: path.to_owned(), cell: cell.to_owned(), began, most_bytes: MOST_BYTES };
        Self::with(Writer::begin(terms), cell)
    }

    /// The same with a writer of any store.
    pub fn with(writer: Writer, cell: &str) -> Self {
        Self { writer, cell: cell.to_owned(), fixture: String::new(), unwritten: Vec::new() }
    }

    /// Returns the recording that grows, once it is begun.
    pub fn recording(&self) -> Option<RecordingNumber> {
        self.writer.recording()
    }

    /// Takes down which fixture it is.
    pub(super) fn on(&mut self, fixture: &str) {
        fixture.clone_into(&mut self.fixture);
    }

    /// Waits a moment for the book's first word, before anything is watched.
    pub(super) fn wait_for_first_word(&self) {
        self.writer.wait_for_first_word(FIRST_WORD);
    }

    /// Takes a frame.
    pub(super) fn frame(&self, frame: &[u8]) {
        self.writer.push(frame);
    }

    /// Takes an alarm that was told; it goes to the disk at once.
    pub(super) fn alarm(&mut self, alarm: Alarm, at: Timestamp) {
        let recording = self.recording().map_or(0, i64::from);
        let record = AlarmRecord { schema: SCHEMA, fixture: self.fixture.clone(), alarm, recording };
        match alarm_entry(&self.cell, &record, at) {
            Ok(entry) => self.writer.enter(entry),
            Err(error) => self.unwritten.push(error.to_string()),
        }
    }

    /// Returns what is to be told of the book and was not yet.
    pub(super) fn news(&mut self) -> Vec<String> {
        let book = self.writer.book().display().to_string();
        let cannot = |why: String| format!("an alarm is not kept, for it cannot be written down: {why}");
        let unwritten: Vec<String> = self.unwritten.drain(..).map(cannot).collect();
        let news = self.writer.news();
        unwritten.into_iter().chain(news.into_iter().map(|news| words(&news, &book))).collect()
    }

    /// Writes the whole watch, this time waiting for the book as long as is usual; what it does not take is put beside it.
    pub fn finish(self, record: &WatchRecord, at: Timestamp) -> Kept {
        match watch_entry(&self.cell, record, at) {
            Ok(entry) => self.writer.finish(entry, PATIENCE),
            Err(error) => {
                let why = format!("the watch cannot be written down: {error}");
                Kept::Nowhere { beside: why.clone(), why }
            }
        }
    }
}

fn words(news: &News, book: &str) -> String {
    match news {
        News::NotKept(why) => format!(
            "THE WATCH GOES ON BUT IS NOT KEPT: {why}. Alarms still ring; the book is tried again every {} s",
            RETRY_EVERY.as_secs()
        ),
        News::KeptAgain { lost_frames: 0 } => {
            format!("THE WATCH IS KEPT AGAIN by the book {book}; what waited in memory is in it")
        }
        News::KeptAgain { lost_frames } => format!(
            "THE WATCH IS KEPT AGAIN by the book {book}; {lost_frames} readings are missing, more than memory is kept for"
        ),
        News::Losing => {
            "memory is full of what the book has not taken: readings are lost from now on".to_owned()
        }
    }
}
