//! Recordings: raw frames written while a cell is being measured, so that a crash loses none that was acknowledged.
//!
//! Takes bytes as they come, about once a second; each [`Book::append_recording`] that returns is on the disk. An entry that
//! names the recording finishes it; what was never finished stays listed. Each begin and each chunk is a link of one stream
//! of digests, and each entry seals how far the stream had come: what was recorded before an entry is sealed by it, finished
//! or not.

use jiff::Timestamp;

use super::digest::Digester;
use super::entry::one_line;
use super::store::{LinkRow, RecordingRow, Rows, RowsMut};
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
    /// The digest under which the entry seals it: of its bytes in entries of form 1, since then of its chunks' digests.
    pub digest: Digest,
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
        self.write(|rows| begin(rows, cell_id, at.as_millisecond()))
    }

    /// Adds bytes to an unfinished recording; on the disk when it returns.
    pub fn append_recording(&mut self, number: RecordingNumber, bytes: &[u8]) -> Result<(), BookError> {
        self.write(|rows| add(rows, number, bytes))
    }

    /// The same without waiting long for another program's write; afterwards requests wait as they usually do.
    pub fn append_recording_soon(&mut self, number: RecordingNumber, bytes: &[u8]) -> Result<(), BookError> {
        self.wait_at_most(SHORT_PATIENCE)?;
        let done = self.append_recording(number, bytes);
        // What is written is written, also where the book stays impatient.
        let _stays_impatient = self.wait_at_most(PATIENCE);
        done
    }

    /// Returns the recordings that no entry names, oldest first.
    pub fn unfinished_recordings(&self) -> Result<Vec<UnfinishedRecording>, BookError> {
        self.unfinished(None)
    }

    /// Returns those of one cell.
    pub fn unfinished_recordings_of(&self, cell_id: &str) -> Result<Vec<UnfinishedRecording>, BookError> {
        self.unfinished(Some(cell_id))
    }

    fn unfinished(&self, cell_id: Option<&str>) -> Result<Vec<UnfinishedRecording>, BookError> {
        self.read(|rows| {
            let found = rows.unfinished(cell_id)?.into_iter().map(|row| {
                Ok(UnfinishedRecording {
                    number: number(row.number)?,
                    at: time(row.at_ms)?,
                    length: unsigned(rows.length(row.number)?)?,
                    cell_id: row.cell_id,
                })
            });
            found.collect()
        })
    }

    /// Returns the bytes of a recording, finished or not; `None` where there is no such recording.
    pub fn recording(&self, number: RecordingNumber) -> Result<Option<Vec<u8>>, BookError> {
        self.read(|rows| {
            let known = rows.recording(number.into())?;
            let mut bytes = Vec::new();
            rows.chunks(number.into(), &mut |chunk| bytes.extend_from_slice(chunk))?;
            Ok(known.map(|_| bytes))
        })
    }

    /// Returns the recordings that an entry finished, in the order of their numbers.
    pub fn recordings_of(&self, entry: u32) -> Result<Vec<Recording>, BookError> {
        self.read(|rows| {
            let found = rows.recordings(entry.into())?.into_iter().map(|row| {
                let (_, digest, length) = row.finished.unwrap_or((0, Digest::BEGINNING, 0));
                Ok(Recording {
                    number: number(row.number)?,
                    at: time(row.at_ms)?,
                    cell_id: row.cell_id,
                    digest,
                    length: unsigned(length)?,
                })
            });
            found.collect()
        })
    }
}

/// Begins a recording in a transaction that is under way.
pub(super) fn begin(rows: &mut dyn RowsMut, cell_id: &str, at_ms: i64) -> Result<RecordingNumber, Problem> {
    one_line("cell id", cell_id)?;
    let next = rows.last_recording()? + 1;
    let row = RecordingRow {
        number: next,
        at_ms,
        cell_id: cell_id.to_owned(),
        origin: 1,
        origin_number: next,
        finished: None,
    };
    rows.add_recording(&row)?;
    link(rows, next, 0, begin_digest(&row))?;
    number(next)
}

