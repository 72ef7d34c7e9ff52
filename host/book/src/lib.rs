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
mod digest;
mod entry;
mod error;
mod read;
mod record;
mod recording;
mod recording_number;
mod row;
mod schema;
#[cfg(test)]
mod tests;
mod verify;
mod writer;

use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

pub use digest::{Digest, NotADigest};
pub use entry::{Attachment, Entry, NewAttachment, NewEntry, PROGRAM};
pub use error::{BookError, Problem};
pub use read::Filter;
pub use recording::{Recording, UnfinishedRecording};
pub use recording_number::RecordingNumber;
pub use verify::{BookFault, Verification};
pub use writer::{
    Acknowledged, Done, Kept, News, Queue, RETRY_EVERY, RecordingTerms, Rest, RestEntry, Store, Work, Writer,
    aside, record_entry,
};

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
    connection: Connection,
}

impl Book {
    /// Opens a book to read and write, and begins one where there is no file or an empty one.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, BookError> {
        Self::open_within(path, PATIENCE)
    }

    /// The same; this and every later request waits for another program's write no longer than this.
    pub fn open_within(path: impl AsRef<Path>, patience: Duration) -> Result<Self, BookError> {
        let path = path.as_ref();
        schema::look_at(path)
            .and_then(|_| open_to_write(path, patience))
            .map(|connection| Self { path: path.to_owned(), connection })
            .map_err(|problem| problem.at(path))
    }

    /// Opens a book that is there, to read only.
    pub fn open_read_only(path: impl AsRef<Path>) -> Result<Self, BookError> {
        let path = path.as_ref();
        open_to_read(path)
            .map(|connection| Self { path: path.to_owned(), connection })
            .map_err(|problem| problem.at(path))
    }

    /// Sets how long each request from now on waits for another program's write.
    pub fn wait_at_most(&mut self, patience: Duration) -> Result<(), BookError> {
        self.connection.busy_timeout(patience).map_err(|error| Problem::from(error).at(&self.path))
    }

    /// Returns the file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Runs a request that reads, all of it at one state of the book.
    fn read<T>(&self, request: impl FnOnce(&Connection) -> Result<T, Problem>) -> Result<T, BookError> {
        self.connection
            .unchecked_transaction()
            .map_err(Problem::from)
            .and_then(|transaction| request(&transaction))
            .map_err(|problem| problem.at(&self.path))
    }

    /// Runs a request that writes: all of it is on the disk when this returns, or nothing after an error.
    fn write<T>(
        &mut self,
        request: impl FnOnce(&Transaction<'_>) -> Result<T, Problem>,
    ) -> Result<T, BookError> {
        // Immediate: the lock comes first, so that two writers wait for each other and cannot both read the same last
        // number.
        self.connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(Problem::from)
            .and_then(|transaction| {
                let done = request(&transaction)?;
                transaction.commit()?;
                Ok(done)
            })
            .map_err(|problem| problem.at(&self.path))
    }
}

fn open_to_write(path: &Path, patience: Duration) -> Result<Connection, Problem> {
    let flags =
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    prepare(&connection, patience)?;
    connection.pragma_update(None, "synchronous", "full")?;
    // Elsewhere than on macOS these two do nothing; there a plain sync stops short of the drive.
    connection.pragma_update(None, "fullfsync", true)?;
    connection.pragma_update(None, "checkpoint_fullfsync", true)?;
    // Before the log is switched on, so that a book's header names it a book from its first commit.
    schema::bring_up_to_date(&mut connection)?;
    keep_a_write_ahead_log(&connection, patience)?;
    Ok(connection)
}

fn open_to_read(path: &Path) -> Result<Connection, Problem> {
    if schema::look_at(path)? == schema::Found::Nothing {
        return Err(Problem::Missing);
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    prepare(&connection, PATIENCE)?;
    schema::check_version(&connection)?;
    Ok(connection)
}

/// Sets what holds for a connection only and changes nothing in the file.
fn prepare(connection: &Connection, patience: Duration) -> Result<(), Problem> {
    connection.busy_timeout(patience)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    // The file may come from elsewhere: its definitions are not trusted to call anything.
    connection.pragma_update(None, "trusted_schema", false)?;
    Ok(())
}

fn keep_a_write_ahead_log(connection: &Connection, patience: Duration) -> Result<(), Problem> {
    // SQLite does not always wait by itself for the lock this change needs: of 4800 connections racing to begin the
    // same file, 8 were refused at once in spite of the busy timeout (measured with SQLite as bundled, November 2026).
    let begun = Instant::now();
    loop {
        let mode = connection
            .pragma_update_and_check(None, "journal_mode", "wal", |row| row.get::<_, String>(0))
            .map_err(Problem::from);
        match mode {
            Ok(mode) if mode == "wal" => return Ok(()),
            Ok(mode) => {
                let detail = format!("no write-ahead log on this disk, only {mode}");
                return Err(Problem::CannotOpen { detail });
            }
            Err(Problem::Locked) if begun.elapsed() < patience => sleep(Duration::from_millis(2)),
            Err(other) => return Err(other),
        }
    }
}
