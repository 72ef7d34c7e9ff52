//! Verification: whether the book still says what was once written.
//!
//! Input: an open book; output: a [`Verification`] with every fault found. The database looks at its own file, tables and
//! triggers; then every digest is computed again from what is stored. The chains show an edit, an insertion or a removal in
//! the middle. They cannot show that the last entries were cut off, or that all was computed again by someone who knows how:
//! a [checkpoint](super::Checkpoint) kept elsewhere does.

mod entry;
mod found;
mod stretch;
mod stretches;
mod words;

use std::sync::{Mutex, PoisonError};

use super::recording::{begin_digest, digest_of_bytes, digest_of_links, link_digest};
use super::store::Rows;
use super::{Book, BookError, Digest, Problem};
pub use found::{BookFault, Verification};

use entry::entry_fits;
use stretches::Stretches;

/// Attached files that are looked at between two looks for more work (our choice).
const FILES_AT_ONCE: i64 = 32;
/// Most threads that look at entries, beside the one that looks at the rest (our choice: more wait for the disk).
const MOST_THREADS: usize = 4;

/// One look at what the book holds.
type Look<'a, T> = &'a mut dyn FnMut(&dyn Rows, &mut Verification) -> Result<T, Problem>;

impl Book {
    /// Checks the last entry with all that belongs to it: what a disk lost last shows there.
    ///
    /// # Errors
    /// [`Problem::Corrupt`], or the book cannot be read.
    pub fn tail_fits(&self) -> Result<(), BookError> {
        self.read(|rows| {
            let Some(row) = rows.last()? else { return Ok(()) };
            let mut found = Verification::default();
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
    /// itself could not be made. A thread for each processor looks at entries and attached files, each through a connection of its
    /// own where there can be one, and one more at the rest.
    pub fn verify(&self) -> Result<Verification, BookError> {
        let mut found = Verification::default();
        let begun = self.looked(&mut |rows, _| Ok(Stretches::new(rows.identity()?, rows.last_number()?)));
        let (stretches, files) = (begun?.keep(&mut found), Files::default());
        let share = |book: &Self| -> Result<Verification, BookError> {
            let mut found = Verification::default();
            if let Some(stretches) = &stretches {
                book.looked(&mut |rows, _| stretches.check(rows))?.keep(&mut found);
            }
            book.looked(&mut |rows, found| files.check(rows, found))?.keep(&mut found);
            Ok(found)
        };
        let threads = std::thread::available_parallelism().map_or(1, usize::from).min(MOST_THREADS);
        let path = &self.path;
        let other = || Self::open_read_only(path).ok();
        let (shares, beside) = std::thread::scope(|scope| {
            let helpers: Vec<_> =
                (1..threads).map(|_| scope.spawn(|| other().map(|book| share(&book)))).collect();
            let beside = scope.spawn(|| other().map(|book| book.fits_beside()));
            let own = share(self);
            // A helper that broke off leaves a gap, which is a finding.
            let helped = helpers.into_iter().filter_map(|helper| helper.join().ok().flatten());
            let shares: Vec<_> = std::iter::once(own).chain(helped).collect();
            (shares, beside.join().ok().flatten())
        });
        for share in shares {
            found.add(share?);
        }
        found.add(beside.unwrap_or_else(|| self.fits_beside())?);
        if let Some(stretches) = stretches {
            found.add(stretches.found());
        }
        found.faults.sort();
        found.faults.dedup();
        Ok(found)
    }

    /// Checks all but the entries and the bytes of their files: the database itself, what belongs to what, recordings.
    fn fits_beside(&self) -> Result<Verification, BookError> {
        let own = self.store.own_check();
        let mut found = Verification::default();
        for look in [belong, stream_fits, list_fits] {
            self.looked(&mut |rows, found| look(rows, found))?.keep(&mut found);
        }
        match own {
            Ok(faults) => faults.iter().for_each(|fault| found.fault(None, fault)),
            Err(Problem::Corrupt { detail }) => found.fault(None, detail),
            Err(problem) => found.fault(None, problem.to_string()),
        }
        Ok(found)
    }

    /// Looks at the book; a row that cannot be read is a finding, and other looks may still name the entry.
    fn looked<T>(&self, look: Look<'_, T>) -> Result<Looked<T>, BookError> {
        self.read(|rows| {
            let mut found = Verification::default();
            let answer = match look(rows, &mut found) {
                Ok(answer) => Some(answer),
                Err(problem) => found.say(problem).map(|()| None)?,
            };
            Ok(Looked { answer, found })
        })
    }
}

/// What a look has found, and what came of it.
struct Looked<T> {
    answer: Option<T>,
    found: Verification,
}

impl<T> Looked<T> {
    fn keep(self, all: &mut Verification) -> Option<T> {
        all.add(self.found);
        self.answer
    }
}

/// The attached files, some at a time to each who asks. By content, not by attachment: a policy file kept with a thousand entries is
/// read once.
#[derive(Default)]
struct Files {
    after: Mutex<i64>,
}

impl Files {
    fn check(&self, rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
        loop {
            let first = {
                let mut after = self.after.lock().unwrap_or_else(PoisonError::into_inner);
                let Some(first) = rows.content_after(*after)? else { return Ok(()) };
                *after = first.saturating_add(FILES_AT_ONCE - 1);
                first
            };
            let mut changed = Vec::new();
            rows.contents_between(first, first.saturating_add(FILES_AT_ONCE - 1), &mut |sha256, bytes| {
                found.bytes = found.bytes.saturating_add(bytes.len() as u64);
                if Digest::of(bytes) != sha256 {
                    changed.push(sha256);
                }
            })?;
            for sha256 in changed {
                found.fault(rows.first_with(sha256)?, format!("the attached bytes {sha256} were changed"));
            }
        }
    }
}

/// Every attachment has its bytes, and all bytes an entry.
fn belong(rows: &dyn Rows, found: &mut Verification) -> Result<(), Problem> {
    for (entry, name) in rows.attachments_without_bytes()? {
        found.fault(Some(entry), format!("the bytes of its attachment {name} are gone"));
    }
    for sha256 in rows.contents_of_no_entry()? {
        found.fault(None, format!("the bytes {sha256} belong to no entry"));
    }
    Ok(())
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
