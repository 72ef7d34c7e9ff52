//! A book in memory: for tests, never in the product.
//!
//! Tables are maps in this process. A request that writes works on a copy of them, which takes the place of the tables when it
//! ends: so others see all of it or nothing, and one that fails leaves nothing. The rules of the book are kept here as a database
//! keeps them, so that a fault above does not go unseen in a test.

mod random;
mod read;
mod rules;
mod selection;
mod tables;
mod write;

use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::store::{Rows, RowsMut, Store};
use super::{PATIENCE, Problem};
use random::Random;
use tables::Tables;

/// A book in memory; another handle at the same book is a clone of it.
#[derive(Debug)]
pub(super) struct Memory {
    shared: Arc<Shared>,
    patience: Duration,
    /// The state that this handle keeps to.
    held: Mutex<Option<Arc<Tables>>>,
}

impl Clone for Memory {
    fn clone(&self) -> Self {
        Self { shared: Arc::clone(&self.shared), patience: self.patience, held: Mutex::new(None) }
    }
}

#[derive(Debug)]
struct Shared {
    /// As they stand after the last write that has ended.
    tables: Mutex<Arc<Tables>>,
    /// Whether somebody writes.
    writing: Mutex<bool>,
    ended: Condvar,
}

impl Memory {
    /// Begins a book that has nothing yet, not even an identity.
    pub(super) fn without_identity() -> Self {
        let tables = Tables { random: Arc::new(Random::unlike_any_other()), ..Tables::default() };
        let shared = Shared {
            tables: Mutex::new(Arc::new(tables)),
            writing: Mutex::new(false),
            ended: Condvar::new(),
        };
        Self { shared: Arc::new(shared), patience: PATIENCE, held: Mutex::new(None) }
    }

    fn tables(&self) -> Arc<Tables> {
        Arc::clone(&of(&self.shared.tables))
    }
}

impl Store for Memory {
    fn read(&self, request: &mut dyn FnMut(&dyn Rows) -> Result<(), Problem>) -> Result<(), Problem> {
        let held = of(&self.held).clone();
        request(&*held.unwrap_or_else(|| self.tables()))
    }

    fn hold(&self) -> Result<bool, Problem> {
        let mut held = of(&self.held);
        let begins = held.is_none();
        if begins {
            *held = Some(self.tables());
        }
        Ok(begins)
    }

    fn let_go(&self) {
        *of(&self.held) = None;
    }

    fn write(
        &mut self,
        request: &mut dyn FnMut(&mut dyn RowsMut) -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        let _turn = Turn::wait_for(&self.shared, self.patience)?;
        let mut tables = Tables::clone(&self.tables());
        request(&mut tables)?;
        match tables.orphans().into_iter().next() {
            Some(rule) => Err(Problem::Refused { rule }),
            None => {
                *of(&self.shared.tables) = Arc::new(tables);
                Ok(())
            }
        }
    }

    fn wait_at_most(&mut self, patience: Duration) -> Result<(), Problem> {
        self.patience = patience;
        Ok(())
    }

    fn own_check(&self) -> Result<Vec<String>, Problem> {
        Ok(self.tables().orphans())
    }

    fn copy_to(&self, _path: &Path, _step: &mut dyn FnMut(u64, u64)) -> Result<bool, Problem> {
        Ok(false)
    }

    fn scrub(&mut self) -> Result<(), Problem> {
        // What was blanked was in the tables before; they went when the last request that read them ended.
        Ok(())
    }
}

/// The turn to write; it ends when this is dropped.
struct Turn<'a>(&'a Shared);

impl<'a> Turn<'a> {
    fn wait_for(shared: &'a Shared, patience: Duration) -> Result<Self, Problem> {
        let waited = shared.ended.wait_timeout_while(of(&shared.writing), patience, |writing| *writing);
        let (mut writing, _) = waited.unwrap_or_else(PoisonError::into_inner);
        if *writing {
            return Err(Problem::Locked);
        }
        *writing = true;
        Ok(Self(shared))
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        *of(&self.0.writing) = false;
        self.0.ended.notify_all();
    }
}

/// What a lock holds is whole at any moment, so it is good after a panic of its holder too.
fn of<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use crate::{Book, NewEntry, Subject};

    #[test]
    fn two_books_in_memory_are_two_books_and_have_no_file() {
        let (mut one, other) = (Book::in_memory().unwrap(), Book::in_memory().unwrap());
        assert_ne!(one.identity().unwrap().book(), other.identity().unwrap().book());
        let new = NewEntry {
            summary: "seen".into(),
            ..NewEntry::of("look", Subject::cell("C-1"), jiff::Timestamp::UNIX_EPOCH)
        };
        assert_eq!(one.append(new).unwrap().number, 1);
        assert_eq!((one.verify().unwrap().entries, other.verify().unwrap().entries), (1, 0));
        assert!(!one.path().exists());
    }
}
