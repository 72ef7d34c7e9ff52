//! Reading the book: one entry, a selection, what is attached.
//!
//! Input: a number, a digest or a [`Filter`]; output: the entries written, or their heads where the rest is not asked for. A
//! search looks at the words a person would look for: subject, fate, kind, summary, and the values (not the keys) of the inputs.

use jiff::Timestamp;
use serde_json::Value;

use super::entry::{Attachment, Entry, Head};
use super::identity::Identity;
use super::personal::PutBack;
use super::seal::Belongings;
use super::store::{EntryRow, PersonalRow, Rows, Wanted};
use super::words::{Searched, words_of};
use super::{Book, BookError, Digest, Problem, Subject, SubjectKind};

/// Which entries are wanted; what is `None` does not restrict.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// About this, alone or among others.
    pub about: Option<Subject>,
    /// Exactly this kind.
    pub kind: Option<String>,
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
        self.read(|rows| {
            let row = rows.entry(number.into())?;
            row.map(|row| entry_of(rows, &rows.identity()?, row)).transpose()
        })
    }

    /// Returns the head of an entry; `None` where the book has no such number.
    pub fn head(&self, number: u32) -> Result<Option<Head>, BookError> {
        self.read(|rows| {
            let row = rows.entry(number.into())?;
            row.map(|row| head_of(rows, &rows.identity()?, row)).transpose()
        })
    }

    /// Returns the head of the last entry, the newest by its number; `None` where the book has none.
    pub fn last(&self) -> Result<Option<Head>, BookError> {
        self.read(|rows| rows.last()?.map(|row| head_of(rows, &rows.identity()?, row)).transpose())
    }

    /// Returns the number of the last entry; 0 where the book has none.
    pub fn last_number(&self) -> Result<u32, BookError> {
        self.read(|rows| small(rows.last_number()?))
    }

    /// Returns the digest of an entry; `None` where the book has no such number.
    pub fn digest_of(&self, number: u32) -> Result<Option<Digest>, BookError> {
        self.read(|rows| rows.digest_of(number.into()))
    }

    /// Returns the time of the last entry, the newest by its number; `None` where the book has none.
    pub fn time_of_last_entry(&self) -> Result<Option<Timestamp>, BookError> {
        self.read(|rows| rows.last()?.map(|row| time_of(&row)).transpose())
    }

    /// Returns the entries that fit, newest first.
    pub fn entries(&self, filter: &Filter) -> Result<Vec<Entry>, BookError> {
        self.select(filter, |rows, identity, row| entry_of(rows, identity, row))
    }

    /// Returns the heads of the entries that fit, newest first.
    pub fn heads(&self, filter: &Filter) -> Result<Vec<Head>, BookError> {
        self.select(filter, |rows, identity, row| head_of(rows, identity, row))
    }

    /// Returns the entries that hold `text`, newest first; see [`Filter::text`].
    pub fn find(&self, text: &str) -> Result<Vec<Entry>, BookError> {
        self.entries(&Filter { text: Some(text.to_owned()), ..Filter::default() })
    }

    /// Returns the entries after a number, oldest first, at most so many.
    pub fn entries_after(&self, number: u32, most: u32) -> Result<Vec<Entry>, BookError> {
        self.after(None, number, most)
    }

    /// The same of one kind.
    pub fn entries_of_kind_after(&self, kind: &str, number: u32, most: u32) -> Result<Vec<Entry>, BookError> {
        self.after(Some(kind), number, most)
    }

    fn after(&self, kind: Option<&str>, number: u32, most: u32) -> Result<Vec<Entry>, BookError> {
        self.read(|rows| {
            let identity = rows.identity()?;
            let wanted = Wanted { kind, after: Some(number.into()), limit: Some(most), ..Wanted::default() };
            let mut found = Vec::new();
            rows.entries(&wanted, &mut |row| {
                found.push(row);
                Ok(true)
            })?;
            found.into_iter().map(|row| entry_of(rows, &identity, row)).collect()
        })
    }

    /// Returns the names of all things of a sort that entries are about, in their order.
    pub fn names(&self, kind: SubjectKind) -> Result<Vec<String>, BookError> {
        self.read(|rows| rows.names(kind.word()))
    }

    /// Returns the number in this book of the entry that a text of `entry` names by `number`.
    pub fn here(&self, entry: &Head, number: u32) -> Result<Option<u32>, BookError> {
        let Some((from, _)) = entry.from else { return Ok(Some(number)) };
        self.read(|rows| {
            let identity = rows.identity()?;
            let book = identity.books.iter().position(|id| *id == from).map_or(0, |index| index as i64 + 1);
            rows.known_as(book, number.into())?.map(small).transpose()
        })
    }

    /// Returns what an entry is about; the first is its subject.
    pub fn about(&self, number: u32) -> Result<Vec<Subject>, BookError> {
        self.read(|rows| rows.about(number.into()))
    }

    /// Returns the texts about persons in an entry that are not blanked.
    pub fn persons_in(&self, number: u32) -> Result<Vec<String>, BookError> {
        self.read(|rows| {
            let rows = rows.personal(number.into())?;
            Ok(rows.into_iter().filter_map(|row| row.text).map(|(_, text)| text).collect())
        })
    }

    /// Returns what is attached to an entry, in the order given; empty if there is no such entry.
    pub fn attachments_of(&self, number: u32) -> Result<Vec<Attachment>, BookError> {
        self.read(|rows| rows.attachments(number.into()))
    }

    /// Returns the attached bytes with this digest, checked against it; `None` where the book has none.
    pub fn attachment(&self, sha256: Digest) -> Result<Option<Vec<u8>>, BookError> {
        self.read(|rows| match rows.content(sha256)? {
            Some(bytes) if Digest::of(&bytes) != sha256 => {
                Err(Problem::Corrupt { detail: format!("the attached bytes {sha256} were changed") })
            }
            bytes => Ok(bytes),
        })
    }

    fn select<T>(
        &self,
        filter: &Filter,
        make: impl Fn(&dyn Rows, &Identity, EntryRow) -> Result<T, Problem>,
    ) -> Result<Vec<T>, BookError> {
        self.read(|rows| {
            let wanted = Wanted {
                subject: filter.about.as_ref(),
                kind: filter.kind.as_deref(),
                fate: filter.fate.as_deref(),
                since_ms: filter.since.map(Timestamp::as_millisecond),
                until_ms: filter.until.map(Timestamp::as_millisecond),
                words: filter.text.as_deref(),
                after: None,
                newest_first: true,
                limit: filter.limit,
            };
            let identity = rows.identity()?;
            let mut found = Vec::new();
            rows.entries(&wanted, &mut |row| {
                found.push(make(rows, &identity, row)?);
                Ok(true)
            })?;
            Ok(found)
        })
    }
}

