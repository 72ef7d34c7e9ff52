//! The rules of the book as a book in memory keeps them; see `store.rs`.

use std::collections::BTreeSet;

use super::super::Problem;
use super::super::store::EntryRow;
use super::tables::{Tables, last, last_of};

/// Refuses a request that breaks a rule.
pub(super) fn rule(kept: bool, rule: &str) -> Result<(), Problem> {
    if kept { Ok(()) } else { Err(Problem::Refused { rule: rule.to_owned() }) }
}

/// Refuses what names something that is not there.
pub(super) fn is_there(there: bool, what: &str) -> Result<(), Problem> {
    rule(there, &format!("a row names {what} that is not there"))
}

/// Refuses a name that is empty.
pub(super) fn is_named(name: &str) -> Result<(), Problem> {
    rule(!name.is_empty(), "a name is empty")
}

impl Tables {
    /// Refuses whatever is to belong to an entry that is written already.
    pub(super) fn is_open(&self, entry: i64) -> Result<(), Problem> {
        rule(!self.entries.contains_key(&entry), "this entry is sealed")
    }

    pub(super) fn takes_entry(&self, row: &EntryRow) -> Result<(), Problem> {
        rule(row.number == last(&self.entries) + 1, "entries are numbered without gaps")?;
        rule(row.position == last_of(&self.places, row.chain) + 1, "a chain has no gaps")?;
        let known = self.origins.contains_key(&(row.origin, row.origin_number));
        rule(!known, "this entry is here already")?;
        is_there(self.chains.contains_key(&row.chain), "a chain")?;
        is_there(self.books.contains_key(&row.origin), "a book")?;
        rule((0..=2).contains(&row.form), "the form of the seal is not known")?;
        is_named(&row.kind)?;
        is_named(&row.subject.name)?;
        row.fate.as_deref().map_or(Ok(()), is_named)
    }

    /// A text about a person may be blanked once an entry of this book says so.
    pub(super) fn may_be_blanked(&self, entry: i64) -> Result<(), Problem> {
        let said = self
            .entries
            .values()
            .any(|row| row.kind == "blanked" && row.origin == 1 && row.corrects == Some(entry));
        rule(said, "the book is append-only")
    }

    /// Returns what belongs to entries that are not there.
    pub(super) fn orphans(&self) -> Vec<String> {
        let mut found = BTreeSet::new();
        let mut look = |what: &str, entry: i64| {
            if !self.entries.contains_key(&entry) {
                found.insert(format!("{what} belongs to entry {entry}, which is not there"));
            }
        };
        self.about.keys().for_each(|(entry, _)| look("a subject", *entry));
        self.personal.keys().for_each(|(entry, _)| look("a text about a person", *entry));
        self.attachments.keys().for_each(|(entry, _)| look("an attachment", *entry));
        let finished = self.recordings.values().filter_map(|row| row.finished);
        finished.for_each(|(entry, ..)| look("a recording", entry));
        found.into_iter().collect()
    }
}
