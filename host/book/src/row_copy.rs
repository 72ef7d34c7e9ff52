//! A book copied row by row, from one database into another: everything, or an error.
//!
//! Numbers, seals and links stay as they are. What is kept of folds does not come along; it is drawn from the entries again.

use super::Problem;
use super::identity::Identity;
use super::merge::{missing, whole_entry};
use super::store::{EntryRow, RecordingRow, Rows, RowsMut, Wanted};

/// Copies all into a book that has nothing yet, not even an identity; `step` hears how many of how many entries are done.
pub(super) fn copy_rows(
    from: &dyn Rows,
    into: &mut dyn RowsMut,
    step: &mut dyn FnMut(u64, u64),
) -> Result<(), Problem> {
    copy_identity(&from.identity()?, into)?;
    for number in 1..=from.last_recording()? {
        copy_recording(from, into, number)?;
    }
    from.links(&mut |link| into.add_link(&link).map(|()| true))?;
    let last = from.last()?.map_or(0, |row| row.number);
    from.entries(&Wanted::default(), &mut |row| {
        copy_entry(from, into, &row)?;
        step(row.number.unsigned_abs(), last.unsigned_abs());
        Ok(true)
    })?;
    from.known(&mut |(book, number, entry)| into.add_known_as(book, number, entry).map(|()| true))
}

/// Gives a book that has none the identity of another.
pub(super) fn copy_identity(identity: &Identity, into: &mut dyn RowsMut) -> Result<(), Problem> {
    identity.books.iter().try_for_each(|id| into.add_book(*id).map(drop))?;
    identity.chains.iter().try_for_each(|chain| into.add_chain(chain).map(drop))?;
    identity.sort.map_or(Ok(()), |sort| into.set_sort(sort))
}

fn copy_recording(from: &dyn Rows, into: &mut dyn RowsMut, number: i64) -> Result<(), Problem> {
    let row = from.recording(number)?.ok_or_else(|| missing(format!("recording {number}")))?;
    into.add_recording(&RecordingRow { finished: None, ..row })?;
    for position in 1..=from.last_chunk(number)? {
        let chunk = from.chunk(number, position)?;
        let chunk = chunk.ok_or_else(|| missing(format!("part {position} of recording {number}")))?;
        into.add_chunk(number, position, &chunk)?;
    }
    Ok(())
}

fn copy_entry(from: &dyn Rows, into: &mut dyn RowsMut, row: &EntryRow) -> Result<(), Problem> {
    let number = row.number;
    whole_entry(from, into, (number, number))?;
    for recording in from.recordings(number)? {
        if let Some((_, digest, length)) = recording.finished {
            into.finish(recording.number, number, digest, length)?;
        }
    }
    into.add_entry(row)?;
    from.words(number)?.map_or(Ok(()), |words| into.add_words(number, &words))
}
