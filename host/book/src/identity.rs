//! Who is who: books, and the chains in them.
//!
//! Each bench that writes has a chain of its own, and each entry continues the chain of its bench. So two benches that write
//! apart for a while (offline, or because the shared book was not there) can be brought together later: chains are put side
//! by side, none has to be rewritten. A book numbers all its entries in the order in which it took them in; an entry that was
//! first written into another book keeps the number that it had there, since texts name entries by it.

use std::fmt;

use super::digest::Digester;
use super::{Digest, Problem, Sort};

/// The name of a book or of a chain among all there are: 16 random bytes, written as 32 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Id(pub(super) [u8; 16]);

/// A chain of entries: what one bench has written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain {
    /// Its name among all chains.
    pub id: Id,
    /// What the bench is called.
    pub bench: String,
    /// Whether entries that are written here continue it.
    pub home: bool,
}

/// Who a book is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The book, and the others from which entries came, by number (from 1).
    pub(super) books: Vec<Id>,
    /// The chains in it, by number (from 1).
    pub chains: Vec<Chain>,
    /// What it is for; `None` before the first entry that says so.
    pub sort: Option<Sort>,
}

impl Id {
    /// Takes the first 16 bytes.
    pub(super) fn of(bytes: &[u8]) -> Option<Self> {
        bytes.first_chunk().copied().map(Self)
    }

    /// Returns its first eight digits: enough to tell the books of a shop apart.
    pub fn short(&self) -> String {
        self.to_string().chars().take(8).collect()
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Id({self})")
    }
}

impl Chain {
    /// Returns what the first entry of the chain names as the digest before it. The first books had one chain without a name.
    pub(super) fn beginning(&self, form: i64) -> Digest {
        if form == 1 {
            return Digest::BEGINNING;
        }
        let mut digester = Digester::fields("celltriage book chain 2");
        digester.field(self.id.0);
        digester.field(&self.bench);
        digester.finish()
    }
}

impl Identity {
    /// Returns the name of this book.
    pub fn book(&self) -> Id {
        self.book_of(1)
    }

    pub(super) fn book_of(&self, number: i64) -> Id {
        at(&self.books, number).copied().unwrap_or(Id([0; 16]))
    }

    pub(super) fn chain_of(&self, number: i64) -> Id {
        at(&self.chains, number).map_or(Id([0; 16]), |chain| chain.id)
    }

    /// Returns what the first entry of a chain names as the digest before it.
    pub(super) fn chain_beginning(&self, number: i64, form: i64) -> Result<Digest, Problem> {
        let missing = || Problem::Corrupt { detail: format!("chain {number} is missing") };
        Ok(at(&self.chains, number).ok_or_else(missing)?.beginning(form))
    }

    /// Returns the number of the chain that entries written here continue.
    pub(super) fn home(&self) -> i64 {
        self.chains.iter().position(|chain| chain.home).map_or(0, |index| index as i64 + 1)
    }
}

fn at<T>(list: &[T], number: i64) -> Option<&T> {
    usize::try_from(number).ok().and_then(|number| list.get(number.checked_sub(1)?))
}
