//! An entry exactly as its row holds it, and the digest that seals it.
//!
//! Input: a row; output: the seal, or an [`Entry`]. The seal is taken over the stored text, never over something parsed
//! and written again, so that it does not depend on how a later version writes JSON.

use jiff::Timestamp;
use rusqlite::{Connection, Row};
use serde_json::Value;

use super::digest::Digester;
use super::{Attachment, Digest, Entry, Problem, Recording};

/// The columns that [`EntryRow::read`] expects, in its order.
pub(super) const COLUMNS: &str =
    "number, at_ms, kind, cell_id, fate, summary, program, inputs, result, corrects, previous, digest";

/// A row of the table `entry`.
pub(super) struct EntryRow {
    pub(super) number: i64,
    pub(super) at_ms: i64,
    pub(super) kind: String,
    pub(super) cell_id: String,
    pub(super) fate: Option<String>,
    pub(super) summary: String,
    pub(super) program: String,
    pub(super) inputs: String,
    pub(super) result: String,
    pub(super) corrects: Option<i64>,
    pub(super) previous: Digest,
    pub(super) digest: Digest,
}

impl EntryRow {
    /// Reads a row of [`COLUMNS`].
    pub(super) fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            number: row.get(0)?,
            at_ms: row.get(1)?,
            kind: row.get(2)?,
            cell_id: row.get(3)?,
            fate: row.get(4)?,
            summary: row.get(5)?,
            program: row.get(6)?,
            inputs: row.get(7)?,
            result: row.get(8)?,
            corrects: row.get(9)?,
            previous: row.get(10)?,
            digest: row.get(11)?,
        })
    }

    /// Returns the digest over the digest before, all fields, and all that belongs to the entry.
    pub(super) fn seal(&self, attachments: &[Attachment], recordings: &[Recording]) -> Digest {
        let mut digester = Digester::fields("celltriage book entry 1");
        digester.field(self.previous);
        digester.integer(self.number);
        digester.integer(self.at_ms);
        digester.field(&self.kind);
        digester.field(&self.cell_id);
        digester.optional(self.fate.as_ref());
        digester.field(&self.summary);
        digester.field(&self.program);
        digester.field(&self.inputs);
        digester.field(&self.result);
        digester.optional(self.corrects.map(i64::to_le_bytes));
        digester.count(attachments.len());
        for attachment in attachments {
            digester.field(&attachment.name);
            digester.field(&attachment.media_type);
            digester.field(attachment.sha256);
        }
        digester.count(recordings.len());
        for recording in recordings {
            digester.integer(recording.number.into());
            digester.integer(recording.at.as_millisecond());
            digester.field(&recording.cell_id);
            digester.field(recording.sha256);
        }
        digester.finish()
    }

    /// Returns the entry.
    pub(super) fn into_entry(self) -> Result<Entry, Problem> {
        let number = self.number;
        let damaged = |what: &str, error: &dyn std::fmt::Display| Problem::Corrupt {
            detail: format!("entry {number}, {what}: {error}"),
        };
        let json = |what: &str, text: &str| {
            serde_json::from_str::<Value>(text).map_err(|error| damaged(what, &error))
        };
        Ok(Entry {
            number: u32::try_from(self.number).map_err(|error| damaged("number", &error))?,
            at: Timestamp::from_millisecond(self.at_ms).map_err(|error| damaged("time", &error))?,
            inputs: json("inputs", &self.inputs)?,
            result: json("result", &self.result)?,
            corrects: self
                .corrects
                .map(u32::try_from)
                .transpose()
                .map_err(|error| damaged("corrected entry", &error))?,
            kind: self.kind,
            cell_id: self.cell_id,
            fate: self.fate,
            summary: self.summary,
            program: self.program,
            previous: self.previous,
            digest: self.digest,
        })
    }
}

/// Returns the attachments of an entry in their order.
pub(super) fn attachments_of(connection: &Connection, entry: i64) -> rusqlite::Result<Vec<Attachment>> {
    connection
        .prepare_cached(
            "SELECT name, media_type, sha256, coalesce(length(bytes), 0) FROM attachment LEFT JOIN content USING (sha256)
             WHERE entry = $1 ORDER BY position",
        )?
        .query_map([entry], |row| {
            Ok(Attachment {
                name: row.get(0)?,
                media_type: row.get(1)?,
                sha256: row.get(2)?,
                length: u64::from(row.get::<_, u32>(3)?),
            })
        })?
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::RecordingNumber;
    use super::*;

    fn row() -> EntryRow {
        EntryRow {
            number: 7,
            at_ms: 1,
            kind: "assessment".into(),
            cell_id: "C-1".into(),
            fate: None,
            summary: "sound".into(),
            program: "celltriage 0.1.0".into(),
            inputs: "{}".into(),
            result: "{}".into(),
            corrects: None,
            previous: Digest::BEGINNING,
            digest: Digest::BEGINNING,
        }
    }

    #[test]
    fn the_seal_covers_every_field_and_all_that_belongs_to_the_entry() {
        let attachment =
            || Attachment { name: "a".into(), media_type: "b".into(), sha256: Digest::of(b"c"), length: 1 };
        let recording = |number: u32, bytes: &[u8]| Recording {
            number: RecordingNumber(number),
            at: Timestamp::UNIX_EPOCH,
            cell_id: "C-1".into(),
            sha256: Digest::of(bytes),
            length: 1,
        };
        let mut seals = vec![
            row().seal(&[], &[]),
            row().seal(&[attachment()], &[]),
            row().seal(&[attachment(), attachment()], &[]),
            row().seal(&[Attachment { name: "x".into(), ..attachment() }], &[]),
            row().seal(&[Attachment { media_type: "x".into(), ..attachment() }], &[]),
            row().seal(&[Attachment { sha256: Digest::of(b"x"), ..attachment() }], &[]),
            row().seal(&[], &[recording(1, b"c")]),
            row().seal(&[], &[recording(2, b"c")]),
            row().seal(&[], &[recording(1, b"x")]),
            row().seal(&[], &[Recording { cell_id: "C-2".into(), ..recording(1, b"c") }]),
            row().seal(&[], &[Recording { at: Timestamp::MAX, ..recording(1, b"c") }]),
        ];
        let changes: [fn(&mut EntryRow); 11] = [
            |row| row.number = 8,
            |row| row.at_ms = 2,
            |row| row.kind = "x".into(),
            |row| row.cell_id = "x".into(),
            |row| row.fate = Some("x".into()),
            |row| row.summary = "x".into(),
            |row| row.program = "x".into(),
            |row| row.inputs = "[]".into(),
            |row| row.result = "[]".into(),
            |row| row.corrects = Some(1),
            |row| row.previous = Digest::of(b"x"),
        ];
        for change in changes {
            let mut changed = row();
            change(&mut changed);
            seals.push(changed.seal(&[], &[]));
        }
        let all = seals.len();
        seals.sort();
        seals.dedup();
        assert_eq!(seals.len(), all, "two different entries have one seal");
    }

    #[test]
    fn the_seal_of_format_one_stays_what_it_was() {
        // Worked out apart from this program, by hashing the fields with Python's hashlib; books that exist depend on it.
        assert_eq!(
            row().seal(&[], &[]).to_string(),
            "c2d55ff2a78e6ab42a26c6a577b271b60a5b778afe3836cc2dea9f43a343131d"
        );
    }
}
