//! Writing an entry: all of it or nothing, on the disk when it returns.
//!
//! What belongs to the entry is written first and its head last, in one transaction; the head seals it (see `seal.rs`).

use serde_json::Value;

use super::Sort;
use super::entry::{Entry, NewEntry};
use super::identity::Identity;
use super::personal::{TakeOut, value_without_marks, without_marks};
use super::read::with_persons;
use super::seal::Belongings;
use super::store::{EntryRow, PersonalRow, RowsMut};
use super::texts::Packed;
use super::words::words_of;
use super::{Book, BookError, Digest, Problem, Subject, recording};

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

    /// Writes many entries, all of them or none, with one wait for the disk.
    pub fn append_all(&mut self, new: Vec<NewEntry>) -> Result<Vec<Entry>, BookError> {
        self.write(|rows| new.iter().map(|one| append(rows, one, None)).collect())
    }

    fn append_if(&mut self, new: NewEntry, expected: Option<u32>) -> Result<Entry, BookError> {
        self.write(|rows| append(rows, &new, expected))
    }
}

/// Writes an entry in a transaction that is under way.
pub(super) fn append(
    rows: &mut dyn RowsMut,
    new: &NewEntry,
    expected: Option<u32>,
) -> Result<Entry, Problem> {
    new.check()?;
    let identity = rows.identity()?;
    let before = rows.last_number()?;
    if expected.is_some_and(|expected| i64::from(expected) != before) {
        return Err(Problem::Grown);
    }
    if let Some(number) = new.corrects.filter(|number| *number == 0 || i64::from(*number) > before) {
        return Err(Problem::UnknownEntry { number });
    }
    of_its_sort(rows, &identity, new.simulated)?;
    let number = before + 1;
    let chain = identity.home();
    let (last, previous) = match rows.head(chain)? {
        Some(head) => head,
        None => (0, identity.chain_beginning(chain, 2)?),
    };
    let inputs = stored(rows, number * 2, "inputs", new, &new.inputs)?;
    let result = stored(rows, number * 2 + 1, "result", new, &new.result)?;
    let belongings = belonging(rows, number, new)?;
    let mut row = EntryRow {
        number,
        chain,
        position: last + 1,
        origin: 1,
        origin_number: number,
        form: 2,
        at_ms: new.at.as_millisecond(),
        kind: new.kind.clone(),
        subject: new.subject.clone(),
        simulated: new.simulated,
        fate: new.fate.clone(),
        summary: TakeOut(&new.personal).text(&new.summary),
        program: new.program.clone(),
        corrects: new.corrects.map(i64::from),
        inputs,
        result,
        stream: rows.last_link()?.map_or((0, Digest::BEGINNING), |link| (link.number, link.digest)),
        previous,
        digest: Digest::BEGINNING,
    };
    row.digest = row.seal(&identity, &belongings);
    rows.add_entry(&row)?;
    rows.add_words(number, &words_of(new.words()))?;
    let head = with_persons(rows, &identity, row, &belongings.personal)?;
    // Not read back: what was stored is what was asked for, and reading it costs more than writing it.
    Ok(Entry { head, inputs: new.inputs.clone(), result: new.result.clone() })
}

/// Refuses an entry of the sort that the book is not for; the first entry that says so decides which it is for.
pub(super) fn of_its_sort(
    rows: &mut dyn RowsMut,
    identity: &Identity,
    simulated: Option<bool>,
) -> Result<(), Problem> {
    match (identity.sort, simulated) {
        (_, None) => Ok(()),
        (Some(sort), Some(simulated)) if sort.takes(simulated) => Ok(()),
        (Some(sort), Some(_)) => Err(Problem::OtherSort { sort }),
        (None, Some(simulated)) => rows.set_sort(if simulated { Sort::Simulated } else { Sort::Real }),
    }
}

fn belonging(rows: &mut dyn RowsMut, number: i64, new: &NewEntry) -> Result<Belongings, Problem> {
    let mut about: Vec<Subject> = vec![new.subject.clone()];
    for subject in &new.about {
        if !about.contains(subject) {
            about.push(subject.clone());
        }
    }
    for (index, subject) in about.iter().enumerate() {
        rows.add_about(number, index as i64 + 1, subject)?;
    }
    let mut personal = Vec::with_capacity(new.personal.len());
    for (index, text) in new.personal.iter().enumerate() {
        let row = PersonalRow::of(rows.random()?, text);
        rows.add_personal(number, index as i64 + 1, &row)?;
        personal.push(row);
    }
    for (index, attachment) in new.attachments.iter().enumerate() {
        rows.add_attachment(number, index as i64 + 1, attachment)?;
    }
    for recording in &new.recordings {
        recording::finish(rows, *recording, number, &new.subject.name)?;
    }
    // Files are read back from where they were just written: their digests and lengths are known there. The rest is what was stored.
    let attachments = if new.attachments.is_empty() { Vec::new() } else { rows.attachments(number)? };
    let recordings = if new.recordings.is_empty() { Vec::new() } else { rows.recordings(number)? };
    Ok(Belongings { about, personal, attachments, recordings })
}

/// Stores a value as text and returns the digest of the text.
fn stored(
    rows: &mut dyn RowsMut,
    number: i64,
    field: &'static str,
    new: &NewEntry,
    value: &Value,
) -> Result<Digest, Problem> {
    let text = if new.personal.is_empty() {
        readable(field, value)?
    } else {
        value_without_marks(field, value)?;
        without_marks("summary", &new.summary)?;
        let mut taken = value.clone();
        TakeOut(&new.personal).value(&mut taken);
        readable(field, &taken)?
    };
    rows.add_text(number, &Packed::of(&text))?;
    Ok(Digest::of(text.as_bytes()))
}

/// Nesting up to which a value is read again for certain (our choice; serde_json reads up to 127, by its documentation).
const SURELY_READ: usize = 100;

/// Returns the text of a JSON value that is sure to be read again: the reader has a depth limit, the writer has none.
fn readable(field: &'static str, value: &Value) -> Result<String, Problem> {
    let not_storable = |error: serde_json::Error| Problem::NotStorable { field, detail: error.to_string() };
    let text = serde_json::to_string(value).map_err(not_storable)?;
    if is_deeper(value, SURELY_READ) {
        serde_json::from_str::<Value>(&text).map_err(not_storable)?;
    }
    Ok(text)
}

fn is_deeper(value: &Value, most: usize) -> bool {
    let Some(left) = most.checked_sub(1) else { return true };
    match value {
        Value::Array(list) => list.iter().any(|one| is_deeper(one, left)),
        Value::Object(fields) => fields.values().any(|one| is_deeper(one, left)),
        _ => false,
    }
}
