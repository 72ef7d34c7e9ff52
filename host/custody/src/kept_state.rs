//! The state as the book keeps it: a value for each cell, container, shipment and struck entry, found by labels.
//!
//! A question about one thing reads the values of that thing and of what it lies in, however long the book is. What was
//! written since the values were kept is folded on top, in memory; whoever writes brings them forward from time to time. [`FOLD`]
//! must get another version whenever the same entries would give other values: the book then folds them all again.

pub use crate::loading::FOLD;

use crate::error::CustodyError;
use crate::kept_keys::label;
use crate::loading::{Held, Loading};
use crate::state::State;
use celltriage_book::{Book, FoldError, Folded, Next};

/// What a question is about.
#[derive(Clone, Copy, Debug)]
pub enum Scope<'a> {
    /// Cells, containers and shipments with these names, with what they lie in, what lies in them, and cells whose names look
    /// the same.
    Names(&'a [&'a str]),
    /// What an entry is about that is to be corrected.
    Entry(u32),
    /// Everything in the shop that something may be due on.
    Shop,
    /// The same and every container that there ever was.
    AllContainers,
    /// The same and every shipment that there ever was.
    AllShipments,
    /// Everything, also what left long ago.
    All,
}

impl State {
    /// Reads how the things with these names stand; see [`Scope::Names`].
    ///
    /// # Errors
    /// A book error.
    pub fn about(book: &Book, names: &[&str]) -> Result<Self, CustodyError> {
        Scope::Names(names).read(book)
    }

    /// Reads everything that custody knows, also of what left long ago.
    ///
    /// # Errors
    /// A book error.
    pub fn read(book: &Book) -> Result<Self, CustodyError> {
        Scope::All.read(book)
    }

    /// Keeps what was written since the last time; `step` hears how far it is.
    ///
    /// # Errors
    /// A book error.
    pub fn keep_up(book: &mut Book, step: &mut dyn FnMut(u32)) -> Result<(), CustodyError> {
        book.keep_up(FOLD, folded, step)
    }
}

/// Says whether what is kept is whole, or with `from_entries` what all entries say; see [`Book::kept_fits`].
///
/// # Errors
/// A book error.
pub fn kept_fits(book: &Book, from_entries: bool, step: &mut dyn FnMut(u32)) -> Result<bool, CustodyError> {
    book.kept_fits(FOLD, from_entries, folded, step)
}

/// Folds the next entries.
fn folded(next: Next<'_>) -> Result<Folded, CustodyError> {
    let mut loading = Loading::begin(next.entries, next.kept, next.from)?;
    let to = loading.take(next.most())?;
    Ok(Folded { to, changes: loading.changes()? })
}

impl FoldError for CustodyError {
    fn is_damage_of_kept(&self) -> bool {
        matches!(self, Self::Book(error) if error.is_damage_of_kept())
    }
}

impl Scope<'_> {
    /// Reads how what the question is about stands.
    ///
    /// # Errors
    /// A book error.
    pub fn read(&self, book: &Book) -> Result<State, CustodyError> {
        Ok(self.load(book)?.state)
    }

    /// The same from the entries alone, whatever is kept.
    #[cfg(test)]
    pub(crate) fn read_afresh(&self, book: &Book) -> Result<State, CustodyError> {
        Ok(self.load_from(Loading::begin(book, book, 0)?)?.state)
    }

    /// The same, for what is to be written next.
    fn load<'b>(&self, book: &'b Book) -> Result<Loading<'b>, CustodyError> {
        book.from_kept(FOLD, |from| self.load_from(Loading::begin(book, book, from)?))
    }

    /// Goes on with a state that was held, where it still fits the book; else reads all that it needs.
    pub(crate) fn load_on<'b>(
        &self,
        book: &'b Book,
        held: Option<Held>,
    ) -> Result<Loading<'b>, CustodyError> {
        book.at_one_state(|| {
            let Some(held) = held else { return self.load(book) };
            match Loading::go_on(book, held)?.map(|loading| self.load_from(loading)) {
                None => self.load(book),
                Some(Err(error)) if error.is_damage_of_kept() => self.load(book),
                Some(loading) => loading,
            }
        })
    }

    fn load_from<'b>(&self, mut loading: Loading<'b>) -> Result<Loading<'b>, CustodyError> {
        loading.catch_up()?;
        match self {
            Self::Names(names) => names.iter().try_for_each(|name| loading.about(name))?,
            Self::Entry(entry) => loading.entry(*entry)?,
            Self::Shop => loading.shop(&[label::STANDING])?,
            Self::AllContainers => loading.shop(&[label::STANDING, label::CONTAINERS])?,
            Self::AllShipments => {
                loading.shop(&[label::STANDING, label::SHIPMENTS])?;
                loading.drafted_cells()?;
            }
            Self::All => loading.all()?,
        }
        Ok(loading)
    }
}
