//! What is folded from entries and kept, so that a question about one thing need not read them all again.
//!
//! A fold is kept as values by key, each under labels by which it is found; and with it the number and digest of the last entry
//! that it has taken in. Where that entry is not the one in the book (another copy, a damaged file, another version of the
//! fold) all of it is made again from the entries: nothing kept is ever the only place of anything.

use super::append::append;
use super::digest::Digester;
use super::store::{KeptRow, KeptTo, Rows, RowsMut};
use super::texts::Packed;
use super::{Book, BookError, Digest, Entry, NewEntry, Problem};

/// A fold: its name, and the version of what it keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fold {
    /// Its name.
    pub name: &'static str,
    /// Raised whenever it would keep something else of the same entries.
    pub version: u32,
}

/// A value of a fold that has changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Its key.
    pub key: String,
    /// The new value; `None` takes it out.
    pub value: Option<String>,
    /// The labels under which it is found, each with its rank there.
    pub labels: Vec<(String, i64)>,
}

impl Book {
    /// Returns the number of the last entry that a fold has taken in: 0 where nothing that fits the book is kept.
    pub fn kept_to(&self, fold: Fold) -> Result<u32, BookError> {
        let scratch = self.scratch;
        self.read(|rows| super::read::small(kept_to(rows, fold, scratch)?))
    }

    /// Returns by how many entries what a fold keeps is behind the book.
    pub fn behind(&self, fold: Fold) -> Result<u32, BookError> {
        self.at_one_state(|| Ok(self.last_number()?.saturating_sub(self.kept_to(fold)?)))
    }

    /// Returns the value of a key. A value that is not the one that was kept is [`Problem::KeptDamaged`]: the fold is then made
    /// again from the entries.
    pub fn kept(&self, fold: Fold, key: &str) -> Result<Option<String>, BookError> {
        self.read(|rows| rows.kept(fold.name, key)?.map(|row| checked(fold, key, row)).transpose())
    }

    /// Makes the error about a value that cannot be read.
    pub fn kept_is_damaged(&self, fold: Fold, key: &str, detail: impl ToString) -> BookError {
        let key = format!("{key}: {}", detail.to_string());
        Problem::KeptDamaged { fold: fold.name, key }.at(self.path())
    }

    /// Forgets all that a fold keeps, so that it is made again.
    pub fn forget_kept(&mut self, fold: Fold) -> Result<(), BookError> {
        self.write(|rows| rows.clear_kept(fold.name))
    }

    /// Writes an entry as [`Book::append_after`] does, and keeps what it changes in the same commit where the fold was kept up
    /// to `from`.
    pub fn append_keeping(
        &mut self,
        new: NewEntry,
        last: u32,
        (fold, from): (Fold, u32),
        changes: &[Change],
    ) -> Result<Entry, BookError> {
        self.write(|rows| {
            let entry = append(rows, &new, Some(last))?;
            keep(rows, fold, (from, entry.number), changes, false)?;
            Ok(entry)
        })
    }

    /// Returns the keys under a label, those with the highest rank first, at most so many.
    pub fn kept_under(&self, fold: Fold, label: &str, most: Option<u32>) -> Result<Vec<String>, BookError> {
        self.read(|rows| rows.kept_under(fold.name, label, most))
    }

    /// Returns the labels that begin so, each with how many keys it has.
    pub fn kept_labels(&self, fold: Fold, beginning: &str) -> Result<Vec<(String, u64)>, BookError> {
        self.read(|rows| rows.kept_labels(fold.name, beginning))
    }

    /// Keeps what a fold has made of the entries from after `from` up to `to`. Nothing is kept, and that is no error, where
    /// another program has kept something meanwhile.
    pub fn keep(&mut self, fold: Fold, from: u32, to: u32, changes: &[Change]) -> Result<bool, BookError> {
        let scratch = self.scratch;
        self.write(|rows| keep(rows, fold, (from, to), changes, scratch))
    }

    /// Returns a digest over all that a fold keeps; `None` where something of it is damaged.
    pub fn digest_of_kept(&self, fold: Fold) -> Result<Option<Digest>, BookError> {
        let mut digester = Digester::fields("celltriage book fold 1");
        let heard = self.each_kept(fold, &mut |change| {
            digester.field(&change.key);
            digester.optional(change.value.as_ref());
            digester.count(change.labels.len());
            for (label, rank) in &change.labels {
                digester.field(label);
                digester.integer(*rank);
            }
        });
        match heard {
            Err(BookError { problem: Problem::KeptDamaged { .. }, .. }) => Ok(None),
            heard => heard.map(|()| Some(digester.finish())),
        }
    }

    /// Hears all that a fold keeps, in the order of keys.
    pub fn each_kept(&self, fold: Fold, take: &mut dyn FnMut(Change)) -> Result<(), BookError> {
        self.read(|rows| {
            rows.kept_all(fold.name, &mut |(key, value, labels)| {
                let value = Some(checked(fold, &key, value)?);
                take(Change { key, value, labels });
                Ok(true)
            })
        })
    }
}

fn keep(
    rows: &mut dyn RowsMut,
    fold: Fold,
    (from, to): (u32, u32),
    changes: &[Change],
    scratch: bool,
) -> Result<bool, Problem> {
    if kept_to(rows, fold, scratch)? != i64::from(from) {
        return Ok(false);
    }
    let digest = match rows.digest_of(to.into())? {
        Some(digest) => digest,
        None if scratch => Digest::BEGINNING,
        None => return Ok(false),
    };
    if from == 0 {
        rows.clear_kept(fold.name)?;
    }
    for change in changes {
        let value = change
            .value
            .as_deref()
            .map(|text| KeptRow { packed: Packed::of(text), digest: digest_of(fold, &change.key, text) });
        rows.set_kept(fold.name, &change.key, value.as_ref(), &change.labels)?;
    }
    let to = KeptTo { version: fold.version, number: to.into(), digest };
    rows.set_kept_to(fold.name, &to)?;
    Ok(true)
}

fn checked(fold: Fold, key: &str, row: KeptRow) -> Result<String, Problem> {
    let damaged = || Problem::KeptDamaged { fold: fold.name, key: key.to_owned() };
    let text = row.packed.text().map_err(|_| damaged())?;
    if digest_of(fold, key, &text) == row.digest { Ok(text) } else { Err(damaged()) }
}

fn digest_of(fold: Fold, key: &str, text: &str) -> Digest {
    let mut digester = Digester::fields("celltriage book kept 1");
    digester.field(fold.name);
    digester.field(key);
    digester.field(text);
    digester.finish()
}

fn kept_to<R: Rows + ?Sized>(rows: &R, fold: Fold, scratch: bool) -> Result<i64, Problem> {
    let Some(kept) = rows.kept_to(fold.name)?.filter(|kept| kept.version == fold.version) else {
        return Ok(0);
    };
    let fits = scratch || rows.digest_of(kept.number)? == Some(kept.digest);
    Ok(if fits { kept.number } else { 0 })
}
