//! The tables, their versions, and the look at a file before it is opened.
//!
//! Takes a path or a connection; says whether a book is there, begins one, or brings an older one up to date. SQLite
//! keeps two numbers in a file's header for such use: the application id says what the file is, the user version which
//! format it has (<https://www.sqlite.org/fileformat2.html>, section 1.3).

use std::path::Path;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::Problem;

/// The application id of a book: "CTri" in ASCII.
pub(super) const APPLICATION_ID: i64 = 0x4354_7269;

/// The steps from each format to the next; the first begins a book.
const STEPS: [&str; 1] = [include_str!("version_1.sql")];

/// The newest format, the one written.
pub(super) const VERSION: i64 = STEPS.len() as i64;

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

/// Begins a book in an empty database or brings an older one up to date, in one transaction.
pub(super) fn bring_up_to_date(connection: &mut Connection) -> Result<(), Problem> {
    if version(connection)? == VERSION && application_id(connection)? == APPLICATION_ID {
        return Ok(());
    }
    // All is asked again under the write lock: another process may have begun the book just now.
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let tables: i64 = transaction.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    let from = match (application_id(&transaction)?, version(&transaction)?) {
        (APPLICATION_ID, version) => version,
        (0, 0) if tables == 0 => 0,
        _ => return Err(other_database()),
    };
    if from > VERSION {
        return Err(Problem::NewerVersion { version: from, known: VERSION });
    }
    for step in STEPS.iter().skip(usize::try_from(from).unwrap_or(0)) {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", VERSION)?;
    Ok(transaction.commit()?)
}

/// Says whether a book that is only to be read has the format this program reads.
pub(super) fn check_version(connection: &Connection) -> Result<(), Problem> {
    match version(connection)? {
        VERSION => Ok(()),
        version if version > VERSION => Err(Problem::NewerVersion { version, known: VERSION }),
        version => Err(Problem::OlderVersion { version, known: VERSION }),
    }
}

/// Returns the tables, indexes and triggers of a database as (name, definition), in order of name.
pub(super) fn definitions(connection: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    connection
        .prepare("SELECT name, sql FROM sqlite_schema ORDER BY name")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

/// Returns the definitions a book must have.
pub(super) fn expected_definitions() -> Result<Vec<(String, Option<String>)>, Problem> {
    let mut connection = Connection::open_in_memory()?;
    bring_up_to_date(&mut connection)?;
    Ok(definitions(&connection)?)
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
fn immutable_address(path: &Path) -> Result<String, Problem> {
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
