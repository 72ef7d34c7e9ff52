//! Rows of a query as the book's own: one, all, or one after the other.

use rusqlite::{Connection, Params, Row};

use super::super::store::{EntryRow, KeptRow, LinkRow, PersonalRow, RecordingRow, Take};
use super::super::texts::Packed;
use super::super::{Problem, Subject, SubjectKind};

pub(super) fn entry_row(row: &Row<'_>) -> Result<EntryRow, Problem> {
    Ok(EntryRow {
        number: row.get(0)?,
        chain: row.get(1)?,
        position: row.get(2)?,
        origin: row.get(3)?,
        origin_number: row.get(4)?,
        form: row.get(5)?,
        at_ms: row.get(6)?,
        kind: row.get(7)?,
        subject: subject(row, 8)?,
        simulated: row.get(10)?,
        fate: row.get(11)?,
        summary: row.get(12)?,
        program: row.get(13)?,
        corrects: row.get(14)?,
        inputs: row.get(15)?,
        result: row.get(16)?,
        stream: (row.get(17)?, row.get(18)?),
        previous: row.get(19)?,
        digest: row.get(20)?,
    })
}

pub(super) fn subject(row: &Row<'_>, at: usize) -> Result<Subject, Problem> {
    let kind: String = row.get(at)?;
    Ok(Subject { kind: SubjectKind::of_word(&kind)?, name: row.get(at + 1)? })
}

pub(super) fn recording_row(row: &Row<'_>) -> Result<RecordingRow, Problem> {
    let entry: Option<i64> = row.get(4)?;
    Ok(RecordingRow {
        number: row.get(0)?,
        at_ms: row.get(1)?,
        cell_id: row.get(2)?,
        origin: row.get(7)?,
        origin_number: row.get(3)?,
        finished: match entry {
            Some(entry) => Some((entry, row.get(5)?, row.get(6)?)),
            None => None,
        },
    })
}

pub(super) fn personal_row(row: &Row<'_>) -> Result<PersonalRow, Problem> {
    let (salt, text): (Option<[u8; 16]>, Option<String>) = (row.get(1)?, row.get(2)?);
    Ok(PersonalRow { digest: row.get(0)?, text: salt.zip(text) })
}

pub(super) fn packed(row: &Row<'_>) -> Result<Packed, Problem> {
    Ok(Packed { packing: row.get(0)?, bytes: row.get(1)? })
}

pub(super) fn kept_row(row: &Row<'_>) -> Result<KeptRow, Problem> {
    Ok(KeptRow { packed: packed(row)?, digest: row.get(2)? })
}

pub(super) fn link_row(row: &Row<'_>) -> Result<LinkRow, Problem> {
    Ok(LinkRow {
        number: row.get(0)?,
        recording: row.get(1)?,
        position: row.get(2)?,
        content: row.get(3)?,
        digest: row.get(4)?,
    })
}

/// Hears the rows of a query until it wants no more.
pub(super) fn each<T>(
    connection: &Connection,
    query: &str,
    params: impl Params,
    make: impl Fn(&Row<'_>) -> Result<T, Problem>,
    take: Take<'_, T>,
) -> Result<(), Problem> {
    let mut statement = connection.prepare_cached(query)?;
    let mut rows = statement.query(params)?;
    while let Some(row) = rows.next()? {
        if !take(make(row)?)? {
            break;
        }
    }
    Ok(())
}

pub(super) fn all<T>(
    connection: &Connection,
    query: &str,
    params: impl Params,
    make: impl Fn(&Row<'_>) -> Result<T, Problem>,
) -> Result<Vec<T>, Problem> {
    let mut found = Vec::new();
    each(connection, query, params, make, &mut |one| {
        found.push(one);
        Ok(true)
    })?;
    Ok(found)
}

pub(super) fn one<T>(
    connection: &Connection,
    query: &str,
    params: impl Params,
    make: impl Fn(&Row<'_>) -> Result<T, Problem>,
) -> Result<Option<T>, Problem> {
    let mut statement = connection.prepare_cached(query)?;
    let mut rows = statement.query(params)?;
    rows.next()?.map(make).transpose()
}

pub(super) fn number(connection: &Connection, query: &str, params: impl Params) -> Result<i64, Problem> {
    Ok(connection.prepare_cached(query)?.query_row(params, |row| row.get(0))?)
}
