//! The book: every entry, every input and every raw frame, written once and never changed.
//!
//! Input: new entries and recordings; output: them, and whether they are still what was written. One SQLite file
//! on a local disk, with write-ahead log and a full sync at each commit: what was acknowledged survives a crash of the
//! program, and of the machine as far as the disk keeps what it acknowledged. Several processes may write at once.
//!
//! - The database itself refuses to change or remove a row (triggers), and each entry carries a digest over its contents
//!   and the entry before, so that an edit made past the triggers shows ([`Book::verify`]).
//! - A mistake is corrected by another entry that names the first; both stay.
//! - Raw frames are written while a cell is measured ([`Book::begin_recording`]); a crash leaves an unfinished recording
//!   that stays listed.
//!
//! A file that is not a book is not opened for writing, so it cannot be altered by mistake.

mod append;
mod blanking;
mod checkpoint;
mod copies;
mod digest;
mod entry;
mod error;
pub mod files;
mod folding;
mod identity;
mod kept;
mod key;
mod lz4;
#[cfg(any(test, feature = "test-support"))]
mod memory;
mod merge;
mod personal;
mod read;
mod record;
mod recording;
mod recording_number;
mod row_copy;
mod rows;
mod salvage;
mod seal;
mod sort;
mod sqlite;
mod store;
mod subject;
#[cfg(test)]
mod tests;
mod texts;
mod verify;
mod words;
mod writer;

use std::path::{Path, PathBuf};
use std::time::Duration;

pub use blanking::BLANKED_KIND;
pub use checkpoint::{ChainHead, Checkpoint, Held};
pub use copies::Copied;
pub use digest::{Digest, NotADigest};
pub use entry::{Attachment, Entry, Head, NewAttachment, NewEntry, PROGRAM};
pub use error::{BookError, Problem};
pub use folding::{FOLDED_AT_ONCE, FoldError, Folded, MOST_BEHIND, Next};
pub use identity::{Chain, Id, Identity};
pub use kept::{Change, Fold};
pub use key::{Key, NotACheckpoint, SecretKey};
pub use merge::Merged;
pub use personal::BLANKED;
pub use read::Filter;
pub use recording::{Recording, UnfinishedRecording};
pub use recording_number::RecordingNumber;
pub use salvage::{LOST_KIND, Saved};
pub use sort::Sort;
pub use subject::{Subject, SubjectKind};
pub use verify::{BookFault, Verification};
pub use writer::{
    Acknowledged, Done, Kept, News, Queue, RETRY_EVERY, RecordingTerms, Rest, RestEntry, Work, Worker,
    Writer, aside, record_entry,
};

use sqlite::Sqlite;
use store::{Rows, RowsMut, Store};

/// The format in which books are written; older ones are brought up to date when they are opened to write.
pub const FORMAT: i64 = sqlite::schema::VERSION;

/// What a bench is called that nobody has given a name.
pub const BENCH: &str = "bench 1";
/// How long a request waits for another program's write. A write takes milliseconds, finishing the longest recording
/// (5 h at 1 kHz, about 100 MB) around a second; ten seconds is a program that hangs.
pub const PATIENCE: Duration = Duration::from_secs(10);
/// The same for a request that must not keep a running measurement or a watch waiting: long enough for the write of another
/// program, short beside the 3 s after which the fixture takes the host for gone (our choice).
pub const SHORT_PATIENCE: Duration = Duration::from_millis(150);

/// An open book.
#[derive(Debug)]
pub struct Book {
    path: PathBuf,
    store: Box<dyn Store>,
    copied_to: Option<PathBuf>,
    /// It has no entries and keeps what is drawn from those of another book, to be compared.
    scratch: bool,
}

