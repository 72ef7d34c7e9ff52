//! Verification: whether the book still says what was once written.
//!
//! Input: an open book; output: a [`Verification`] with every fault found. Three looks: SQLite's own check of the file,
//! the tables and triggers against the format's, and every digest computed again from what is stored. The chain shows
//! an edit, an insertion or a removal in the middle. It cannot show that the last entries were cut off, or that all was
//! computed again by someone who knows how: note [`Verification::last`] outside the book (on a printed report) for that.

use rusqlite::Connection;

use super::row::{self, COLUMNS, EntryRow};
use super::{Book, BookError, Digest, Problem, RecordingNumber, recording, schema};

/// What a verification found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verification {
    /// The number of entries read.
    pub entries: u32,
    /// The digest of the last entry; `None` in a book without entries.
    pub last: Option<Digest>,
    /// What does not fit, by entry; empty where all fits.
    pub faults: Vec<BookFault>,
}

/// Something that does not fit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BookFault {
    /// The entry concerned; `None` for the file as a whole.
    pub entry: Option<i64>,
    /// What does not fit.
    pub what: String,
}

impl Verification {
    /// Says whether nothing was found.
    pub fn passed(&self) -> bool {
        self.faults.is_empty()
    }

    /// Returns the lowest number of an entry with a fault.
    pub fn first_bad_entry(&self) -> Option<i64> {
        self.faults.iter().filter_map(|fault| fault.entry).min()
    }
}

impl Book {
    /// Checks the whole book; reads everything in it. Faults are returned, not raised: an error means that the check
    /// itself could not be made.
    pub fn verify(&self) -> Result<Verification, BookError> {
        self.read(|connection| {
            let mut found = Verification { entries: 0, last: None, faults: Vec::new() };
            let looks = [file_is_whole, definitions_fit, chain_fits, attachments_fit, recordings_fit];
            for look in looks {
                match look(connection, &mut found) {
                    Ok(()) => {}
                    // A row that cannot be read is a finding; the other looks may still name the entry.
                    Err(Problem::Corrupt { detail }) => found.fault(None, detail),
                    Err(other) => return Err(other),
                }
            }
            found.faults.sort();
            found.faults.dedup();
            Ok(found)
        })
    }
}

impl Verification {
    fn fault(&mut self, entry: Option<i64>, what: impl Into<String>) {
        self.faults.push(BookFault { entry, what: what.into() });
    }
}

fn file_is_whole(connection: &Connection, found: &mut Verification) -> Result<(), Problem> {
    let mut statement = connection.prepare("PRAGMA integrity_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let line: String = row.get(0)?;
        if line != "ok" {
            found.fault(None, format!("SQLite's check: {line}"));
        }
    }
    let mut statement = connection.prepare("PRAGMA foreign_key_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, wanted): (String, String) = (row.get(0)?, row.get(2)?);
        found.fault(None, format!("a row of {table} names a row of {wanted} that is not there"));
    }
    Ok(())
}

fn definitions_fit(connection: &Connection, found: &mut Verification) -> Result<(), Problem> {
    let (expected, present) = (schema::expected_definitions()?, schema::definitions(connection)?);
    for (name, _) in expected.iter().filter(|definition| !present.contains(definition)) {
        found.fault(None, format!("{name} is missing or was changed"));
    }
    for (name, _) in present.iter().filter(|(name, _)| !expected.iter().any(|(known, _)| known == name)) {
        found.fault(None, format!("{name} was added"));
    }
    Ok(())
}

fn chain_fits(connection: &Connection, found: &mut Verification) -> Result<(), Problem> {
    let mut statement = connection.prepare(&format!("SELECT {COLUMNS} FROM entry ORDER BY number"))?;
    let mut rows = statement.query([])?;
    let mut before = (0_i64, Digest::BEGINNING);
    while let Some(row) = rows.next()? {
        let number: i64 = row.get(0)?;
        let row = EntryRow::read(row)
            .map_err(Problem::from)
            .inspect_err(|problem| found.fault(Some(number), problem.to_string()))?;
        found.entries = found.entries.saturating_add(1);
        if row.number != before.0.saturating_add(1) || row.previous != before.1 {
            found.fault(Some(number), format!("it does not continue entry {}", before.0));
        }
        let (attachments, recordings) =
            (row::attachments_of(connection, number)?, recording::recordings_of(connection, number)?);
        if row.seal(&attachments, &recordings) != row.digest {
            found.fault(Some(number), "it, or the list of what belongs to it, is not what was written");
        }
        // Going on from the stored digest names the entry that was changed and not all that follow.
        before = (row.number, row.digest);
        found.last = Some(row.digest);
    }
    Ok(())
}

fn attachments_fit(connection: &Connection, found: &mut Verification) -> Result<(), Problem> {
    let mut statement = connection.prepare(
        "SELECT entry, name, attachment.sha256 FROM attachment LEFT JOIN content USING (sha256)
         WHERE content.sha256 IS NULL",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        found
            .fault(row.get(0)?, format!("the bytes of its attachment {} are gone", row.get::<_, String>(1)?));
    }
    // By content, not by attachment: a policy file kept with a thousand entries is read once.
    let mut statement = connection.prepare(
        "SELECT sha256, bytes, (SELECT min(entry) FROM attachment WHERE attachment.sha256 = content.sha256) FROM content",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (sha256, entry): (Digest, Option<i64>) = (row.get(0)?, row.get(2)?);
        if Digest::of(row.get_ref(1)?.as_blob().map_err(rusqlite::Error::from)?) != sha256 {
            found.fault(entry, format!("the attached bytes {sha256} were changed"));
        }
        if entry.is_none() {
            found.fault(None, format!("the bytes {sha256} belong to no entry"));
        }
    }
    Ok(())
}

fn recordings_fit(connection: &Connection, found: &mut Verification) -> Result<(), Problem> {
    let mut statement =
        connection.prepare("SELECT recording, entry, sha256, length FROM finished_recording")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let number = RecordingNumber(row.get(0)?);
        if recording::digest_of(connection, number)? != (row.get(2)?, row.get(3)?) {
            found.fault(row.get(1)?, format!("its recording {number} was changed"));
        }
    }
    Ok(())
}
