//! Verification: whether the book still says what was once written.
//!
//! Input: an open book; output: a [`Verification`] with every fault found. The database looks at its own file, tables and
//! triggers; then every digest is computed again from what is stored. The chains show an edit, an insertion or a removal in
//! the middle. They cannot show that the last entries were cut off, or that all was computed again by someone who knows how:
//! a [checkpoint](super::Checkpoint) kept elsewhere does.

use std::collections::BTreeMap;

use super::identity::Identity;
use super::read::{sealed_text, words_of_row};
use super::recording::{begin_digest, digest_of_bytes, digest_of_links, link_digest};
use super::seal::Belongings;
use super::store::{EntryRow, Rows, Wanted};
use super::{Book, BookError, Digest, Problem, Sort};

/// What a verification found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verification {
    /// The number of entries read.
    pub entries: u32,
    /// The digest of the last entry; `None` in a book without entries.
    pub last: Option<Digest>,
    /// How many bytes of text, attachments and recordings were hashed.
    pub bytes: u64,
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

/// One look at what the book holds.
type Look = fn(&dyn Rows, &mut Verification) -> Result<(), Problem>;

impl Verification {
    /// Says whether nothing was found.
    pub fn passed(&self) -> bool {
        self.faults.is_empty()
    }

    /// Returns the lowest number of an entry with a fault.
    pub fn first_bad_entry(&self) -> Option<i64> {
        self.faults.iter().filter_map(|fault| fault.entry).min()
    }

    fn fault(&mut self, entry: Option<i64>, what: impl Into<String>) {
        self.faults.push(BookFault { entry, what: what.into() });
    }
}

impl Book {
    /// Checks the last entry with all that belongs to it: what a disk lost last shows there.
    ///
    /// # Errors
    /// [`Problem::Corrupt`], or the book cannot be read.
    pub fn tail_fits(&self) -> Result<(), BookError> {
        self.read(|rows| {
            let Some(row) = rows.last()? else { return Ok(()) };
            let mut found = Verification { entries: 0, last: None, bytes: 0, faults: Vec::new() };
            entry_fits(rows, &rows.identity()?, &row, &mut found)?;
            match found.faults.first() {
                Some(fault) => Err(Problem::Corrupt {
                    detail: format!("its last entry, {}: {}", row.number, fault.what),
                }),
                None => Ok(()),
            }
        })
    }

    /// Checks the whole book; reads everything in it. Faults are returned, not raised: an error means that the check
    /// itself could not be made.
    pub fn verify(&self) -> Result<Verification, BookError> {
        // What is beside the entries is looked at by another connection at the same time, where there can be one.
        let (entries, beside) = std::thread::scope(|scope| {
            let path = self.path.clone();
            let other = scope.spawn(|| Self::open_read_only(path).ok().map(|book| book.fits_beside()));
            let entries = self.looked(&[chains_fit]);
            (entries, other.join().ok().flatten())
        });
        let mut found = entries?;
        let beside = beside.unwrap_or_else(|| self.fits_beside())?;
        found.bytes = found.bytes.saturating_add(beside.bytes);
        found.faults.extend(beside.faults);
        found.faults.sort();
        found.faults.dedup();
        Ok(found)
    }

    /// Checks all but the entries: the file itself, attachments, recordings.
    fn fits_beside(&self) -> Result<Verification, BookError> {
        let own = self.store.own_check();
        let mut found = self.looked(&[attachments_fit, stream_fits, list_fits])?;
        match own {
            Ok(faults) => faults.iter().for_each(|fault| found.fault(None, fault)),
            Err(Problem::Corrupt { detail }) => found.fault(None, detail),
            Err(problem) => found.fault(None, problem.to_string()),
        }
        Ok(found)
    }

    fn looked(&self, looks: &[Look]) -> Result<Verification, BookError> {
        self.read(|rows| {
            let mut found = Verification { entries: 0, last: None, bytes: 0, faults: Vec::new() };
            for look in looks {
                match look(rows, &mut found) {
                    Ok(()) => {}
                    // A row that cannot be read is a finding; the other looks may still name the entry.
                    Err(Problem::Corrupt { detail }) => found.fault(None, detail),
                    // A definition that was changed makes a request fail that was always understood.
                    Err(Problem::Storage(error)) => found.fault(None, format!("SQLite reports: {error}")),
                    Err(other) => return Err(other),
                }
            }
            Ok(found)
        })
    }
}

fn chains_fit(rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
    let identity = rows.identity()?;
    let mut heads: BTreeMap<i64, (i64, Digest)> = BTreeMap::new();
    let mut before = 0;
    let (mut real, mut simulated) = (false, false);
    rows.entries(&Wanted::default(), &mut |row| {
        real |= row.simulated == Some(false);
        simulated |= row.simulated == Some(true);
        found.entries = found.entries.saturating_add(1);
        found.last = Some(row.digest);
        let number = row.number;
        if number != before + 1 {
            found.fault(Some(number), format!("it does not follow entry {before}"));
        }
        before = number;
        let beginning = (0, identity.chain_beginning(row.chain, row.form)?);
        let head = heads.insert(row.chain, (row.position, row.digest)).unwrap_or(beginning);
        if row.position != head.0.saturating_add(1) || row.previous != head.1 {
            let missing = head.0;
            found.fault(Some(number), format!("it does not continue entry {missing} of its chain"));
        }
        match entry_fits(rows, &identity, &row, found) {
            Err(Problem::Corrupt { detail }) => found.fault(Some(number), detail),
            Err(other) => return Err(other),
            Ok(()) => {}
        }
        Ok(true)
    })?;
    if identity.sort != Sort::of_entries(real, simulated) {
        found.fault(None, "what it is for, real cells or simulated ones, is not what its entries are about");
    }
    Ok(())
}

