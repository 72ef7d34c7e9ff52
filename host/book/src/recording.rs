//! Recordings: raw frames written while a cell is being measured, so that a crash loses none that was acknowledged.
//!
//! Takes bytes as they come, about once a second; each [`Book::append_recording`] that returns is on the disk. An entry
//! that names the recording finishes it; what was never finished stays listed. Until it is finished a recording is not
//! part of the chain of digests.

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Transaction};

use super::digest::Digester;
use super::entry::one_line;
use super::{Book, BookError, Digest, PATIENCE, Problem, RecordingNumber, SHORT_PATIENCE};

/// A finished recording; [`Book::recording`] gives its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recording {
    /// Its number.
    pub number: RecordingNumber,
    /// When it was begun.
    pub at: Timestamp,
    /// The cell it was begun for.
    pub cell_id: String,
    /// The digest of its bytes.
    pub sha256: Digest,
    /// The number of its bytes.
    pub length: u64,
}

/// A recording that no entry names: left by a crash, or growing at this moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnfinishedRecording {
    /// Its number.
    pub number: RecordingNumber,
    /// When it was begun.
    pub at: Timestamp,
    /// The cell it was begun for.
    pub cell_id: String,
    /// The number of its bytes.
    pub length: u64,
}

impl Book {
    /// Begins a recording for a cell; on the disk when it returns.
    pub fn begin_recording(&mut self, cell_id: &str, at: Timestamp) -> Result<RecordingNumber, BookError> {
        self.write(|transaction| {
            one_line("cell id", cell_id)?;
            let number: u32 =
                transaction
                    .query_row("SELECT coalesce(max(number), 0) + 1 FROM recording", [], |row| row.get(0))?;
            transaction.execute(
                "INSERT INTO recording (number, at_ms, cell_id) VALUES ($1, $2, $3)",
                (number, at.as_millisecond(), cell_id),
            )?;
            Ok(RecordingNumber(number))
        })
    }

    /// Adds bytes to an unfinished recording; on the disk when it returns.
    pub fn append_recording(&mut self, number: RecordingNumber, bytes: &[u8]) -> Result<(), BookError> {
        self.write(|transaction| {
            unfinished_cell(transaction, number)?;
            transaction
                .prepare_cached(
                    "INSERT INTO recording_chunk (number, recording, position, bytes)
                     SELECT (SELECT coalesce(max(number), 0) + 1 FROM recording_chunk), $1,
                     coalesce(max(position), 0) + 1, $2 FROM recording_chunk WHERE recording = $1",
                )?
                .execute((i64::from(number), bytes))?;
            Ok(())
        })
    }

    /// The same without waiting long for another program's write; afterwards requests wait as they usually do.
    pub fn append_recording_soon(&mut self, number: RecordingNumber, bytes: &[u8]) -> Result<(), BookError> {
        self.wait_at_most(SHORT_PATIENCE)?;
        let done = self.append_recording(number, bytes);
        self.wait_at_most(PATIENCE)?;
        done
    }

    /// Returns the recordings that no entry names, oldest first.
    pub fn unfinished_recordings(&self) -> Result<Vec<UnfinishedRecording>, BookError> {
        self.read(|connection| {
            let mut statement = connection.prepare_cached(
                "SELECT number, at_ms, cell_id,
                 (SELECT coalesce(sum(length(bytes)), 0) FROM recording_chunk WHERE recording = recording.number)
                 FROM recording WHERE number NOT IN (SELECT recording FROM finished_recording) ORDER BY number",
            )?;
            let mut rows = statement.query([])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                found.push(UnfinishedRecording {
                    number: RecordingNumber(row.get(0)?),
                    at: time(row.get(1)?)?,
                    cell_id: row.get(2)?,
                    length: unsigned(row.get(3)?)?,
                });
            }
            Ok(found)
        })
    }

    /// Returns the bytes of a recording, finished or not; `None` where there is no such recording.
    pub fn recording(&self, number: RecordingNumber) -> Result<Option<Vec<u8>>, BookError> {
        self.read(|connection| {
            let known = connection
                .query_row("SELECT 1 FROM recording WHERE number = $1", [i64::from(number)], |_| Ok(()))
                .optional()?;
            let mut bytes = Vec::new();
            for_each_chunk(connection, number, |chunk| bytes.extend_from_slice(chunk))?;
            Ok(known.map(|()| bytes))
        })
    }

    /// Returns the recordings that an entry finished, in the order of their numbers.
    pub fn recordings_of(&self, entry: u32) -> Result<Vec<Recording>, BookError> {
        self.read(|connection| recordings_of(connection, entry.into()))
    }
}

