//! Entries that come from another file: those of another bench, or of a book written beside.
//!
//! An entry keeps its chain, its place in it and its seal, and remembers which book it was first written into and its number
//! there. What is here already is left as it is, so taking in the same file twice changes nothing. Where both files have
//! continued one chain differently, one of them is a copy that was written to by itself: that is refused.

use std::collections::BTreeMap;
use std::path::Path;

use super::append::of_its_sort;
use super::identity::Identity;
use super::recording::{begin_digest, digest_of_links, link};
use super::seal::Belongings;
use super::sqlite::Sqlite;
use super::store::{EntryRow, RecordingRow, Rows, RowsMut, Store, Wanted};
use super::{Book, BookError, Digest, NewAttachment, Problem};

/// What was taken in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Merged {
    /// Numbers that the new entries have here.
    pub entries: Vec<u32>,
    /// Entries that were here already.
    pub known: u32,
    /// Recordings without an entry that came along.
    pub recordings: u32,
}

impl Book {
    /// Takes in what another file has and this one has not, all of it or nothing.
    pub fn merge(&mut self, other: &Path) -> Result<Merged, BookError> {
        let from = Sqlite::open_read_only(other).map_err(|problem| problem.at(other))?;
        self.merge_from(&from)
    }

    /// Takes in what another database has.
    pub(super) fn merge_from(&mut self, from: &dyn Store) -> Result<Merged, BookError> {
        let mut taken = Merged::default();
        let done = from.read(&mut |rows| {
            self.store.write(&mut |into| {
                taken = merge(rows, into)?;
                Ok(())
            })
        });
        done.map_err(|problem| problem.at(&self.path))?;
        Ok(taken)
    }
}

/// Which numbers books and chains of another file have here.
struct Numbers {
    theirs: Identity,
    books: BTreeMap<i64, i64>,
    chains: BTreeMap<i64, i64>,
}

impl Numbers {
    fn of(theirs: Identity, into: &mut dyn RowsMut) -> Result<Self, Problem> {
        let ours = into.identity()?;
        let (mut books, mut chains) = (BTreeMap::new(), BTreeMap::new());
        for (index, id) in theirs.books.iter().enumerate() {
            let here = match ours.books.iter().position(|known| known == id) {
                Some(known) => known as i64 + 1,
                None => into.add_book(*id)?,
            };
            books.insert(index as i64 + 1, here);
        }
        for (index, chain) in theirs.chains.iter().enumerate() {
            let here = match ours.chains.iter().position(|known| known.id == chain.id) {
                Some(known) => known as i64 + 1,
                None => into.add_chain(&super::Chain { home: false, ..chain.clone() })?,
            };
            chains.insert(index as i64 + 1, here);
        }
        Ok(Self { theirs, books, chains })
    }

    fn book(&self, theirs: i64) -> i64 {
        self.books.get(&theirs).copied().unwrap_or(0)
    }
}

fn merge(from: &dyn Rows, into: &mut dyn RowsMut) -> Result<Merged, Problem> {
    let numbers = Numbers::of(from.identity()?, into)?;
    let mut taken = Merged::default();
    let mut rows = Vec::new();
    from.entries(&Wanted::default(), &mut |row| {
        rows.push(row);
        Ok(true)
    })?;
    for row in rows {
        let chain = numbers.chains.get(&row.chain).copied().unwrap_or(0);
        let here = match into.entry_at(chain, row.position)? {
            Some(known) if known.digest == row.digest => {
                taken.known = taken.known.saturating_add(1);
                known.number
            }
            Some(known) => {
                let chain = numbers.theirs.chain_of(row.chain).short();
                return Err(Problem::Forked { chain, entry: super::read::small(known.number)? });
            }
            None => {
                let number = add(from, into, &numbers, &row, chain)?;
                taken.entries.push(super::read::small(number)?);
                number
            }
        };
        // By this number the texts of their entries name it.
        let book = numbers.book(1);
        if book != 1 && into.known_as(book, row.number)?.is_none() {
            into.add_known_as(book, row.number, here)?;
        }
    }
    for recording in from.unfinished(None)? {
        if take_recording(from, into, &numbers, &recording)?.1 {
            taken.recordings = taken.recordings.saturating_add(1);
        }
    }
    Ok(taken)
}