fn entry_fits(
    rows: &dyn Rows,
    identity: &Identity,
    row: &EntryRow,
    found: &mut Verification,
) -> Result<(), Problem> {
    let number = row.number;
    let (inputs, result) = (sealed_text(rows, number * 2)?, sealed_text(rows, number * 2 + 1)?);
    found.bytes = found.bytes.saturating_add((inputs.len() + result.len()) as u64);
    let belongings = Belongings::read(rows, number)?;
    if row.form == 0 {
        found.fault(Some(number), "it was lost when the book was saved from a damaged file");
        return Ok(());
    }
    let sealed = match row.form {
        1 => row.seal_1(&inputs, &result, &belongings),
        _ => {
            let texts = (Digest::of(inputs.as_bytes()), Digest::of(result.as_bytes()));
            if texts != (row.inputs, row.result) {
                found.fault(Some(number), "what it was made from, or what came out, is not what was written");
            }
            row.seal(identity, &belongings)
        }
    };
    if sealed != row.digest {
        found.fault(Some(number), "it, or the list of what belongs to it, is not what was written");
    }
    if belongings.about.first() != Some(&row.subject) {
        found.fault(Some(number), "it is not found under what it stands under");
    }
    if !belongings.personal.iter().all(super::store::PersonalRow::fits) {
        found.fault(Some(number), "a text about a person is not what was written");
    }
    let link = rows.link(row.stream.0)?.map(|link| link.digest);
    if row.origin == 1 && row.form == 2 && row.stream.0 > 0 && link != Some(row.stream.1) {
        found.fault(Some(number), "what was recorded before it is not what was recorded then");
    }
    // The words of a search are drawn from the entry; altered ones would hide it.
    if rows.words(number)? != Some(words_of_row(row, &inputs, &belongings.personal)?) {
        found.fault(Some(number), "the words by which it is found are not its own");
    }
    Ok(())
}

fn attachments_fit(rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
    for (entry, name) in rows.attachments_without_bytes()? {
        found.fault(Some(entry), format!("the bytes of its attachment {name} are gone"));
    }
    // By content, not by attachment: a policy file kept with a thousand entries is read once.
    rows.contents(&mut |sha256, entry, bytes| {
        found.bytes = found.bytes.saturating_add(bytes.len() as u64);
        if Digest::of(bytes) != sha256 {
            found.fault(entry, format!("the attached bytes {sha256} were changed"));
        }
        if entry.is_none() {
            found.fault(None, format!("the bytes {sha256} belong to no entry"));
        }
    })
}

fn stream_fits(rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
    for recording in rows.unlinked()? {
        found.fault(None, format!("recording {recording} has parts that were not recorded"));
    }
    let mut before = (0_i64, Digest::BEGINNING);
    rows.links(&mut |link| {
        let what = || format!("recording {} was changed", link.recording);
        let whose = |rows: &dyn Rows| -> Result<Option<i64>, Problem> {
            Ok(rows.recording(link.recording)?.and_then(|row| row.finished).map(|(entry, ..)| entry))
        };
        let content = match link.position {
            0 => rows.recording(link.recording)?.map(|row| begin_digest(&row)),
            position => rows.chunk(link.recording, position)?.map(|bytes| {
                found.bytes = found.bytes.saturating_add(bytes.len() as u64);
                Digest::of(&bytes)
            }),
        };
        let chained = link_digest(before.1, link.recording, link.position, link.content);
        if content != Some(link.content) || link.number != before.0 + 1 || chained != link.digest {
            found.fault(whose(rows)?, what());
        }
        before = (link.number, link.digest);
        Ok(true)
    })?;
    finished_fit(rows, found)
}

/// Which recordings are unfinished is kept in a list, which must be theirs.
fn list_fits(rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
    let listed: Vec<i64> = rows.unfinished(None)?.iter().map(|row| row.number).collect();
    let mut left = Vec::new();
    for number in 1..=rows.last_recording()? {
        let row = rows.recording(number)?;
        left.extend(row.filter(|row| row.finished.is_none()).map(|row| row.number));
    }
    if listed != left {
        found.fault(None, "the list of unfinished recordings is not theirs");
    }
    Ok(())
}

/// What an entry seals of a recording must be what the recording holds.
fn finished_fit(rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
    for number in 1..=rows.last_recording()? {
        let Some(row) = rows.recording(number)? else {
            found.fault(None, format!("recording {number} is missing"));
            continue;
        };
        let Some((entry, sealed, length)) = row.finished else { continue };
        let form = rows.entry(entry)?.map_or(0, |entry| entry.form);
        let digest = match form {
            1 => digest_of_bytes(rows, number)?,
            _ => digest_of_links(&rows.links_of(number)?),
        };
        if digest != sealed || rows.length(number)? != length {
            found.fault(Some(entry), format!("its recording {number} was changed"));
        }
    }
    Ok(())
}
