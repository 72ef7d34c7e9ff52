//! Records that are an entry by themselves: nothing was assessed, something was done or found that stays in the book.

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::json;

use super::{Book, BookError, Entry, Filter, NewEntry, PROGRAM, Problem, RecordingNumber};

impl Book {
    /// Writes a record of a kind under a subject, which may be a cell, a fixture or anything with a name; on the disk when
    /// this returns.
    pub fn append_record(
        &mut self,
        (kind, subject): (&str, &str),
        summary: &str,
        record: &impl Serialize,
        recordings: Vec<RecordingNumber>,
        at: Timestamp,
    ) -> Result<Entry, BookError> {
        let inputs = serde_json::to_value(record).map_err(|error| self.not_storable("record", error))?;
        self.append(NewEntry {
            at,
            kind: kind.to_owned(),
            cell_id: subject.to_owned(),
            fate: None,
            summary: summary.to_owned(),
            program: PROGRAM.to_owned(),
            inputs,
            result: json!({}),
            corrects: None,
            attachments: Vec::new(),
            recordings,
        })
    }

    /// Reads all entries under a subject, oldest first.
    pub fn entries_of(&self, subject: &str) -> Result<Vec<Entry>, BookError> {
        let filter = Filter { cell_id: Some(subject.to_owned()), ..Filter::default() };
        let mut entries = self.entries(&filter)?;
        entries.reverse();
        Ok(entries)
    }

    /// Takes the records of a kind out of entries, each with the number of its entry.
    pub fn records_of<T: DeserializeOwned>(
        &self,
        entries: &[Entry],
        kind: &str,
    ) -> Result<Vec<(u32, T)>, BookError> {
        let of_kind = entries.iter().filter(|entry| entry.kind == kind);
        of_kind
            .map(|entry| {
                let record = serde_json::from_value(entry.inputs.clone());
                record.map(|record| (entry.number, record)).map_err(|error| self.unreadable(entry, error))
            })
            .collect()
    }

    /// Reads all records of a kind under a subject, oldest first, each with the number of its entry.
    pub fn records<T: DeserializeOwned>(
        &self,
        kind: &str,
        subject: &str,
    ) -> Result<Vec<(u32, T)>, BookError> {
        self.records_of(&self.entries_of(subject)?, kind)
    }

    /// Makes the error about an entry whose contents cannot be read as what its kind says.
    pub fn unreadable(&self, entry: &Entry, detail: impl ToString) -> BookError {
        let (number, kind, detail) = (entry.number, entry.kind.clone(), detail.to_string());
        Problem::Unreadable { number, kind, detail }.at(self.path())
    }

    /// Makes the error about a part of an entry that cannot be stored.
    pub fn not_storable(&self, field: &'static str, detail: impl ToString) -> BookError {
        Problem::NotStorable { field, detail: detail.to_string() }.at(self.path())
    }
}
