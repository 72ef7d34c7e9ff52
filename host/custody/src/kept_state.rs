//! The state as the book keeps it: a value for each cell, container, shipment and struck entry, found by labels.
//!
//! A question about one thing reads the values of that thing and of what it lies in, however long the book is. What was
//! written since the values were kept is folded on top, in memory; whoever writes keeps it. [`FOLD`] must get another version
//! whenever the same entries would give other values: the book then folds them all again.

use crate::cell::{Cell, Whereabouts};
use crate::error::CustodyError;
use crate::event::Event;
use crate::event_in_book::{event_of, is_of_custody, take_in};
use crate::kept_keys::{Key, label, of_cell, of_container, of_shipment, touched};
use crate::state::{State, Whole};
use celltriage_book::{Book, BookError, Change, FOLDED_AT_ONCE, Fold, FoldError, Folded, Next, Sort};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeSet;

/// What is kept.
pub const FOLD: Fold = Fold { name: "custody", version: 1 };

/// A state that is loaded as far as it is asked for.
pub(crate) struct Loading<'b> {
    /// Where the entries are, and where what is drawn from them is kept: the same book, but for a comparison.
    book: &'b Book,
    kept: &'b Book,
    pub(crate) state: State,
    loaded: BTreeSet<Key>,
    touched: BTreeSet<Key>,
    pub(crate) from: u32,
}

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
    pub(crate) fn load<'b>(&self, book: &'b Book) -> Result<Loading<'b>, CustodyError> {
        book.from_kept(FOLD, |from| self.load_from(Loading::begin(book, book, from)?))
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

impl<'b> Loading<'b> {
    /// Begins with what concerns everything, as it is kept up to an entry; with nothing where that is 0.
    fn begin(book: &'b Book, kept: &'b Book, from: u32) -> Result<Self, CustodyError> {
        let (loaded, touched) = (BTreeSet::new(), BTreeSet::new());
        let mut loading = Self { book, kept, state: State::default(), loaded, touched, from };
        loading.state.read_to = from;
        loading.load(Key::Whole)?;
        loading.labelled(label::WATCHED)?;
        Ok(loading)
    }

    /// Takes in what was written since.
    fn catch_up(&mut self) -> Result<(), CustodyError> {
        while self.state.read_to < self.book.last_number()? {
            self.take(FOLDED_AT_ONCE)?;
        }
        Ok(())
    }

    fn shop(&mut self, labels: &[&str]) -> Result<(), CustodyError> {
        labels.iter().try_for_each(|label| self.labelled(label))?;
        let standing = self.state.containers.iter().filter(|(_, container)| container.left_with.is_none());
        let names: Vec<String> = standing.map(|(name, _)| name.clone()).collect();
        names.iter().try_for_each(|name| self.inside(name))
    }

    /// Loads the cells of all drafts that are loaded, where some of them may be simulated: their papers say so.
    fn drafted_cells(&mut self) -> Result<(), CustodyError> {
        if self.book.identity()?.sort == Some(Sort::Real) {
            return Ok(());
        }
        let items = self.state.shipments.values().flat_map(|shipment| &shipment.draft.contents);
        let cells: Vec<Key> = items.map(|item| Key::Cell(item.cell.clone())).collect();
        cells.into_iter().try_for_each(|cell| self.load(cell))
    }

    fn all(&mut self) -> Result<(), CustodyError> {
        if self.from == 0 {
            return Ok(());
        }
        let mut keys = Vec::new();
        self.kept.each_kept(FOLD, &mut |change| keys.extend(Key::of(&change.key)))?;
        keys.into_iter().try_for_each(|key| self.load(key))
    }

    /// Takes in the next entries; returns the number of the last that is taken in.
    fn take(&mut self, most: u32) -> Result<u32, CustodyError> {
        for entry in self.book.entries_after(self.state.read_to, most)? {
            let signed = event_of(self.book, &entry)?;
            self.touch(&entry.subject.name, signed.as_ref().map(|signed| &signed.event))?;
            take_in(&mut self.state, &entry, signed.as_ref());
        }
        Ok(self.state.read_to)
    }

    /// Loads what an entry under a subject changes, and remembers that it is changed.
    pub(crate) fn touch(&mut self, subject: &str, event: Option<&Event>) -> Result<(), CustodyError> {
        // Once more, since what is loaded may name more: a shipment its cells.
        for _ in 0..2 {
            let keys = touched(&self.state, subject, event);
            keys.iter().try_for_each(|key| self.load(key.clone()))?;
            self.touched.extend(keys);
        }
        Ok(())
    }