/// Returns the recordings an entry finished, in the order of their numbers.
pub(super) fn recordings_of(connection: &Connection, entry: i64) -> Result<Vec<Recording>, Problem> {
    let mut statement = connection.prepare_cached(
        "SELECT number, at_ms, cell_id, sha256, length FROM finished_recording JOIN recording ON number = recording
         WHERE entry = $1 ORDER BY number",
    )?;
    let mut rows = statement.query([entry])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        found.push(Recording {
            number: RecordingNumber(row.get(0)?),
            at: time(row.get(1)?)?,
            cell_id: row.get(2)?,
            sha256: row.get(3)?,
            length: unsigned(row.get(4)?)?,
        });
    }
    Ok(found)
}

/// Finishes a recording of `cell_id` by an entry that is about to be written.
pub(super) fn finish(
    transaction: &Transaction<'_>,
    number: RecordingNumber,
    entry: i64,
    cell_id: &str,
) -> Result<(), Problem> {
    let begun_for = unfinished_cell(transaction, number)?;
    if begun_for != cell_id {
        return Err(Problem::RecordingOfOtherCell { number, cell_id: begun_for });
    }
    let (sha256, length) = digest_of(transaction, number)?;
    transaction.execute(
        "INSERT INTO finished_recording (recording, entry, sha256, length) VALUES ($1, $2, $3, $4)",
        (i64::from(number), entry, sha256, length),
    )?;
    Ok(())
}

/// Returns the digest and the number of the bytes recorded.
pub(super) fn digest_of(connection: &Connection, number: RecordingNumber) -> Result<(Digest, i64), Problem> {
    let mut digester = Digester::plain();
    let mut length = 0_i64;
    for_each_chunk(connection, number, |chunk| {
        digester.bytes(chunk);
        length = length.saturating_add_unsigned(chunk.len() as u64);
    })?;
    Ok((digester.finish(), length))
}

/// Returns the cell of a recording that may still grow.
fn unfinished_cell(connection: &Connection, number: RecordingNumber) -> Result<String, Problem> {
    let found: Option<(String, Option<u32>)> = connection
        .prepare_cached(
            "SELECT cell_id, entry FROM recording LEFT JOIN finished_recording ON recording = number WHERE number = $1",
        )?
        .query_row([i64::from(number)], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    match found {
        None => Err(Problem::UnknownRecording { number }),
        Some((_, Some(entry))) => Err(Problem::RecordingFinished { number, entry }),
        Some((cell_id, None)) => Ok(cell_id),
    }
}

/// Hands over the chunks in the order they were written.
fn for_each_chunk(
    connection: &Connection,
    number: RecordingNumber,
    mut take: impl FnMut(&[u8]),
) -> Result<(), Problem> {
    let mut statement = connection
        .prepare_cached("SELECT bytes FROM recording_chunk WHERE recording = $1 ORDER BY position")?;
    let mut rows = statement.query([i64::from(number)])?;
    while let Some(row) = rows.next()? {
        take(row.get_ref(0)?.as_blob().map_err(rusqlite::Error::from)?);
    }
    Ok(())
}

fn time(at_ms: i64) -> Result<Timestamp, Problem> {
    Timestamp::from_millisecond(at_ms).map_err(|error| Problem::Corrupt { detail: error.to_string() })
}

fn unsigned(length: i64) -> Result<u64, Problem> {
    u64::try_from(length).map_err(|error| Problem::Corrupt { detail: error.to_string() })
}