/// Adds bytes in a transaction that is under way.
pub(super) fn add(rows: &mut dyn RowsMut, number: RecordingNumber, bytes: &[u8]) -> Result<(), Problem> {
    unfinished_cell(rows, number)?;
    let recording = i64::from(number);
    let position = rows.last_chunk(recording)? + 1;
    rows.add_chunk(recording, position, bytes)?;
    link(rows, recording, position, Digest::of(bytes))
}

/// Adds a link to the stream.
pub(super) fn link(
    rows: &mut dyn RowsMut,
    recording: i64,
    position: i64,
    content: Digest,
) -> Result<(), Problem> {
    let before = rows.last_link()?;
    let number = before.map_or(0, |link| link.number) + 1;
    let previous = before.map_or(Digest::BEGINNING, |link| link.digest);
    let digest = link_digest(previous, recording, position, content);
    rows.add_link(&LinkRow { number, recording, position, content, digest })
}

/// Returns the digest of a link: over the one before, its place, and what it adds.
pub(super) fn link_digest(previous: Digest, recording: i64, position: i64, content: Digest) -> Digest {
    let mut digester = Digester::fields("celltriage book stream 2");
    digester.field(previous);
    digester.integer(recording);
    digester.integer(position);
    digester.field(content);
    digester.finish()
}

/// Returns the digest of a recording's beginning.
pub(super) fn begin_digest(row: &RecordingRow) -> Digest {
    let mut digester = Digester::fields("celltriage book recording 2");
    digester.integer(row.at_ms);
    digester.field(&row.cell_id);
    digester.finish()
}

/// Finishes a recording of `cell_id` by an entry that is about to be written.
pub(super) fn finish(
    rows: &mut dyn RowsMut,
    number: RecordingNumber,
    entry: i64,
    cell_id: &str,
) -> Result<(), Problem> {
    let begun_for = unfinished_cell(rows, number)?;
    if begun_for != cell_id {
        return Err(Problem::RecordingOfOtherCell { number, cell_id: begun_for });
    }
    let recording = i64::from(number);
    let digest = digest_of_links(&rows.links_of(recording)?);
    let length = rows.length(recording)?;
    rows.finish(recording, entry, digest, length)
}

/// Returns the digest of a recording in form 2: over the digests of its chunks, so that nothing long is read to finish it.
pub(super) fn digest_of_links(links: &[LinkRow]) -> Digest {
    let mut digester = Digester::fields("celltriage book chunks 2");
    for link in links.iter().filter(|link| link.position > 0) {
        digester.field(link.content);
    }
    digester.finish()
}

/// Returns the digest of a recording in form 1: over all its bytes.
pub(super) fn digest_of_bytes<R: Rows + ?Sized>(rows: &R, recording: i64) -> Result<Digest, Problem> {
    let mut digester = Digester::plain();
    rows.chunks(recording, &mut |chunk| digester.bytes(chunk))?;
    Ok(digester.finish())
}

/// Returns the cell of a recording that may still grow.
fn unfinished_cell(rows: &mut dyn RowsMut, number: RecordingNumber) -> Result<String, Problem> {
    match rows.recording(number.into())? {
        None => Err(Problem::UnknownRecording { number }),
        Some(RecordingRow { finished: Some((entry, ..)), .. }) => {
            Err(Problem::RecordingFinished { number, entry: super::read::small(entry)? })
        }
        // It would go on in two ways, here and there.
        Some(RecordingRow { origin, .. }) if origin != 1 => Err(Problem::RecordingOfOtherBook { number }),
        Some(RecordingRow { cell_id, .. }) => Ok(cell_id),
    }
}

fn number(number: i64) -> Result<RecordingNumber, Problem> {
    super::read::small(number).map(RecordingNumber)
}

fn time(at_ms: i64) -> Result<Timestamp, Problem> {
    Timestamp::from_millisecond(at_ms).map_err(|error| Problem::Corrupt { detail: error.to_string() })
}

fn unsigned(length: i64) -> Result<u64, Problem> {
    u64::try_from(length).map_err(|error| Problem::Corrupt { detail: error.to_string() })
}