fn add(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    numbers: &Numbers,
    row: &EntryRow,
    chain: i64,
) -> Result<i64, Problem> {
    let ours = into.identity()?;
    of_its_sort(into, &ours, row.simulated)?;
    let number = into.last()?.map_or(0, |row| row.number) + 1;
    let origin = numbers.book(row.origin);
    if origin == 1 && row.origin_number != number {
        // Written into this very book once, and cut off since: its number is another entry's by now.
        let chain = numbers.theirs.chain_of(row.chain).short();
        return Err(Problem::Forked { chain, entry: super::read::small(number)? });
    }
    whole_entry(from, into, (row.number, number))?;
    for recording in from.recordings(row.number)? {
        let (here, _) = take_recording(from, into, numbers, &recording)?;
        let is_open = into.recording(here)?.is_some_and(|row| row.finished.is_none());
        let theirs = digest_of_links(&from.links_of(recording.number)?);
        if !is_open || theirs != digest_of_links(&into.links_of(here)?) {
            let chain = numbers.theirs.chain_of(row.chain).short();
            return Err(Problem::Forked { chain, entry: super::read::small(number)? });
        }
        if let Some((_, digest, length)) = recording.finished {
            into.finish(here, number, digest, length)?;
        }
    }
    into.add_entry(&EntryRow { number, chain, origin, ..row.clone() })?;
    if let Some(words) = from.words(row.number)? {
        into.add_words(number, &words)?;
    }
    Ok(number)
}

/// Copies the texts of an entry and what belongs to it, all of it or an error.
pub(super) fn whole_entry(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    (theirs, ours): (i64, i64),
) -> Result<(), Problem> {
    for part in [0, 1] {
        let text = from.text(theirs * 2 + part)?;
        into.add_text(ours * 2 + part, &text.ok_or_else(|| missing(format!("a text of entry {theirs}")))?)?;
    }
    belongings(from, into, (theirs, ours), &|sha256| {
        from.content(sha256)?.ok_or_else(|| missing(format!("an attachment of entry {theirs}")))
    })
}

/// Makes the error about something that is not where it belongs.
pub(super) fn missing(what: String) -> Problem {
    Problem::Corrupt { detail: format!("{what} is missing") }
}

/// Copies what an entry is about, texts about persons and attachments.
pub(super) fn belongings(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    (theirs, ours): (i64, i64),
    bytes_of: &dyn Fn(Digest) -> Result<Vec<u8>, Problem>,
) -> Result<(), Problem> {
    let Belongings { about, personal, attachments, .. } = Belongings::read(from, theirs)?;
    for (index, subject) in about.iter().enumerate() {
        into.add_about(ours, index as i64 + 1, subject)?;
    }
    for (index, row) in personal.iter().enumerate() {
        into.add_personal(ours, index as i64 + 1, row)?;
    }
    for (index, kept) in attachments.into_iter().enumerate() {
        let bytes = bytes_of(kept.sha256)?;
        let new = NewAttachment { name: kept.name, media_type: kept.media_type, bytes };
        into.add_attachment(ours, index as i64 + 1, &new)?;
    }
    Ok(())
}

/// Returns the number that a recording has here, and whether it was not here before. One that has grown there since is
/// continued, and links here are new ones, sealed by what is written here from now on.
fn take_recording(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    numbers: &Numbers,
    theirs: &RecordingRow,
) -> Result<(i64, bool), Problem> {
    let origin = numbers.book(theirs.origin);
    let known = match origin {
        1 => into.recording(theirs.origin_number)?.map(|row| row.number),
        _ => into.recording_from(origin, theirs.origin_number)?,
    };
    let number = match known {
        Some(known) => known,
        None => {
            let number = into.last_recording()? + 1;
            let row = RecordingRow { number, origin, finished: None, ..theirs.clone() };
            into.add_recording(&row)?;
            link(into, number, 0, begin_digest(&row))?;
            number
        }
    };
    if into.recording(number)?.is_some_and(|row| row.finished.is_none()) {
        for position in into.last_chunk(number)? + 1..=from.last_chunk(theirs.number)? {
            let bytes = from.chunk(theirs.number, position)?.unwrap_or_default();
            into.add_chunk(number, position, &bytes)?;
            link(into, number, position, Digest::of(&bytes))?;
        }
    }
    Ok((number, known.is_none()))
}
