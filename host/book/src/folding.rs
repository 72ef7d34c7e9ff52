//! What a fold goes through again and again, whatever it folds: taking in what was written since, comparing what it keeps
//! with all entries, and answering from what it keeps or, where that is damaged, from the entries.

use super::kept::{Change, Fold};
use super::{Book, BookError, Problem};

/// So many entries are folded before they are kept, where many are to be (our choice: some megabytes of memory).
pub const FOLDED_AT_ONCE: u32 = 500;

/// What is kept may fall behind by so many entries before whoever writes brings it forward: every commit then holds an entry alone,
/// and a question folds no more than these on top (our choice: some milliseconds).
pub const MOST_BEHIND: u32 = 64;

/// Which entries a fold is to take in next.
#[derive(Clone, Copy, Debug)]
pub struct Next<'b> {
    /// Where the entries are.
    pub entries: &'b Book,
    /// Where what is drawn from them is kept: the same book, but for a comparison.
    pub kept: &'b Book,
    /// The last that it has taken in.
    pub from: u32,
    /// The last that it may take in.
    pub upto: u32,
}

/// What a fold has made of the next entries: of [`FOLDED_AT_ONCE`] at most.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folded {
    /// The last entry that it has taken in.
    pub to: u32,
    /// The values that have changed.
    pub changes: Vec<Change>,
}

/// An error that may say that a kept value is damaged.
pub trait FoldError: From<BookError> {
    /// Returns whether it says so.
    fn is_damage_of_kept(&self) -> bool;
}

impl FoldError for BookError {
    fn is_damage_of_kept(&self) -> bool {
        matches!(self.problem, Problem::KeptDamaged { .. })
    }
}

impl Next<'_> {
    /// Returns how many entries are to be taken in at once.
    pub fn most(&self) -> u32 {
        FOLDED_AT_ONCE.min(self.upto.saturating_sub(self.from))
    }
}

impl Book {
    /// Keeps what a fold makes of the entries written since the last time; `step` hears how far it is.
    ///
    /// # Errors
    /// Those of the fold, and a book that cannot be read or written.
    pub fn keep_up<E: FoldError>(
        &mut self,
        fold: Fold,
        next: impl Fn(Next<'_>) -> Result<Folded, E>,
        step: &mut dyn FnMut(u32),
    ) -> Result<(), E> {
        loop {
            let folded = self.at_one_state(|| {
                let upto = self.last_number()?;
                let from = self.kept_to(fold)?;
                if from == upto {
                    return Ok(None);
                }
                next(Next { entries: self, kept: self, from, upto }).map(|folded| Some((from, folded)))
            });
            match folded {
                Ok(None) => return Ok(()),
                Ok(Some((from, folded))) => {
                    self.keep(fold, from, folded.to, &folded.changes)?;
                    step(folded.to);
                }
                Err(error) if error.is_damage_of_kept() => self.forget_kept(fold)?,
                Err(error) => return Err(error),
            }
        }
    }

    /// Says whether what a fold keeps is whole, each value by itself; with `from_entries` also whether it is what the entries say,
    /// which folds them all once more. Takes as little memory for a long book as for a short one.
    ///
    /// # Errors
    /// Those of the fold, and a book that cannot be read.
    pub fn kept_fits<E: FoldError>(
        &self,
        fold: Fold,
        from_entries: bool,
        next: impl Fn(Next<'_>) -> Result<Folded, E>,
        step: &mut dyn FnMut(u32),
    ) -> Result<bool, E> {
        let Some(kept) = self.digest_of_kept(fold)? else { return Ok(false) };
        let upto = self.kept_to(fold)?;
        if !from_entries || upto == 0 {
            return Ok(true);
        }
        let mut again = self.scratch()?;
        loop {
            let from = again.kept_to(fold)?;
            if from == upto {
                return Ok(again.digest_of_kept(fold)? == Some(kept));
            }
            let folded = next(Next { entries: self, kept: &again, from, upto })?;
            again.keep(fold, from, folded.to, &folded.changes)?;
            step(folded.to);
        }
    }

    /// Answers a question from what a fold keeps up to the entry that `ask` is told; or from the entries alone, told 0, where what
    /// it keeps is damaged. All of it at one state of the book: values that another program keeps meanwhile would have entries in
    /// them that are folded once more.
    ///
    /// # Errors
    /// Those of the question, and a book that cannot be read.
    pub fn from_kept<T, E: FoldError>(&self, fold: Fold, ask: impl Fn(u32) -> Result<T, E>) -> Result<T, E> {
        self.at_one_state(|| match ask(self.kept_to(fold)?) {
            Err(error) if error.is_damage_of_kept() => ask(0),
            answer => answer,
        })
    }
}
