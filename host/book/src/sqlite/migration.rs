//! From format 1 to format 2: heads and texts apart, chains, typed subjects, links of recordings.
//!
//! Runs in one transaction after a copy of the file was put beside it; entries keep their digests, so an old chain verifies as
//! it did. What format 1 did not say is worked out from kinds and inputs as they were in format 1, a closed set.

use rusqlite::{Connection, Row, Transaction};
use serde_json::Value;

use super::super::Sort;
use super::super::identity::{Chain, Id};
use super::super::read::words_of_row;
use super::super::recording::{begin_digest, link};
use super::super::store::{EntryRow, Rows, RowsMut};
use super::super::texts::Packed;
use super::super::{Digest, Problem, Subject, SubjectKind};
use super::write::Writing;

/// Triggers of format 1 on the table that format 2 replaces; it has its own.
const BEFORE: &str = "
    DROP TRIGGER entry_keeps; DROP TRIGGER entry_stays; DROP TRIGGER entry_next;
    DROP TRIGGER attachment_sealed; DROP TRIGGER finished_recording_sealed;
    ALTER TABLE entry RENAME TO entry_1;";

/// Brings the book that a transaction is open on from format 1 to format 2.
pub(super) fn to_format_2<'a>(transaction: Transaction<'a>, bench: &str) -> Result<Transaction<'a>, Problem> {
    // Other tables go on naming `entry`, which is there again at the end.
    transaction.pragma_update(None, "legacy_alter_table", true)?;
    transaction.execute_batch(BEFORE)?;
    let old: i64 = transaction.query_row("SELECT count(*) FROM entry_1", [], |row| row.get(0))?;
    if old == 0 {
        // A new book has no page that is not in use.
        transaction.execute_batch("DROP TABLE entry_1")?;
    }
    transaction.execute_batch(include_str!("version_2.sql"))?;
    let mut writing = Writing(transaction);
    // Two copies of one old book are the same book, whoever brings them up to date.
    let id = if old == 0 { Some(Id(writing.random()?)) } else { Id::of(first_digest(&writing.0)?.as_ref()) };
    let id = id.ok_or_else(|| Problem::Corrupt { detail: "the digest of the first entry".into() })?;
    // Without a bench the identity comes from another book.
    if !bench.is_empty() {
        writing.add_book(id)?;
        writing.add_chain(&Chain { id, bench: bench.to_owned(), home: true })?;
    }
    link_recordings(&mut writing)?;
    if old > 0 {
        let sort = entries(&mut writing)?;
        sort.map_or(Ok(()), |sort| writing.set_sort(sort))?;
        writing.0.execute_batch("DROP TABLE entry_1")?;
    }
    let transaction = writing.0;
    transaction.execute_batch(
        "INSERT INTO unfinished (recording, cell_id)
         SELECT number, cell_id FROM recording WHERE number NOT IN (SELECT recording FROM finished_recording);",
    )?;
    transaction.pragma_update(None, "legacy_alter_table", false)?;
    Ok(transaction)
}

fn first_digest(connection: &Connection) -> Result<Digest, Problem> {
    Ok(connection.query_row("SELECT digest FROM entry_1 ORDER BY number LIMIT 1", [], |row| row.get(0))?)
}

/// Links what was recorded, each recording by itself, in the order of their numbers.
fn link_recordings(writing: &mut Writing<'_>) -> Result<(), Problem> {
    for number in 1..=writing.last_recording()? {
        let Some(row) = writing.recording(number)? else { continue };
        link(writing, number, 0, begin_digest(&row))?;
        for position in 1..=writing.last_chunk(number)? {
            let bytes = writing.chunk(number, position)?.unwrap_or_default();
            link(writing, number, position, Digest::of(&bytes))?;
        }
    }
    Ok(())
}

