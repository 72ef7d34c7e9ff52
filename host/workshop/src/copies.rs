//! Copies of the book: a backup while others write, a book restored from one, one saved from a damaged file, and the entries
//! of another bench.
//!
//! A copy has the chains of the book that it is of. Where two files with one chain are both written to, they go apart, and
//! neither takes in the other's entries any more; who calls [`restore`] or [`rescue`] has to say so.

use crate::fault::{Fault, Result};
use crate::keeping_fault::KeepingFault;
use crate::shop::Workshop;
use celltriage_book::{Book, BookFault, Copied, Digest, LOST_KIND, Merged, Saved, Verification, files};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// How far a copy has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CopyStep {
    /// So many pages of so many are copied.
    Copied {
        /// Copied.
        done: u64,
        /// All.
        of: u64,
    },
    /// A whole book is verified.
    Verifies,
    /// Saved up to the entry of this number.
    Saved(u32),
}

/// A copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copy {
    /// Where it is, and how many entries it has.
    pub copied: Copied,
    /// Digest of its last entry.
    pub last: Option<Digest>,
    /// What its verification has found, where it was asked for.
    pub found: Option<Verification>,
}

/// What was saved from a damaged file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rescued {
    /// Counts, and the entries and recordings of which something is lost.
    pub saved: Saved,
    /// Entries of which nothing is left.
    pub lost: Vec<u32>,
    /// Entries of which a part is left.
    pub in_part: Vec<u32>,
    /// Faults of what could be read and is not what was written.
    pub changed: Vec<BookFault>,
    /// The number of the last entry that was saved; whether others came after it cannot be told from the file.
    pub last: u32,
}

/// What came from another bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FromBench {
    /// Numbers of the new entries here, and counts.
    pub merged: Merged,
    /// How many of the new entries each bench has written.
    pub benches: BTreeMap<String, u32>,
}

impl Rescued {
    /// Says whether nothing that the file tells of is lost or changed.
    pub fn is_whole(&self) -> bool {
        self.saved.damaged.is_empty() && self.saved.damaged_recordings.is_empty() && self.changed.is_empty()
    }
}

impl Workshop<'_> {
    /// Copies the book to a file that is not there yet, while others read and write; `check` verifies the whole copy.
    ///
    /// # Errors
    /// [`KeepingFault::InTheWay`], or a book error; what the verification finds is no fault of this call.
    pub fn back_up(&self, to: &Path, check: bool, step: &mut dyn FnMut(CopyStep)) -> Result<Copy> {
        free(to)?;
        let copied = self.book.copy_to(to, &mut |done, of| step(CopyStep::Copied { done, of }))?;
        copy_at(copied, check, step)
    }

    /// Takes in the entries of another bench, all that are new or none.
    ///
    /// # Errors
    /// [`KeepingFault::NotVerified`], or a book error: above all one of a chain that goes on differently in both.
    pub fn merge(&mut self, other: &Path, step: &mut dyn FnMut(CopyStep)) -> Result<FromBench> {
        // What is taken in cannot be taken out again, and would be found at every verification.
        step(CopyStep::Verifies);
        let faults = Book::open_read_only(other)?.verify()?.faults;
        if !faults.is_empty() {
            return Err(KeepingFault::NotVerified { file: other.to_owned(), faults }.into());
        }
        let merged = self.book.merge(other)?;
        let chains = self.book.identity()?.chains;
        let mut benches = BTreeMap::new();
        for number in &merged.entries {
            let head = self.book.head(*number)?;
            let chain = head.and_then(|head| chains.iter().find(|chain| chain.id == head.chain));
            *benches.entry(chain.map_or_else(String::new, |chain| chain.bench.clone())).or_insert(0) += 1;
        }
        Ok(FromBench { merged, benches })
    }
}

/// Restores a book from a copy that verifies to a place where there is none.
///
/// # Errors
/// [`KeepingFault::InTheWay`], [`KeepingFault::LeftOver`], or a book error: above all that of a copy that does not verify.
pub fn restore(copy: &Path, to: &Path, step: &mut dyn FnMut(CopyStep)) -> Result<Copy> {
    free(to)?;
    step(CopyStep::Verifies);
    let copied = Book::restore(copy, to, &mut |done, of| step(CopyStep::Copied { done, of }))?;
    copy_at(copied, false, step)
}

/// Writes what can be read of a damaged book into a new one, and says what is lost.
///
/// # Errors
/// As [`restore`]; that something is lost is no fault of this call.
pub fn rescue(damaged: &Path, to: &Path, step: &mut dyn FnMut(CopyStep)) -> Result<Rescued> {
    free(to)?;
    let saved = Book::save_from(damaged, to, &mut |number| step(CopyStep::Saved(number)))?;
    let book = Book::open_read_only(to)?;
    let (mut lost, mut in_part) = (Vec::new(), Vec::new());
    for number in &saved.damaged {
        let nothing_left = book.head(*number)?.is_none_or(|head| head.kind == LOST_KIND);
        if nothing_left { &mut lost } else { &mut in_part }.push(*number);
    }
    step(CopyStep::Verifies);
    let told: BTreeSet<i64> = saved.damaged.iter().map(|number| i64::from(*number)).collect();
    // What is lost is told already; what could be read may still be something else than was written.
    let told = |fault: &BookFault| match fault.entry {
        Some(number) => told.contains(&number),
        None => !saved.damaged_recordings.is_empty(),
    };
    let mut changed = book.verify()?.faults;
    changed.retain(|fault| !told(fault));
    let last = book.last_number()?;
    Ok(Rescued { saved, lost, in_part, changed, last })
}

fn copy_at(copied: Copied, check: bool, step: &mut dyn FnMut(CopyStep)) -> Result<Copy> {
    let book = Book::open_read_only(&copied.path)?;
    let last = book.last()?.map(|head| head.digest);
    let found = if check {
        step(CopyStep::Verifies);
        Some(book.verify()?)
    } else {
        None
    };
    Ok(Copy { copied, last, found })
}

/// Says whether a book may be made at a place: nothing is there, nor is anything left beside it.
fn free(to: &Path) -> Result<(), Fault> {
    if to.symlink_metadata().is_ok() {
        return Err(KeepingFault::InTheWay { file: to.to_owned() }.into());
    }
    match files::kept_beside(to).into_iter().find(|file| file.symlink_metadata().is_ok()) {
        Some(file) => Err(KeepingFault::LeftOver { file }.into()),
        None => Ok(()),
    }
}
