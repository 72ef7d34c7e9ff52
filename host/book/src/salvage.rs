//! What can be saved from a damaged book: everything that can still be read, with the numbers and seals that it has.

use super::merge::belongings;
use super::row_copy::copy_identity;
use super::store::{EntryRow, RecordingRow, Rows, RowsMut};
use super::texts::Packed;
use super::{Digest, Problem, Subject, SubjectKind};

/// So many numbers in a row without an entry are taken for the end of a damaged book (our choice: some years of a shop).
const LONGEST_GAP: i64 = 10_000;

/// Kind of the entry that holds the place of a lost one.
pub const LOST_KIND: &str = "lost";

/// What was saved from a damaged book.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Saved {
    /// Entries that could be read whole.
    pub entries: u32,
    /// Entries of which something is lost.
    pub damaged: Vec<u32>,
    /// Recordings that could be read whole.
    pub recordings: u32,
    /// Recordings of which something is lost.
    pub damaged_recordings: Vec<u32>,
}

/// Copies all that can be read, with numbers and seals as they are, into a book that has nothing yet.
pub(super) fn copy_what_can_be_read(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    step: &mut dyn FnMut(u32),
) -> Result<Saved, Problem> {
    let identity = from.identity()?;
    copy_identity(&identity, into)?;
    let mut saved = Saved::default();
    save_recordings(from, into, identity.books.len() as i64, &mut saved)?;
    // Where the last number cannot be read, the end is where nothing follows for long.
    let last = from.last().ok().flatten().map(|row| row.number);
    let mut lost = Vec::new();
    let mut number = 1;
    while last.map_or(lost.len() as i64 <= LONGEST_GAP, |last| number <= last) {
        match from.entry(number) {
            Ok(Some(row)) => {
                fill(into, &mut lost, &row, &mut saved)?;
                save_entry(from, into, &row, &mut saved)?;
                step(super::read::small(number)?);
            }
            _ => lost.push(number),
        }
        number += 1;
    }
    save_known(from, into)?;
    Ok(saved)
}

/// Leaves the places of lost entries in the chain of the entry after them.
fn fill(
    into: &mut dyn RowsMut,
    lost: &mut Vec<i64>,
    next: &EntryRow,
    saved: &mut Saved,
) -> Result<(), Problem> {
    let count = lost.len();
    for (index, number) in lost.drain(..).enumerate() {
        let left = (count - index) as i64;
        let last = index + 1 == count;
        let empty = Packed::of("{}");
        into.add_text(number * 2, &empty)?;
        into.add_text(number * 2 + 1, &empty)?;
        into.add_about(number, 1, &Subject::new(SubjectKind::Book, LOST_KIND))?;
        into.add_entry(&EntryRow {
            number,
            position: next.position - left,
            origin_number: next.origin_number - left,
            form: 0,
            kind: LOST_KIND.to_owned(),
            subject: Subject::new(SubjectKind::Book, LOST_KIND),
            simulated: None,
            fate: None,
            summary: "an entry that could not be saved".to_owned(),
            corrects: None,
            previous: into.head(next.chain)?.map_or(Digest::BEGINNING, |(_, digest)| digest),
            digest: if last { next.previous } else { Digest::of(&number.to_le_bytes()) },
            ..next.clone()
        })?;
        into.add_words(number, "")?;
        saved.damaged.push(super::read::small(number)?);
    }
    Ok(())
}

fn save_entry(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    row: &EntryRow,
    saved: &mut Saved,
) -> Result<(), Problem> {
    let number = row.number;
    let mut whole = true;
    for part in [0, 1] {
        let text = from.text(number * 2 + part).ok().flatten().filter(|text| text.clone().text().is_ok());
        whole &= text.is_some();
        into.add_text(number * 2 + part, &text.unwrap_or_else(|| Packed::of("{}")))?;
    }
    let gone = std::cell::Cell::new(false);
    let bytes_of = |sha256| match from.content(sha256) {
        Ok(Some(bytes)) if Digest::of(&bytes) == sha256 => Ok(bytes),
        _ => {
            gone.set(true);
            Ok(Vec::new())
        }
    };
    if belongings(from, into, (number, number), &bytes_of).is_err() {
        whole = false;
        if into.about(number)?.is_empty() {
            into.add_about(number, 1, &row.subject)?;
        }
    }
    for recording in from.recordings(number).unwrap_or_default() {
        if let Some((_, digest, length)) = recording.finished
            && into.recording(recording.number)?.is_some()
        {
            into.finish(recording.number, number, digest, length)?;
        }
    }
    into.add_entry(row)?;
    into.add_words(number, &from.words(number).ok().flatten().unwrap_or_default())?;
    if whole && !gone.get() {
        saved.entries = saved.entries.saturating_add(1);
    } else {
        saved.damaged.push(super::read::small(number)?);
    }
    Ok(())
}

/// By these numbers the texts of entries from other books name others.
fn save_known(from: &dyn Rows, into: &mut dyn RowsMut) -> Result<(), Problem> {
    let mut known = Vec::new();
    let _as_far_as_it_can_be_read = from.known(&mut |one| {
        known.push(one);
        Ok(true)
    });
    for (book, number, entry) in known {
        if into.entry(entry)?.is_some() {
            into.add_known_as(book, number, entry)?;
        }
    }
    Ok(())
}

fn save_recordings(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    books: i64,
    saved: &mut Saved,
) -> Result<(), Problem> {
    for number in 1..=from.last_recording().unwrap_or(0) {
        let known = from.recording(number).ok().flatten().filter(|row| (1..=books).contains(&row.origin));
        let mut whole = known.is_some();
        // A recording keeps its number, since entries name it.
        let row = RecordingRow {
            finished: None,
            ..known.unwrap_or_else(|| RecordingRow {
                number,
                at_ms: 0,
                cell_id: "lost".to_owned(),
                origin: 1,
                origin_number: number,
                finished: None,
            })
        };
        into.add_recording(&row)?;
        for position in 1..=from.last_chunk(number).unwrap_or(0) {
            let chunk = from.chunk(number, position).ok().flatten();
            whole &= chunk.is_some();
            into.add_chunk(number, position, &chunk.unwrap_or_default())?;
        }
        if whole {
            saved.recordings = saved.recordings.saturating_add(1);
        } else {
            saved.damaged_recordings.push(super::read::small(number)?);
        }
    }
    let mut links = Vec::new();
    let _as_far_as_it_can_be_read = from.links(&mut |link| {
        links.push(link);
        Ok(true)
    });
    for link in links {
        into.add_link(&link)?;
    }
    Ok(())
}