/// Returns the whole entry of a row.
pub(super) fn entry_of<R: Rows + ?Sized>(
    rows: &R,
    identity: &Identity,
    row: EntryRow,
) -> Result<Entry, Problem> {
    let number = row.number;
    let personal = rows.personal(number)?;
    let inputs = value_of(rows, number * 2, &personal)?;
    let result = value_of(rows, number * 2 + 1, &personal)?;
    Ok(Entry { head: with_persons(rows, identity, row, &personal)?, inputs, result })
}

/// Returns the head of a row.
pub(super) fn head_of<R: Rows + ?Sized>(
    rows: &R,
    identity: &Identity,
    row: EntryRow,
) -> Result<Head, Problem> {
    let personal = rows.personal(row.number)?;
    with_persons(rows, identity, row, &personal)
}

/// Returns the text of an entry as it is sealed, with marks where texts about persons were taken out.
pub(super) fn sealed_text<R: Rows + ?Sized>(rows: &R, number: i64) -> Result<String, Problem> {
    let packed = rows.text(number)?;
    packed
        .ok_or_else(|| Problem::Corrupt { detail: format!("entry {}: a text is missing", number / 2) })?
        .text()
}

/// Returns the words by which a stored entry is found, from its inputs as they are sealed and the texts about persons that belong
/// in them.
pub(super) fn words_of_row(
    row: &EntryRow,
    sealed_inputs: &str,
    personal: &[PersonalRow],
) -> Result<String, Problem> {
    let mut inputs: Value = serde_json::from_str(sealed_inputs)
        .map_err(|error| Problem::Corrupt { detail: format!("what it was made from: {error}") })?;
    PutBack(personal).value(&mut inputs);
    let mut summary = row.summary.clone();
    PutBack(personal).text(&mut summary);
    Ok(words_of(Searched {
        subject: &row.subject.name,
        fate: row.fate.as_deref(),
        kind: &row.kind,
        summary: &summary,
        inputs: &inputs,
    }))
}

fn value_of<R: Rows + ?Sized>(rows: &R, number: i64, personal: &[PersonalRow]) -> Result<Value, Problem> {
    let text = sealed_text(rows, number)?;
    let mut value = serde_json::from_str(&text)
        .map_err(|error| Problem::Corrupt { detail: format!("entry {}, a text: {error}", number / 2) })?;
    PutBack(personal).value(&mut value);
    Ok(value)
}

/// Returns the head of a row, with the texts about persons in their places.
pub(super) fn with_persons<R: Rows + ?Sized>(
    rows: &R,
    identity: &Identity,
    row: EntryRow,
    personal: &[PersonalRow],
) -> Result<Head, Problem> {
    let corrects = match row.corrects {
        Some(number) if row.origin != 1 => rows.known_as(row.origin, number)?,
        other => other,
    };
    let (number, at) = (row.number, time_of(&row)?);
    let mut summary = row.summary;
    PutBack(personal).text(&mut summary);
    Ok(Head {
        number: small(number)?,
        chain: identity.chain_of(row.chain),
        position: small(row.position)?,
        from: if row.origin == 1 {
            None
        } else {
            Some((identity.book_of(row.origin), small(row.origin_number)?))
        },
        at,
        kind: row.kind,
        subject: row.subject,
        simulated: row.simulated,
        fate: row.fate,
        summary,
        program: row.program,
        corrects: corrects.map(small).transpose()?,
        previous: row.previous,
        digest: row.digest,
    })
}

fn time_of(row: &EntryRow) -> Result<Timestamp, Problem> {
    Timestamp::from_millisecond(row.at_ms)
        .map_err(|error| Problem::Corrupt { detail: format!("entry {}, time: {error}", row.number) })
}

/// Numbers of entries fit 32 bits; what does not was written by someone else.
pub(super) fn small(number: i64) -> Result<u32, Problem> {
    u32::try_from(number).map_err(|error| Problem::Corrupt { detail: format!("number {number}: {error}") })
}

impl Belongings {
    /// Reads what belongs to an entry.
    pub(super) fn read<R: Rows + ?Sized>(rows: &R, entry: i64) -> Result<Self, Problem> {
        Ok(Self {
            about: rows.about(entry)?,
            personal: rows.personal(entry)?,
            attachments: rows.attachments(entry)?,
            recordings: rows.recordings(entry)?,
        })
    }
}
