//! The tables, their versions, and the look at a file before it is opened.
//!
//! Takes a path or a connection; says whether a book is there, begins one, or brings an older one up to date. SQLite
//! keeps two numbers in a file's header for such use: the application id says what the file is, the user version which
//! format it has (<https://www.sqlite.org/fileformat2.html>, section 1.3).

use std::path::{Path, PathBuf};

use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::super::Problem;
use super::migration::to_format_2;
use super::{before_format, begin_for_the_owner_alone};

/// The application id of a book: "CTri" in ASCII.
const APPLICATION_ID: i64 = 0x4354_7269;

/// The newest format, the one written.
pub(in super::super) const VERSION: i64 = 2;

/// What stands at a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// No file, or one without a byte.
    Nothing,
    /// A book.
    Book,
}

/// Looks at a file without changing it or anything beside it.
///
/// An ordinary connection would already replay the log of another program's database, so the look is taken with
/// SQLite's `immutable`. Reading the header with the standard library instead is no choice: closing the file would
/// drop the locks that other connections of this process hold on it (<https://www.sqlite.org/howtocorrupt.html>, 2.2).
pub(super) fn look_at(path: &Path) -> Result<Found, Problem> {
    match std::fs::metadata(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Found::Nothing),
        Err(error) => return Err(Problem::CannotOpen { detail: error.to_string() }),
        Ok(metadata) if metadata.is_dir() => return Err(Problem::NotABook { found: "a folder".into() }),
        Ok(metadata) if metadata.len() == 0 => return Ok(Found::Nothing),
        Ok(_) => {}
    }
    let address = immutable_address(path)?;
    let connection =
        Connection::open_with_flags(address, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI)?;
    // A look without the log may meet a checkpoint half done (killed, or under way in another process): the first page
    // then counts pages that the file does not have yet, and SQLite calls that damage unless told to go on. What is
    // asked for is on the first page before and after.
    connection.pragma_update(None, "writable_schema", true)?;
    match application_id(&connection)? {
        APPLICATION_ID => Ok(Found::Book),
        _ => Err(other_database()),
    }
}

/// Begins a book in an empty database or brings an older one up to date, in one transaction. An older one is first copied to
/// a file beside it.
pub(super) fn bring_up_to_date(
    connection: &mut Connection,
    path: &Path,
    bench: &str,
) -> Result<Option<PathBuf>, Problem> {
    if version(connection)? == VERSION && application_id(connection)? == APPLICATION_ID {
        return Ok(None);
    }
    // Rows move from table to table; this can only be set outside a transaction, and what names what is checked at the end.
    connection.pragma_update(None, "foreign_keys", false)?;
    let done = step_up(connection, path, bench);
    connection.pragma_update(None, "foreign_keys", true)?;
    done
}

fn step_up(connection: &mut Connection, path: &Path, bench: &str) -> Result<Option<PathBuf>, Problem> {
    // All is asked again under the write lock: another process may have begun the book just now.
    let mut transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let tables: i64 = transaction.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    let from = match (application_id(&transaction)?, version(&transaction)?) {
        (APPLICATION_ID, version) => version,
        (0, 0) if tables == 0 => 0,
        _ => return Err(other_database()),
    };
    let copy = match from {
        0 => {
            transaction.execute_batch(include_str!("version_1.sql"))?;
            None
        }
        1 => Some(copy_beside(path)?),
        VERSION => return Ok(None),
        newer => return Err(Problem::NewerVersion { version: newer, known: VERSION }),
    };
    transaction = to_format_2(transaction, bench)?;
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", VERSION)?;
    if !orphans(&transaction)?.is_empty() {
        return Err(Problem::Corrupt { detail: "rows name rows that are not there".into() });
    }
    transaction.commit()?;
    Ok(copy)
}

/// Copies a book to a file beside it before its format is changed; a file that is there already is left as it is.
fn copy_beside(path: &Path) -> Result<PathBuf, Problem> {
    let first = before_format(path, VERSION);
    let numbered = |number: i32| match number {
        1 => first.clone(),
        _ => first.with_extension(format!("format-{VERSION}-{number}")),
    };
    let copy = (1..100).map(numbered).find(|copy| !copy.exists());
    let cannot = |detail: String| Problem::NotCopied { detail };
    let copy = copy.ok_or_else(|| cannot("too many copies lie beside it already".into()))?;
    begin_for_the_owner_alone(&copy)?;
    // Another connection reads what stands committed; this one holds the lock, so nothing is added meanwhile.
    let source = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    let mut target = Connection::open(&copy)?;
    let done = Backup::new(&source, &mut target)
        .and_then(|backup| backup.run_to_completion(1024, std::time::Duration::ZERO, None));
    match done {
        Ok(()) => Ok(copy),
        Err(error) => {
            let _may_not_go_either = std::fs::remove_file(&copy);
            Err(cannot(error.to_string()))
        }
    }
}

/// Says whether a book that is only to be read has the format this program reads.
pub(super) fn check_version(connection: &Connection) -> Result<(), Problem> {
    match version(connection)? {
        VERSION => Ok(()),
        version if version > VERSION => Err(Problem::NewerVersion { version, known: VERSION }),
        version => Err(Problem::OlderVersion { version, known: VERSION }),
    }
}

/// Looks at the file and at its definitions; returns what does not fit.
pub(super) fn own_check(connection: &Connection) -> Result<Vec<String>, Problem> {
    let mut found = Vec::new();
    let mut statement = connection.prepare("PRAGMA integrity_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let line: String = row.get(0)?;
        if line != "ok" {
            found.push(format!("SQLite's check: {line}"));
        }
    }
    found.extend(orphans(connection)?);
    let mut fresh = Connection::open_in_memory()?;
    bring_up_to_date(&mut fresh, Path::new(":memory:"), "bench 1")?;
    let (expected, present) = (definitions(&fresh)?, definitions(connection)?);
    let missing = expected.iter().filter(|definition| !present.contains(definition));
    found.extend(missing.map(|(name, _)| format!("{name} is missing or was changed")));
    let added = present.iter().filter(|(name, _)| !expected.iter().any(|(known, _)| known == name));
    found.extend(added.map(|(name, _)| format!("{name} was added")));
    Ok(found)
}

fn orphans(connection: &Connection) -> Result<Vec<String>, Problem> {
    let mut found = Vec::new();
    let mut statement = connection.prepare("PRAGMA foreign_key_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, wanted): (String, String) = (row.get(0)?, row.get(2)?);
        found.push(format!("a row of {table} names a row of {wanted} that is not there"));
    }
    Ok(found)
}

/// Returns the tables, indexes and triggers of a database as (name, definition), in order of name.
fn definitions(connection: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    connection
        .prepare("SELECT name, sql FROM sqlite_schema ORDER BY name")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

fn application_id(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "application_id", |row| row.get(0))
}

fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

fn other_database() -> Problem {
    Problem::NotABook { found: "a SQLite database of another program".into() }
}

/// Returns the path as SQLite's address of a file that is taken to stand still (<https://www.sqlite.org/uri.html>).
pub(super) fn immutable_address(path: &Path) -> Result<String, Problem> {
    let path =
        std::path::absolute(path).map_err(|error| Problem::CannotOpen { detail: error.to_string() })?;
    let mut address = String::from("file://");
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'\\' if cfg!(windows) => address.push('/'),
            b'/' | b'.' | b'-' | b'_' | b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => {
                address.push(char::from(*byte))
            }
            other => address.push_str(&format!("%{other:02X}")),
        }
    }
    if cfg!(windows) {
        address.insert(7, '/');
    }
    address.push_str("?immutable=1");
    Ok(address)
}
