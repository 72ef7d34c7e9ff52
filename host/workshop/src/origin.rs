//! Where an entry comes from, where that is another bench: its texts name others by their numbers there.

use crate::fault::Result;
use crate::shop::Workshop;
use celltriage_book::{Chain, Head, Id};

/// The bench that has written an entry, and the number that the entry had there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// What the bench is called.
    pub bench: String,
    /// Its chain.
    pub chain: Id,
    /// The book into which the entry was first written, and its number there; `None` where it was this one.
    pub from: Option<(Id, u32)>,
    /// Whether another bench in this book is called the same.
    pub shares_its_name: bool,
}

/// The benches whose entries are in the book.
#[derive(Clone, Debug)]
pub struct Origins(Vec<Chain>);

impl Workshop<'_> {
    /// Returns the benches whose entries are in the book.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn origins(&self) -> Result<Origins> {
        Ok(Origins(self.book.identity()?.chains))
    }
}

impl Origins {
    /// Returns where an entry comes from; `None` for one that was written into this book by its own bench.
    pub fn of(&self, head: &Head) -> Option<Origin> {
        let chain = self.0.iter().find(|chain| chain.id == head.chain)?;
        if chain.home && head.from.is_none() {
            return None;
        }
        Some(Origin {
            bench: chain.bench.clone(),
            chain: chain.id,
            from: head.from,
            shares_its_name: self.0.iter().filter(|other| other.bench == chain.bench).count() > 1,
        })
    }
}

impl Origin {
    /// Returns the bench in words: also its chain, where two are called the same.
    pub fn bench_in_words(&self) -> String {
        match self.shares_its_name {
            true => format!("{} (chain {})", self.bench, self.chain.short()),
            false => self.bench.clone(),
        }
    }
}
