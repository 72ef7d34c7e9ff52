//! What a watch hands over to be kept: into the book as soon as it can, in memory until then. The watch never waits for it.
//!
//! A book that is locked, full, damaged or not there ends no watch: a cell that turns hot matters more than its record. The
//! keeper tells once that nothing is kept, tries again every few seconds, and tells when it is kept again.

use super::alarm::Alarm;
use super::record::{AlarmRecord, SCHEMA, WatchRecord, write_alarm, write_watch};
use super::unkept::Unkept;
use celltriage_book::{Book, BookError, Entry, PATIENCE, RecordingNumber, SHORT_PATIENCE};
use jiff::Timestamp;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How often the recording is brought to the disk, and a book that could not be written is tried again.
const FLUSH_EVERY: Duration = Duration::from_secs(2);
/// A recording that grows faster than this is brought to the disk earlier.
const FLUSH_BYTES: usize = 64 * 1024;
/// So much waits in memory at most (our choice: eleven days of a reading each two seconds, at 130 bytes).
const MOST_WAITING: usize = 64 << 20;

/// Keeps one watch.
pub struct Keeper {
    path: PathBuf,
    cell: String,
    fixture: String,
    began: Timestamp,
    book: Option<Book>,
    recording: Option<RecordingNumber>,
    frames: Vec<u8>,
    alarms: Vec<(Alarm, Timestamp)>,
    lost_frames: u64,
    tried_at: Instant,
    /// Why nothing is kept at present.
    trouble: Option<String>,
}

impl Keeper {
    /// Opens the book, if it can be opened, for a watch that begins now.
    pub fn open(path: &Path, cell: &str, began: Timestamp) -> Self {
        let mut keeper = Self {
            path: path.to_owned(),
            cell: cell.to_owned(),
            fixture: String::new(),
            began,
            book: None,
            recording: None,
            frames: Vec::new(),
            alarms: Vec::new(),
            lost_frames: 0,
            tried_at: Instant::now(),
            trouble: None,
        };
        // Why not, is told as soon as there is something to keep.
        let _told_later = keeper.open_book();
        keeper
    }

    /// Returns the book, where it is open.
    pub fn book(&self) -> Option<&Book> {
        self.book.as_ref()
    }

    /// Returns the recording that grows, once it is begun.
    pub fn recording(&self) -> Option<RecordingNumber> {
        self.recording
    }

    /// Takes down which fixture it is.
    pub(super) fn on(&mut self, fixture: &str) {
        fixture.clone_into(&mut self.fixture);
    }

    /// Takes a frame, and brings what waits to the disk from time to time. Returns what is to be told.
    pub(super) fn frame(&mut self, frame: &[u8]) -> Option<String> {
        if self.frames.len() + frame.len() > MOST_WAITING {
            self.lost_frames = self.lost_frames.saturating_add(1);
        } else {
            self.frames.extend_from_slice(frame);
        }
        let full = self.frames.len() >= FLUSH_BYTES && self.trouble.is_none();
        if full || self.tried_at.elapsed() >= FLUSH_EVERY { self.try_now() } else { None }
    }

    /// Takes an alarm that was told, and tries at once to bring it to the disk. Returns what is to be told.
    pub(super) fn alarm(&mut self, alarm: Alarm, at: Timestamp) -> Option<String> {
        self.alarms.push((alarm, at));
        self.try_now()
    }

    /// Brings what waits to the disk, without waiting for other programs. Returns what is to be told, if that has changed.
    pub(super) fn try_now(&mut self) -> Option<String> {
        let done = self.write();
        self.tried_at = Instant::now();
        match (done, &self.trouble) {
            (Ok(()), None) => None,
            (Ok(()), Some(_)) => {
                self.trouble = None;
                let missing = match self.lost_frames {
                    0 => "; what waited in memory is in it".to_owned(),
                    lost => format!("; {lost} readings are missing, more than memory is kept for"),
                };
                Some(format!("THE WATCH IS KEPT AGAIN by the book {}{missing}", self.path.display()))
            }
            (Err(why), before) => {
                let first = before.is_none();
                let text = format!(
                    "THE WATCH GOES ON BUT IS NOT KEPT: {why}. Alarms still ring; the book is tried again \
                     every {} s",
                    FLUSH_EVERY.as_secs()
                );
                self.trouble = Some(why.to_string());
                first.then_some(text)
            }
        }
    }

    /// Writes the whole watch, this time waiting for other programs as long as is usual.
    ///
    /// # Errors
    /// What could not be kept, to be put beside the book.
    pub fn finish(mut self, record: &WatchRecord, at: Timestamp) -> Result<Entry, Box<Unkept>> {
        if let Some(book) = &mut self.book {
            let _the_usual_patience_is_no_condition = book.wait_at_most(PATIENCE);
        }
        let written = self.write().and_then(|()| match (&mut self.book, self.recording) {
            (Some(book), Some(recording)) => {
                write_watch(book, &self.cell, record, recording, at).map_err(|error| error.to_string())
            }
            _ => Err(format!("book {}: it is not open", self.path.display())),
        });
        written.map_err(|why| {
            Box::new(Unkept {
                book: self.path,
                why,
                cell: self.cell,
                at,
                record: record.clone(),
                alarms: self.alarms,
                recording: self.recording.map(i64::from),
                frames: self.frames,
                lost_frames: self.lost_frames,
            })
        })
    }

    /// Opens the book where it is not open, in the way that keeps nobody waiting.
    fn open_book(&mut self) -> Result<&mut Book, String> {
        match &mut self.book {
            Some(book) => Ok(book),
            none => {
                let book =
                    Book::open_within(&self.path, SHORT_PATIENCE).map_err(|error| error.to_string())?;
                Ok(none.insert(book))
            }
        }
    }

    /// Writes what waits, in its order, and takes out what is on the disk.
    fn write(&mut self) -> Result<(), String> {
        let words = |error: BookError| error.to_string();
        self.open_book()?;
        let Some(book) = &mut self.book else { return Ok(()) };
        let recording = match self.recording {
            Some(recording) => recording,
            None => *self.recording.insert(book.begin_recording(&self.cell, self.began).map_err(words)?),
        };
        if !self.frames.is_empty() {
            book.append_recording(recording, &self.frames).map_err(words)?;
            self.frames.clear();
        }
        while let Some((alarm, at)) = self.alarms.first() {
            let (fixture, recording) = (self.fixture.clone(), recording.into());
            let record = AlarmRecord { schema: SCHEMA, fixture, alarm: *alarm, recording };
            write_alarm(book, &self.cell, &record, *at).map_err(words)?;
            self.alarms.remove(0);
        }
        Ok(())
    }
}
