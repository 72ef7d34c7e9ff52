//! Writing an entry: all of it or nothing, on the disk when it returns.
//!
//! Input: a [`NewEntry`]; output: the [`Entry`] as it was written. What belongs to the entry is written first and its own row
//! last, in one transaction; the row seals it (see `version_1.sql`).

use rusqlite::{OptionalExtension, Transaction};
use serde_json::Value;

use super::row::{self, EntryRow};
use super::{Book, BookError, Digest, Entry, NewAttachment, NewEntry, Problem, recording};

impl Book {
    /// Writes an entry and returns it with its number.
    pub fn append(&mut self, new: NewEntry) -> Result<Entry, BookError> {
        self.append_if(new, None)
    }

    /// Writes an entry only if `last` is still the last entry (0: none), so that what was decided from the entries up to
    /// there still holds; otherwise nothing is written and the problem is [`Problem::Grown`].
    pub fn append_after(&mut self, new: NewEntry, last: u32) -> Result<Entry, BookError> {
        self.append_if(new, Some(last))
    }

    fn append_if(&mut self, new: NewEntry, expected: Option<u32>) -> Result<Entry, BookError> {
        self.write(|transaction| {
            new.check()?;
            let last: Option<(i64, Digest)> = transaction
                .query_row("SELECT number, digest FROM entry ORDER BY number DESC LIMIT 1", [], |row| {
                    Ok((row.get(0)?, row.get(1)?))
                })
                .optional()?;
            let (before, previous) = last.unwrap_or((0, Digest::BEGINNING));
            if expected.is_some_and(|expected| i64::from(expected) != before) {
                return Err(Problem::Grown);
            }
            if let Some(number) = new.corrects.filter(|number| *number == 0 || i64::from(*number) > before) {
                return Err(Problem::UnknownEntry { number });
            }
            let number = before + 1;
            for (index, attachment) in new.attachments.iter().enumerate() {
                attach(transaction, number, index + 1, attachment)?;
            }
            for recording in &new.recordings {
                recording::finish(transaction, *recording, number, &new.cell_id)?;
            }
            let mut row = EntryRow {
                number,
                at_ms: new.at.as_millisecond(),
                inputs: readable("inputs", &new.inputs)?,
                result: readable("result", &new.result)?,
                kind: new.kind,
                cell_id: new.cell_id,
                fate: new.fate,
                summary: new.summary,
                program: new.program,
                corrects: new.corrects.map(i64::from),
                previous,
                digest: Digest::BEGINNING,
            };
            // The lists are read back from where they were just written, so the seal covers what is stored.
            row.digest = row.seal(
                &row::attachments_of(transaction, number)?,
                &recording::recordings_of(transaction, number)?,
            );
            insert(transaction, &row)?;
            row.into_entry()
        })
    }
}

fn insert(transaction: &Transaction<'_>, row: &EntryRow) -> Result<(), Problem> {
    let columns = row::COLUMNS;
    transaction.execute(
        &format!("INSERT INTO entry ({columns}) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)"),
        (
            row.number,
            row.at_ms,
            &row.kind,
            &row.cell_id,
            &row.fate,
            &row.summary,
            &row.program,
            &row.inputs,
            &row.result,
            row.corrects,
            row.previous,
            row.digest,
        ),
    )?;
    Ok(())
}

fn attach(
    transaction: &Transaction<'_>,
    entry: i64,
    position: usize,
    attachment: &NewAttachment,
) -> Result<(), Problem> {
    let sha256 = Digest::of(&attachment.bytes);
    let stored = transaction
        .query_row("SELECT 1 FROM content WHERE sha256 = $1", [sha256], |_| Ok(()))
        .optional()?
        .is_some();
    if !stored {
        transaction.execute(
            "INSERT INTO content (number, sha256, bytes) SELECT coalesce(max(number), 0) + 1, $1, $2 FROM content",
            (sha256, attachment.bytes.as_slice()),
        )?;
    }
    transaction.execute(
        "INSERT INTO attachment (entry, position, name, media_type, sha256) VALUES ($1, $2, $3, $4, $5)",
        (entry, position as i64, &attachment.name, &attachment.media_type, sha256),
    )?;
    Ok(())
}

/// Returns the text of a JSON value that is sure to be read again: the reader has a depth limit, the writer has none.
fn readable(field: &'static str, value: &Value) -> Result<String, Problem> {
    let not_storable = |error: serde_json::Error| Problem::NotStorable { field, detail: error.to_string() };
    let text = serde_json::to_string(value).map_err(not_storable)?;
    serde_json::from_str::<Value>(&text).map_err(not_storable)?;
    Ok(text)
}
