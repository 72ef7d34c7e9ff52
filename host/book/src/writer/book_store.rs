//! A book as a store: opened without waiting long for others, and left alone where its file is another than before.
//!
//! A file that was removed or replaced while it is open takes every write and keeps none that anybody finds again, so the path
//! is compared with what was opened before each piece of work.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use crate::{Book, BookError, NewEntry, Problem, RecordingNumber, SHORT_PATIENCE, UnfinishedRecording};

use super::same;
use super::worker::{Done, Work, Worker};

const ANOTHER: &str = "another file lies there than when this recording was begun";

/// What tells one file from another at the same path; on systems without such numbers only that there is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct FileNumbers(u64, u64);

impl FileNumbers {
    fn of(path: &Path) -> Option<Self> {
        let found = std::fs::metadata(path).ok()?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            Some(Self(found.dev(), found.ino()))
        }
        #[cfg(not(unix))]
        Some(Self(u64::from(found.is_file()), 0))
    }
}

/// A book as a store.
pub(super) struct BookStore {
    path: PathBuf,
    /// A book that was open in this program a moment ago is not begun again where its file is gone.
    must_be_there: bool,
    open: Option<(Book, FileNumbers)>,
    /// The file in which the recording was begun, with its cell and time: numbers of files are given again.
    begun: Option<(FileNumbers, String, Timestamp)>,
    /// An entry was refused in a way that does not say whether it was written.
    in_doubt: bool,
}

impl BookStore {
    /// Takes a path; nothing is opened yet.
    pub(super) fn at(path: &Path, must_be_there: bool) -> Self {
        Self { path: path.to_owned(), must_be_there, open: None, begun: None, in_doubt: false }
    }

    fn not_the_file(&self, what: &str) -> BookError {
        Problem::CannotOpen { detail: what.to_owned() }.at(&self.path)
    }

    fn open(&mut self, recording: Option<RecordingNumber>) -> Result<Done, BookError> {
        self.open = None;
        let found = FileNumbers::of(&self.path);
        if found.is_none() && (self.must_be_there || self.begun.is_some()) {
            return Err(self.not_the_file("its file was removed while it was in use"));
        }
        if self.begun.as_ref().is_some_and(|(file, ..)| found != Some(*file)) {
            return Err(self.not_the_file(ANOTHER));
        }
        let book = Book::open_within(&self.path, SHORT_PATIENCE)?;
        let recorded = match recording {
            Some(recording) => {
                let unfinished = book.unfinished_recordings()?;
                let left = unfinished.iter().find(|one| one.number == recording);
                let is_ours = |one: &&UnfinishedRecording| {
                    self.begun.as_ref().is_some_and(|(_, cell, at)| {
                        one.cell_id == *cell && one.at.as_millisecond() == at.as_millisecond()
                    })
                };
                if left.is_some_and(|one| !is_ours(&one)) {
                    return Err(self.not_the_file(ANOTHER));
                }
                left.map(|one| one.length)
            }
            None => None,
        };
        let Some(found) = FileNumbers::of(&self.path) else {
            return Err(self.not_the_file("its file was removed while it was in use"));
        };
        self.open = Some((book, found));
        Ok(Done::Opened { recorded })
    }
}

impl Worker for BookStore {
    fn perform(&mut self, work: &Work) -> Result<Done, BookError> {
        if let Work::Open { recording } = work {
            return self.open(*recording);
        }
        let here = FileNumbers::of(&self.path);
        let gone = self.not_the_file("its file was removed or replaced while it was in use");
        let Some((book, opened)) = self.open.as_mut() else {
            return Err(self.not_the_file("it is not open"));
        };
        if here != Some(*opened) {
            self.open = None;
            return Err(gone);
        }
        match work {
            Work::Open { .. } => Ok(Done::Opened { recorded: None }),
            Work::Begin { cell, at } => {
                let number = book.begin_recording(cell, *at)?;
                self.begun = Some((*opened, cell.clone(), *at));
                Ok(Done::Begun(number))
            }
            Work::Append { recording, bytes } => {
                book.append_recording(*recording, bytes).map(|()| Done::Appended)
            }
            Work::Enter(entry) => {
                if self.in_doubt
                    && let Some(written) = same::find(book, entry)?
                {
                    return Ok(Done::Entered(Box::new(written)));
                }
                let written = book.append(NewEntry::clone(entry));
                self.in_doubt =
                    written.as_ref().is_err_and(|error| !matches!(error.problem, Problem::Locked));
                written.map(|entry| Done::Entered(Box::new(entry)))
            }
        }
    }
}
