//! Records that are an entry by themselves: nothing was assessed, something was done or found that stays in the book.

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{Book, BookError, Entry, Filter, NewEntry, Problem, Subject};

impl Book {
    /// Writes a record as the inputs of an entry; on the disk when this returns.
    pub fn append_record(&mut self, new: NewEntry, record: &impl Serialize) -> Result<Entry, BookError> {
        let inputs = serde_json::to_value(record).map_err(|error| self.not_storable("record", error))?;
        self.append(NewEntry { inputs, ..new })
    }

    /// Reads all entries about a subject, oldest first.
    pub fn entries_of(&self, subject: &Subject) -> Result<Vec<Entry>, BookError> {
        self.of_kind(subject, None)
    }

    /// Reads all records of a kind about a subject, oldest first, each with the number of its entry.
    pub fn records<T: DeserializeOwned>(
        &self,
        kind: &str,
        subject: &Subject,
    ) -> Result<Vec<(u32, T)>, BookError> {
        let read = |entry: Entry| {
            let record = serde_json::from_value(entry.inputs.clone());
            record.map(|record| (entry.number, record)).map_err(|error| self.unreadable(&entry, error))
        };
        self.of_kind(subject, Some(kind))?.into_iter().map(read).collect()
    }

    fn of_kind(&self, subject: &Subject, kind: Option<&str>) -> Result<Vec<Entry>, BookError> {
        let (about, kind) = (Some(subject.clone()), kind.map(str::to_owned));
        let mut entries = self.entries(&Filter { about, kind, ..Filter::default() })?;
        entries.reverse();
        Ok(entries)
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
