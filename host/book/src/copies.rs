//! Copies: a backup made while others read and write, a book restored from one, and what can be saved from a damaged file.

use std::path::{Path, PathBuf};

use super::files::{folder_of, remove, sync, with_ending};
use super::row_copy::copy_rows;
use super::salvage::{Saved, copy_what_can_be_read};
use super::sqlite::Sqlite;
use super::store::Store;
use super::{BENCH, Book, BookError, PATIENCE, Problem};

/// A copy that was made and looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copied {
    /// Where it is.
    pub path: PathBuf,
    /// How many entries it has.
    pub entries: u32,
}

impl Book {
    /// Copies the book to a file that is not there yet, while others read and write; `step` hears how many of how many pages
    /// are done. What was acknowledged before the call is in the copy.
    pub fn copy_to(&self, to: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<Copied, BookError> {
        let of = |problem: Problem| problem.at(to);
        not_there(to).map_err(of)?;
        let part = with_ending(to, ".part");
        not_there(&part).map_err(|problem| problem.at(&part))?;
        Sqlite::begin_file(&part).map_err(of)?;
        let copied = self.store.copy_to(&part, step).and_then(|copied| match copied {
            true => Ok(()),
            false => self.copy_rows_to(&part, step),
        });
        if let Err(problem) = copied.and_then(|()| named(&part, to)) {
            remove(&part);
            return Err(problem.at(to));
        }
        let copy = Self::open_read_only(to)?;
        let entries = copy.last_number()?;
        Ok(Copied { path: to.to_owned(), entries })
    }

    /// Copies the rows into an empty file.
    fn copy_rows_to(&self, to: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<(), Problem> {
        let mut copy = Sqlite::open_without_identity(to, PATIENCE)?;
        self.store.read(&mut |from| copy.write(&mut |into| copy_rows(from, into, step)))?;
        copy.close_as_one_file()
    }

    /// Writes what can still be read of a damaged book into a new one, with the numbers and seals that it has. An entry that is
    /// lost leaves its place in the chain, which says so at every verification.
    pub fn save_from(damaged: &Path, to: &Path, step: &mut dyn FnMut(u32)) -> Result<Saved, BookError> {
        not_there(to).map_err(|problem| problem.at(to))?;
        let from = Sqlite::open_read_only(damaged).map_err(|problem| problem.at(damaged))?;
        let mut new = Sqlite::open_without_identity(to, PATIENCE).map_err(|problem| problem.at(to))?;
        let mut saved = Saved::default();
        let mut done = from.read(&mut |rows| {
            new.write(&mut |into| {
                saved = copy_what_can_be_read(rows, into, step)?;
                Ok(())
            })
        });
        if done.is_ok() && saved.entries == 0 {
            done = Err(Problem::Corrupt { detail: "no entry of it can be read".into() });
        }
        if let Err(problem) = done {
            drop(new);
            remove(to);
            return Err(problem.at(damaged));
        }
        Ok(saved)
    }

    /// Restores a book from a copy that passed its verification to a place where there is none.
    pub fn restore(copy: &Path, to: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<Copied, BookError> {
        let from = Self::open_read_only(copy)?;
        let found = from.verify()?;
        if let Some(fault) = found.faults.first() {
            let detail = format!("the copy does not verify: {}", fault.what);
            return Err(Problem::Corrupt { detail }.at(copy));
        }
        let copied = from.copy_to(to, step)?;
        // Opened once to write, so that it is a book to work with.
        Self::open_at(to, PATIENCE, BENCH)?;
        Ok(copied)
    }
}

fn not_there(path: &Path) -> Result<(), Problem> {
    if path.exists() { Err(Problem::InTheWay) } else { Ok(()) }
}

/// Gives a whole copy its name, and brings both to the disk.
fn named(part: &Path, to: &Path) -> Result<(), Problem> {
    let cannot = |error: std::io::Error| Problem::CannotOpen { detail: error.to_string() };
    std::fs::File::open(part).and_then(|file| file.sync_all()).map_err(cannot)?;
    std::fs::rename(part, to).and_then(|()| sync(folder_of(to))).map_err(cannot)
}
