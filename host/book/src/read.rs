//! Reading the book: one entry, a selection, what is attached.
//!
//! Input: a number, a digest or a [`Filter`]; output: the entries written. A search looks at the words a person would look
//! for: cell, fate, kind, summary, and the values (not the keys) of the inputs.

use jiff::Timestamp;
use rusqlite::{OptionalExtension, named_params};

use super::row::{self, COLUMNS, EntryRow};
use super::{Attachment, Book, BookError, Digest, Entry, Problem};

/// Which entries are wanted; what is `None` does not restrict.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// Exactly this cell.
    pub cell_id: Option<String>,
    /// Exactly this fate.
    pub fate: Option<String>,
    /// At this time or later.
    pub since: Option<Timestamp>,
    /// Before this time.
    pub until: Option<Timestamp>,
    /// Holding this text; letters a to z match their capitals, others only themselves.
    pub text: Option<String>,
    /// At most this many, the newest.
    pub limit: Option<u32>,
}

impl Book {
    /// Returns an entry; `None` where the book has no such number.
    pub fn entry(&self, number: u32) -> Result<Option<Entry>, BookError> {
        self.read(|connection| {
            connection
                .prepare_cached(&format!("SELECT {COLUMNS} FROM entry WHERE number = $1"))?
                .query_row([number], EntryRow::read)
                .optional()?
                .map(EntryRow::into_entry)
                .transpose()
        })
    }

    /// Returns the time of the last entry, the newest by its number; `None` where the book has none.
    pub fn time_of_last_entry(&self) -> Result<Option<Timestamp>, BookError> {
        self.read(|connection| {
            connection
                .prepare_cached("SELECT at_ms FROM entry ORDER BY number DESC LIMIT 1")?
                .query_row([], |row| row.get::<_, i64>(0))
                .optional()?
                .map(Timestamp::from_millisecond)
                .transpose()
                .map_err(|error| Problem::Corrupt { detail: format!("time of the last entry: {error}") })
        })
    }

    /// Returns the entries that fit, newest first.
    pub fn entries(&self, filter: &Filter) -> Result<Vec<Entry>, BookError> {
        self.read(|connection| {
            let mut statement = connection.prepare_cached(&format!(
                r"SELECT {COLUMNS} FROM entry
                  WHERE (:cell_id IS NULL OR cell_id = :cell_id)
                  AND (:fate IS NULL OR fate = :fate)
                  AND (:since IS NULL OR at_ms >= :since)
                  AND (:until IS NULL OR at_ms < :until)
                  AND (:text IS NULL OR cell_id LIKE :text ESCAPE '\' OR fate LIKE :text ESCAPE '\'
                       OR kind LIKE :text ESCAPE '\' OR summary LIKE :text ESCAPE '\'
                       OR EXISTS (SELECT 1 FROM json_tree(inputs) WHERE atom LIKE :text ESCAPE '\'))
                  ORDER BY number DESC LIMIT :limit"
            ))?;
            let mut rows = statement.query(named_params! {
                ":cell_id": filter.cell_id,
                ":fate": filter.fate,
                ":since": filter.since.map(Timestamp::as_millisecond),
                ":until": filter.until.map(Timestamp::as_millisecond),
                ":text": filter.text.as_deref().map(anywhere),
                // SQLite takes a negative limit for none.
                ":limit": filter.limit.map_or(-1, i64::from),
            })?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                found.push(EntryRow::read(row)?.into_entry()?);
            }
            Ok(found)
        })
    }

    /// Returns the entries that hold `text`, newest first; see [`Filter::text`].
    pub fn find(&self, text: &str) -> Result<Vec<Entry>, BookError> {
        self.entries(&Filter { text: Some(text.to_owned()), ..Filter::default() })
    }

    /// Returns what is attached to an entry, in the order given; empty if there is no such entry.
    pub fn attachments_of(&self, number: u32) -> Result<Vec<Attachment>, BookError> {
        self.read(|connection| Ok(row::attachments_of(connection, number.into())?))
    }

    /// Returns the attached bytes with this digest, checked against it; `None` where the book has none.
    pub fn attachment(&self, sha256: Digest) -> Result<Option<Vec<u8>>, BookError> {
        self.read(|connection| {
            let bytes: Option<Vec<u8>> = connection
                .query_row("SELECT bytes FROM content WHERE sha256 = $1", [sha256], |row| row.get(0))
                .optional()?;
            match bytes {
                Some(bytes) if Digest::of(&bytes) != sha256 => {
                    Err(Problem::Corrupt { detail: format!("the attached bytes {sha256} were changed") })
                }
                bytes => Ok(bytes),
            }
        })
    }
}

/// Returns the pattern that finds `text` anywhere; its own percent signs and underscores mean themselves.
fn anywhere(text: &str) -> String {
    let mut pattern = String::from("%");
    for letter in text.chars() {
        if matches!(letter, '%' | '_' | '\\') {
            pattern.push('\\');
        }
        pattern.push(letter);
    }
    pattern.push('%');
    pattern
}
