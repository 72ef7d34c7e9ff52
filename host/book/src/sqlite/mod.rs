//! A book in one SQLite file on a local disk.
//!
//! Write-ahead log and a full sync at each commit: what was acknowledged survives a crash of the program, and of the machine
//! as far as the disk keeps what it acknowledged. Several processes may write at once. The database itself refuses to change
//! or remove a row (triggers).

mod between;
mod columns;
pub(super) mod migration;
mod problem;
mod read;
mod reader;
pub(super) mod schema;
pub(super) mod selection;
mod values;
mod write;

use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use rusqlite::backup::{Backup, StepResult};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::files::log_of;
use super::store::{Rows, RowsMut, Store};
use super::{BENCH, PATIENCE, Problem};
use write::Writing;

/// Pages that a copy takes at a time: 4 MB, after which others may write (our choice).
const COPIED_AT_ONCE: i32 = 1024;

/// A SQLite file.
#[derive(Debug)]
pub(super) struct Sqlite {
    pub(super) connection: Connection,
    /// Where it was copied to before its format was changed by this opening.
    pub(super) copy: Option<PathBuf>,
}

impl Sqlite {
    /// Opens a book to read and write, and begins one where there is no file or an empty one.
    pub(super) fn open(path: &Path, patience: Duration, bench: &str) -> Result<Self, Problem> {
        let there = schema::look_at(path)?;
        if there == schema::Found::Nothing {
            begin_for_the_owner_alone(path)?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut connection = Connection::open_with_flags(path, flags)?;
        prepare(&connection, patience)?;
        connection.pragma_update(None, "synchronous", "full")?;
        // Elsewhere than on macOS these two do nothing; there a plain sync stops short of the drive.
        connection.pragma_update(None, "fullfsync", true)?;
        connection.pragma_update(None, "checkpoint_fullfsync", true)?;
        // Before the log is switched on, so that a book's header names it a book from its first commit.
        let copy = schema::bring_up_to_date(&mut connection, path, bench)?;
        if copy.is_some() {
            for_the_owner_alone(path);
        }
        keep_a_write_ahead_log(&connection, patience)?;
        Ok(Self { connection, copy })
    }

    /// Begins a book that gets its identity from another one.
    pub(super) fn open_without_identity(path: &Path, patience: Duration) -> Result<Self, Problem> {
        Self::open(path, patience, "")
    }

    /// Opens a database on the disk that nobody else sees and that goes away with this value.
    pub(super) fn scratch() -> Result<Self, Problem> {
        let mut connection = Connection::open("")?;
        schema::bring_up_to_date(&mut connection, Path::new(""), BENCH)?;
        // Nothing in it is worth a wait for the disk.
        connection.pragma_update(None, "synchronous", "off")?;
        Ok(Self { connection, copy: None })
    }

    /// Creates an empty file that only its owner may read.
    pub(super) fn begin_file(path: &Path) -> Result<(), Problem> {
        begin_for_the_owner_alone(path)
    }

    /// Closes a copy that is to be one file, whole by itself.
    pub(super) fn close_as_one_file(self) -> Result<(), Problem> {
        keep_all_in_one_file(&self.connection)
    }

    /// Opens a book that is there, to read only.
    pub(super) fn open_read_only(path: &Path) -> Result<Self, Problem> {
        if schema::look_at(path)? == schema::Found::Nothing {
            return Err(Problem::Missing);
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut connection = Connection::open_with_flags(path, flags)?;
        prepare(&connection, PATIENCE)?;
        if schema::check_version(&connection).is_err_and(|problem| problem.is_about_the_place()) {
            // On media that cannot be written, or are full, SQLite cannot keep the index of the log; where nothing is in a log
            // either, the file is the whole book and stands still.
            let log = std::fs::metadata(log_of(path)).map_or(0, |log| log.len());
            if log == 0 {
                let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
                connection = Connection::open_with_flags(schema::immutable_address(path)?, flags)?;
                prepare(&connection, PATIENCE)?;
            }
        }
        schema::check_version(&connection)?;
        Ok(Self { connection, copy: None })
    }
}

impl Store for Sqlite {
    fn read(&self, request: &mut dyn FnMut(&dyn Rows) -> Result<(), Problem>) -> Result<(), Problem> {
        if !self.connection.is_autocommit() {
            return request(&self.connection);
        }
        let transaction = self.connection.unchecked_transaction()?;
        request(&*transaction)
    }

    fn hold(&self) -> Result<bool, Problem> {
        if !self.connection.is_autocommit() {
            return Ok(false);
        }
        self.connection.execute_batch("BEGIN")?;
        Ok(true)
    }

    fn let_go(&self) {
        // Nothing was written in it. Where this fails SQLite has ended it by itself.
        let _ended_already = self.connection.execute_batch("ROLLBACK");
    }

    fn write(
        &mut self,
        request: &mut dyn FnMut(&mut dyn RowsMut) -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        // Immediate: the lock comes first, so that two writers wait for each other and cannot both read the same last
        // number.
        let mut writing = Writing(self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?);
        request(&mut writing)?;
        Ok(writing.0.commit()?)
    }

    fn wait_at_most(&mut self, patience: Duration) -> Result<(), Problem> {
        Ok(self.connection.busy_timeout(patience)?)
    }

    fn own_check(&self) -> Result<Vec<String>, Problem> {
        schema::own_check(&self.connection)
    }

    fn copy_to(&self, path: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<bool, Problem> {
        let mut copy = Connection::open(path)?;
        copy.pragma_update(None, "synchronous", "full")?;
        {
            let backup = Backup::new(&self.connection, &mut copy)?;
            let mut tried_until = Instant::now() + PATIENCE;
            loop {
                let copied = backup.step(COPIED_AT_ONCE)?;
                match copied {
                    StepResult::Done | StepResult::More => tried_until = Instant::now() + PATIENCE,
                    _ if Instant::now() > tried_until => return Err(Problem::Locked),
                    _ => sleep(Duration::from_millis(20)),
                }
                let progress = backup.progress();
                let pages = |count: i32| u64::try_from(count).unwrap_or(0);
                let whole = pages(progress.pagecount);
                step(whole.saturating_sub(pages(progress.remaining)), whole);
                if copied == StepResult::Done {
                    break;
                }
            }
        }
        keep_all_in_one_file(&copy)?;
        Ok(true)
    }

    fn scrub(&mut self) -> Result<(), Problem> {
        let left: bool =
            self.connection.pragma_update_and_check(None, "wal_checkpoint", "truncate", |row| row.get(0))?;
        // Somebody still reads from the log.
        if left { Err(Problem::Locked) } else { Ok(()) }
    }
}

/// Sets what holds for a connection only and changes nothing in the file.
fn prepare(connection: &Connection, patience: Duration) -> Result<(), Problem> {
    connection.busy_timeout(patience)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    // The file may come from elsewhere: its definitions are not trusted to call anything.
    connection.pragma_update(None, "trusted_schema", false)?;
    // What is blanked is overwritten with zeros.
    connection.pragma_update_and_check(None, "secure_delete", true, |_| Ok(()))?;
    // A plan does not depend on the values asked for: else SQLite plans each statement again for each of them.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// Takes away everybody else's rights to a book that was begun with them; where that cannot be done it stays as it was.
fn for_the_owner_alone(path: &Path) {
    #[cfg(unix)]
    let _stays_as_it_was =
        std::fs::set_permissions(path, std::os::unix::fs::PermissionsExt::from_mode(0o600));
    #[cfg(not(unix))]
    let _ = path;
}

/// Creates the file with rights for its owner alone: a book names people.
fn begin_for_the_owner_alone(path: &Path) -> Result<(), Problem> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let cannot = |error: std::io::Error| Problem::CannotOpen { detail: error.to_string() };
    options.open(path).map(drop).map_err(cannot)
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

fn keep_all_in_one_file(connection: &Connection) -> Result<(), Problem> {
    Ok(connection.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))?)
}

/// The file beside a book to which it is copied before its format is changed.
pub(super) fn before_format(path: &Path, format: i64) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".before-format-{format}"));
    path.with_file_name(name)
}