impl Book {
    /// Opens a book to read and write, and begins one where there is no file or an empty one.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, BookError> {
        Self::open_within(path, PATIENCE)
    }

    /// The same; this and every later request waits for another program's write no longer than this.
    pub fn open_within(path: impl AsRef<Path>, patience: Duration) -> Result<Self, BookError> {
        Self::open_at(path, patience, BENCH)
    }

    /// The same for a bench that has a name: a book that is begun now names its chain by it.
    pub fn open_at(path: impl AsRef<Path>, patience: Duration, bench: &str) -> Result<Self, BookError> {
        let path = path.as_ref();
        let opened = Sqlite::open(path, patience, bench).map_err(|problem| problem.at(path))?;
        let copied_to = opened.copy.clone();
        let book = Self { path: path.to_owned(), store: Box::new(opened), copied_to, scratch: false };
        // Nothing is added behind an entry that is not what was written.
        book.tail_fits()?;
        Ok(book)
    }

    /// Begins a book in memory, for tests: it is gone with this value, and has no file.
    ///
    /// # Errors
    /// None; it is begun as any other book is.
    #[cfg(any(test, feature = "test-support"))]
    pub fn in_memory() -> Result<Self, BookError> {
        let mut book = Self::over(Box::new(memory::Memory::without_identity()), "a book in memory");
        book.write(|rows| {
            let id = Id(rows.random()?);
            rows.add_book(id)?;
            rows.add_chain(&Chain { id, bench: BENCH.to_owned(), home: true })
        })?;
        Ok(book)
    }

    /// Takes a database that holds a book, which errors are to call so.
    #[cfg(any(test, feature = "test-support"))]
    fn over(store: Box<dyn Store>, called: &str) -> Self {
        Self { path: called.into(), store, copied_to: None, scratch: false }
    }

    /// Opens a book that is there, to read only.
    pub fn open_read_only(path: impl AsRef<Path>) -> Result<Self, BookError> {
        let path = path.as_ref();
        let opened = Sqlite::open_read_only(path).map_err(|problem| problem.at(path))?;
        Ok(Self { path: path.to_owned(), store: Box::new(opened), copied_to: None, scratch: false })
    }

    /// The same; an older book that may be written is brought up to date first.
    pub fn open_to_read(path: impl AsRef<Path>) -> Result<Self, BookError> {
        match Self::open_read_only(&path) {
            Err(older @ BookError { problem: Problem::OlderVersion { .. }, .. }) => {
                let copied_to = match Self::open(&path) {
                    Err(error) if error.problem.is_about_the_place() => return Err(older),
                    opened => opened?.copied_to,
                };
                Ok(Self { copied_to, ..Self::open_read_only(&path)? })
            }
            opened => opened,
        }
    }

    /// Returns a place that goes away with this value, where what is drawn from the entries of this book can be kept once more and
    /// compared with what it keeps itself.
    pub fn scratch(&self) -> Result<Self, BookError> {
        let opened = Sqlite::scratch().map_err(|problem| problem.at(&self.path))?;
        Ok(Self { path: self.path.clone(), store: Box::new(opened), copied_to: None, scratch: true })
    }

    /// Returns where the book was copied to before this opening changed its format, if it did.
    pub fn copied_to(&self) -> Option<&Path> {
        self.copied_to.as_deref()
    }

    /// Sets how long each request from now on waits for another program's write.
    pub fn wait_at_most(&mut self, patience: Duration) -> Result<(), BookError> {
        self.store.wait_at_most(patience).map_err(|problem| problem.at(&self.path))
    }

    /// Returns the file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Returns who the book is: its name, the chains in it, and whether it is of real cells or of simulated ones.
    pub fn identity(&self) -> Result<Identity, BookError> {
        self.read(|rows| rows.identity())
    }

    /// Says whether the book takes entries about simulated cells, or about real ones.
    ///
    /// # Errors
    /// [`Problem::OtherSort`].
    pub fn takes(&self, simulated: bool) -> Result<(), BookError> {
        match self.identity()?.sort {
            Some(sort) if !sort.takes(simulated) => Err(Problem::OtherSort { sort }.at(&self.path)),
            _ => Ok(()),
        }
    }

    /// Asks several questions at one state of the book, whatever others write meanwhile; what is asked inside of another such
    /// call is of the same state.
    ///
    /// # Errors
    /// Those of the questions, and a book that cannot be read.
    pub fn at_one_state<T, E: From<BookError>>(&self, ask: impl FnOnce() -> Result<T, E>) -> Result<T, E> {
        struct LetGo<'a>(&'a dyn Store);
        impl Drop for LetGo<'_> {
            fn drop(&mut self) {
                self.0.let_go();
            }
        }
        let held = self.store.hold().map_err(|problem| problem.at(&self.path))?;
        let _until_the_end = held.then(|| LetGo(&*self.store));
        ask()
    }

    /// Runs a request that reads, all of it at one state of the book.
    fn read<T>(&self, mut request: impl FnMut(&dyn Rows) -> Result<T, Problem>) -> Result<T, BookError> {
        let mut answer = None;
        let done = self.store.read(&mut |rows| {
            answer = Some(request(rows)?);
            Ok(())
        });
        answered(done, answer).map_err(|problem| problem.at(&self.path))
    }

    /// Runs a request that writes: all of it is on the disk when this returns, or nothing after an error.
    fn write<T>(
        &mut self,
        mut request: impl FnMut(&mut dyn RowsMut) -> Result<T, Problem>,
    ) -> Result<T, BookError> {
        let mut answer = None;
        let done = self.store.write(&mut |rows| {
            answer = Some(request(rows)?);
            Ok(())
        });
        answered(done, answer).map_err(|problem| problem.at(&self.path))
    }
}

/// A request that was done has an answer.
fn answered<T>(done: Result<(), Problem>, answer: Option<T>) -> Result<T, Problem> {
    done?;
    answer.ok_or_else(|| Problem::Corrupt { detail: "the database did not run the request".into() })
}