    /// Loads what bears a name, what it lies in and what lies in it.
    pub(crate) fn about(&mut self, name: &str) -> Result<(), CustodyError> {
        Key::named(name).into_iter().try_for_each(|key| self.load(key))?;
        self.labelled(&label::spelt(name))?;
        self.labelled(&label::struck(name))?;
        let mut containers = vec![name.to_owned()];
        if let Some(Whereabouts::In { container, .. }) =
            self.state.cells.get(name).map(|cell| &cell.whereabouts)
        {
            containers.push(container.clone());
        }
        if let Some(Whereabouts::HandedOver { shipment, .. }) =
            self.state.cells.get(name).map(|cell| &cell.whereabouts)
        {
            self.load(Key::Shipment(shipment.clone()))?;
        }
        if let Some(shipment) = self.state.shipments.get(name) {
            let cells: Vec<String> = shipment.draft.contents.iter().map(|item| item.cell.clone()).collect();
            containers.push(shipment.draft.container.clone());
            cells.into_iter().try_for_each(|cell| self.load(Key::Cell(cell)))?;
        }
        containers.iter().try_for_each(|container| self.inside(container))
    }

    fn entry(&mut self, number: u32) -> Result<(), CustodyError> {
        let Some(head) = self.book.head(number)? else { return Ok(()) };
        self.about(&head.subject.name)?;
        self.load(Key::Struck(number))?;
        if is_of_custody(&head.kind) {
            self.state.entries.insert(number, (head.kind, head.subject.name));
        }
        Ok(())
    }

    /// Loads a container with its cells and the shipment that it is drafted for or left with.
    fn inside(&mut self, name: &str) -> Result<(), CustodyError> {
        self.load(Key::Container(name.to_owned()))?;
        let Some(container) = self.state.containers.get(name) else { return Ok(()) };
        let shipments: Vec<String> =
            container.drafted_for.iter().chain(&container.left_with).cloned().collect();
        shipments.into_iter().try_for_each(|shipment| self.load(Key::Shipment(shipment)))?;
        self.labelled(&label::inside(name))
    }

    /// Loads all that is kept under a label. What was written since may lie under another by now, or under this one: the
    /// state says so.
    fn labelled(&mut self, label: &str) -> Result<(), CustodyError> {
        if self.from == 0 {
            return Ok(());
        }
        let keys: Vec<Key> =
            self.kept.kept_under(FOLD, label, None)?.iter().filter_map(|key| Key::of(key)).collect();
        keys.into_iter().try_for_each(|key| self.load(key))
    }

    fn load(&mut self, key: Key) -> Result<(), CustodyError> {
        if self.from == 0 || !self.loaded.insert(key.clone()) {
            return Ok(());
        }
        let text = key.text();
        let Some(value) = self.kept.kept(FOLD, &text)? else { return Ok(()) };
        let state = &mut self.state;
        match key {
            Key::Whole => {
                let whole: Whole = read(self.book, &text, &value)?;
                (state.time, state.places) = (whole.time, whole.places);
            }
            Key::Cell(name) => {
                let cell: Cell = read(self.book, &text, &value)?;
                if cell.watch.is_some() {
                    state.watched.insert(name.clone());
                }
                state.cells.insert(name, cell);
            }
            Key::Container(name) => {
                state.containers.insert(name, read(self.book, &text, &value)?);
            }
            Key::Shipment(name) => {
                state.shipments.insert(name, read(self.book, &text, &value)?);
            }
            Key::Struck(number) => {
                state.struck.insert(number, read(self.book, &text, &value)?);
            }
        }
        Ok(())
    }

    /// Returns the values that have changed.
    pub(crate) fn changes(&self) -> Result<Vec<Change>, CustodyError> {
        let state = &self.state;
        let mut changes = Vec::new();
        for key in &self.touched {
            let (value, labels) = match key {
                Key::Whole => {
                    let whole = Whole { time: state.time.clone(), places: state.places.clone() };
                    (Some(write(self.book, &whole)?), Vec::new())
                }
                Key::Cell(name) => match state.cells.get(name) {
                    Some(cell) => (Some(write(self.book, cell)?), of_cell(name, cell)),
                    None => (None, Vec::new()),
                },
                Key::Container(name) => match state.containers.get(name) {
                    Some(container) => (Some(write(self.book, container)?), of_container(container)),
                    None => (None, Vec::new()),
                },
                Key::Shipment(name) => match state.shipments.get(name) {
                    Some(shipment) => (Some(write(self.book, shipment)?), of_shipment(shipment)),
                    None => (None, Vec::new()),
                },
                Key::Struck(number) => match state.struck.get(number) {
                    Some(struck) => (Some(write(self.book, struck)?), vec![label::struck(&struck.subject)]),
                    None => (None, Vec::new()),
                },
            };
            let labels = labels.into_iter().map(|label| (label, 0)).collect();
            changes.push(Change { key: key.text(), value, labels });
        }
        Ok(changes)
    }
}

fn read<T: DeserializeOwned>(book: &Book, key: &str, value: &str) -> Result<T, BookError> {
    serde_json::from_str(value).map_err(|error| book.kept_is_damaged(FOLD, key, error))
}

fn write(book: &Book, value: &impl Serialize) -> Result<String, BookError> {
    serde_json::to_string(value).map_err(|error| book.not_storable("state", error))
}