/// Moves all entries; returns whether they are about real cells or simulated ones.
fn entries(writing: &mut Writing<'_>) -> Result<Option<Sort>, Problem> {
    let stream = writing.last_link()?.map_or((0, Digest::BEGINNING), |link| (link.number, link.digest));
    let (mut real, mut simulated) = (false, false);
    let count: i64 =
        writing.0.query_row("SELECT coalesce(max(number), 0) FROM entry_1", [], |row| row.get(0))?;
    for number in 1..=count {
        let Some(old) = read(&writing.0, number)? else { continue };
        let value = |text: &str| serde_json::from_str::<Value>(text).unwrap_or_default();
        let (inputs, result) = (value(&old.inputs), value(&old.result));
        let subjects = subjects(&old.row.kind, &old.row.subject.name, &inputs);
        let told = is_simulated(&old.row.kind, &inputs, &result);
        real |= told == Some(false);
        simulated |= told == Some(true);
        let row = EntryRow {
            subject: subjects.first().cloned().unwrap_or(old.row.subject),
            simulated: told,
            inputs: Digest::of(old.inputs.as_bytes()),
            result: Digest::of(old.result.as_bytes()),
            stream,
            ..old.row
        };
        writing.add_text(number * 2, &Packed::of(&old.inputs))?;
        writing.add_text(number * 2 + 1, &Packed::of(&old.result))?;
        for (index, subject) in subjects.iter().enumerate() {
            writing.add_about(number, index as i64 + 1, subject)?;
        }
        // Inputs that cannot be read are for a verification to name.
        let words = words_of_row(&row, &old.inputs, &[]).unwrap_or_default();
        writing.add_words(number, &words)?;
        writing.add_entry(&row)?;
    }
    Ok(Sort::of_entries(real, simulated))
}

/// An entry of format 1.
struct Old {
    row: EntryRow,
    inputs: String,
    result: String,
}

fn read(connection: &Connection, number: i64) -> Result<Option<Old>, Problem> {
    let mut statement = connection.prepare_cached(
        "SELECT number, at_ms, kind, cell_id, fate, summary, program, inputs, result, corrects, previous, digest
         FROM entry_1 WHERE number = $1",
    )?;
    let old = |row: &Row<'_>| -> rusqlite::Result<Old> {
        Ok(Old {
            row: EntryRow {
                number,
                chain: 1,
                position: number,
                origin: 1,
                origin_number: number,
                form: 1,
                at_ms: row.get(1)?,
                kind: row.get(2)?,
                subject: Subject::cell(row.get::<_, String>(3)?),
                simulated: None,
                fate: row.get(4)?,
                summary: row.get(5)?,
                program: row.get(6)?,
                corrects: row.get(9)?,
                inputs: Digest::BEGINNING,
                result: Digest::BEGINNING,
                stream: (0, Digest::BEGINNING),
                previous: row.get(10)?,
                digest: row.get(11)?,
            },
            inputs: row.get(7)?,
            result: row.get(8)?,
        })
    };
    let mut rows = statement.query([number])?;
    Ok(rows.next()?.map(old).transpose()?)
}

/// What an entry of format 1 is about; the first is its subject.
pub(super) fn subjects(kind: &str, name: &str, inputs: &Value) -> Vec<Subject> {
    let text = |place: &str| inputs.pointer(place).and_then(Value::as_str);
    let of = |kind: &str| match kind {
        "container-opened" => SubjectKind::Container,
        "shipment-drafted" | "shipment-withdrawn" | "receiver-agreed" | "handed-over" => {
            SubjectKind::Shipment
        }
        "calibration" | "check-measurement" => SubjectKind::Fixture,
        "check-standard" => SubjectKind::Standard,
        _ => SubjectKind::Cell,
    };
    let named = if kind == "correction" { text("/event/of").unwrap_or(kind) } else { kind };
    let mut subjects = vec![Subject::new(of(named), name)];
    let mut add = |kind, name: Option<&str>| {
        subjects.extend(name.filter(|name| !name.is_empty()).map(|name| Subject::new(kind, name)));
    };
    match kind {
        "assessment" => add(SubjectKind::Model, text("/nameplate/model")),
        "cell-placed" => add(SubjectKind::Container, text("/event/container")),
        "shipment-drafted" => {
            add(SubjectKind::Container, text("/event/container"));
            let contents = inputs.pointer("/event/contents").and_then(Value::as_array);
            for item in contents.into_iter().flatten() {
                add(SubjectKind::Cell, item.pointer("/cell").and_then(Value::as_str));
            }
        }
        _ => {}
    }
    subjects
}

/// Whether an entry of format 1 is about a simulated cell; `None` where it says neither that nor the contrary.
fn is_simulated(kind: &str, inputs: &Value, result: &Value) -> Option<bool> {
    const FIXTURE: &str = "fixture 0000000000000001";
    let text =
        |value: &'_ Value, place: &str| value.pointer(place).and_then(Value::as_str).map(str::to_owned);
    match kind {
        "assessment" => {
            let source = text(result, "/conditions/source")?;
            let board = text(result, "/conditions/fixture");
            let is_board = board.is_some_and(|board| board.split_whitespace().next() == Some("simulated"));
            Some(source.starts_with("simulated bench") || is_board)
        }
        "hot-cell-alarm" | "hot-cell-watch" => text(inputs, "/fixture").map(|fixture| fixture == FIXTURE),
        _ => None,
    }
}
