//! A state that is loaded as far as it is asked for, and held for the next event.
//!
//! What is kept may be some entries behind the book; those are folded on top. Whoever writes one event after the other goes on
//! with the state of the last one and reads only what was written since.

use crate::cell::{Cell, Whereabouts};
use crate::error::CustodyError;
use crate::event::Event;
use crate::event_in_book::{event_of, is_of_custody, take_in};
use crate::kept_keys::{Key, label, of_cell, of_container, of_irregular, of_shipment, touched};
use crate::other_bench::{Before, looked_elsewhere};
use crate::state::{State, Whole};
use celltriage_book::{Book, BookError, Change, Digest, FOLDED_AT_ONCE, Fold, Sort};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeSet;
use std::sync::Arc;

/// What is kept; another version whenever the same entries would give other values.
pub const FOLD: Fold = Fold { name: "custody", version: 8 };
/// A state with more values than this is not held: it is loaded again (our choice: some megabytes).
const MOST_HELD: usize = 2000;

/// A state that is loaded as far as it is asked for.
pub(crate) struct Loading<'b> {
    /// Where the entries are, and where what is drawn from them is kept: the same book, but for a comparison.
    book: &'b Book,
    kept: &'b Book,
    pub(crate) state: State,
    loaded: BTreeSet<Key>,
    /// Labels under which all is loaded: what comes under one later is loaded because it is touched.
    labelled: BTreeSet<String>,
    touched: BTreeSet<Key>,
    pub(crate) from: u32,
}

/// A loaded state without its book, up to the entry with a digest.
#[derive(Debug)]
pub(crate) struct Held {
    state: Arc<State>,
    loaded: BTreeSet<Key>,
    labelled: BTreeSet<String>,
    from: u32,
    last: Digest,
}

impl Held {
    /// Returns how many entries what is kept is behind.
    pub(crate) fn behind(&self) -> u32 {
        self.state.read_to.saturating_sub(self.from)
    }

    /// Returns the state up to the entry with a digest, and what is to be held for the next event.
    pub(crate) fn up_to(mut self, last: Digest) -> (Arc<State>, Option<Self>) {
        self.last = last;
        let state = &self.state;
        let values = state.cells.len() + state.containers.len() + state.shipments.len() + state.entries.len();
        (Arc::clone(state), (values <= MOST_HELD).then_some(self))
    }
}

impl<'b> Loading<'b> {
    /// Begins with what concerns everything, as it is kept up to an entry; from nothing if that is 0.
    pub(crate) fn begin(book: &'b Book, kept: &'b Book, from: u32) -> Result<Self, CustodyError> {
        let (loaded, labelled, touched) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
        let mut loading = Self { book, kept, state: State::default(), loaded, labelled, touched, from };
        loading.state.read_to = from;
        loading.load(Key::Whole)?;
        loading.labelled(label::WATCHED)?;
        Ok(loading)
    }

    /// Goes on with a state that was held; `None` where it does not fit the book any more. What is kept may have been brought
    /// forward meanwhile, but not beyond the state: else what was written since would be taken in twice.
    pub(crate) fn go_on(book: &'b Book, held: Held) -> Result<Option<Self>, CustodyError> {
        let (from, read_to) = (book.kept_to(FOLD)?, held.state.read_to);
        let reaches = held.from <= from && from <= read_to && (held.from == 0) == (from == 0);
        if !reaches || book.digest_of(read_to)? != Some(held.last) {
            return Ok(None);
        }
        let Held { state, loaded, labelled, .. } = held;
        let (state, touched) = (Arc::unwrap_or_clone(state), BTreeSet::new());
        Ok(Some(Self { book, kept: book, state, loaded, labelled, touched, from }))
    }

    /// Returns what is loaded without the book; [`Held::up_to`] says which entry it has come to.
    pub(crate) fn let_go(self) -> Held {
        let Self { state, loaded, labelled, from, .. } = self;
        Held { state: Arc::new(state), loaded, labelled, from, last: Digest::BEGINNING }
    }

    /// Takes in what was written since.
    pub(crate) fn catch_up(&mut self) -> Result<(), CustodyError> {
        while self.state.read_to < self.book.last_number()? {
            self.take(FOLDED_AT_ONCE)?;
        }
        Ok(())
    }

    pub(crate) fn shop(&mut self, labels: &[&str]) -> Result<(), CustodyError> {
        labels.iter().try_for_each(|label| self.labelled(label))?;
        self.labelled(label::IRREGULAR)?;
        let standing = self.state.containers.iter().filter(|(_, container)| container.is_here());
        let names: Vec<String> = standing.map(|(name, _)| name.clone()).collect();
        names.iter().try_for_each(|name| self.inside(name))
    }

    /// Loads the cells of all drafts that are loaded, where some of them may be simulated: their papers say so.
    pub(crate) fn drafted_cells(&mut self) -> Result<(), CustodyError> {
        if self.book.identity()?.sort == Some(Sort::Real) {
            return Ok(());
        }
        let items = self.state.shipments.values().flat_map(|shipment| &shipment.draft.contents);
        let cells: Vec<Key> = items.map(|item| Key::Cell(item.cell.clone())).collect();
        cells.into_iter().try_for_each(|cell| self.load(cell))
    }

    pub(crate) fn all(&mut self) -> Result<(), CustodyError> {
        if self.from == 0 {
            return Ok(());
        }
        let mut keys = Vec::new();
        self.kept.each_kept(FOLD, &mut |change| keys.extend(Key::of(&change.key)))?;
        keys.into_iter().try_for_each(|key| self.load(key))
    }

    /// Takes in the next entries; returns the number of the last that is taken in.
    pub(crate) fn take(&mut self, most: u32) -> Result<u32, CustodyError> {
        for entry in self.book.entries_after(self.state.read_to, most)? {
            let signed = event_of(self.book, &entry)?;
            self.touch(entry.number, &entry.subject.name, signed.as_ref().map(|signed| &signed.event))?;
            let before = Before::of(self.book, &self.state, &entry, signed.as_ref())?;
            take_in(&mut self.state, &entry, signed.as_ref());
            if let Some(before) = before {
                before.keep(&mut self.state, &entry);
            }
            looked_elsewhere(&mut self.state, &entry, signed.as_ref());
        }
        Ok(self.state.read_to)
    }

    /// Loads what an entry under a subject changes, and remembers that it is changed.
    pub(crate) fn touch(
        &mut self,
        number: u32,
        subject: &str,
        event: Option<&Event>,
    ) -> Result<(), CustodyError> {
        // Once more, since what is loaded may name more: a shipment its cells.
        for _ in 0..2 {
            let keys = touched(&self.state, number, subject, event);
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
        self.labelled(&label::irregular_with(name))?;
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
            containers.extend(shipment.draft.containers().map(str::to_owned));
            cells.into_iter().try_for_each(|cell| self.load(Key::Cell(cell)))?;
        }
        containers.iter().try_for_each(|container| self.inside(container))
    }

    pub(crate) fn entry(&mut self, number: u32) -> Result<(), CustodyError> {
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
        let left = container.left.iter().flat_map(|left| &left.cells).map(|inside| inside.cell.clone());
        let mut cells: Vec<String> = left.collect();
        let gone = container.left_with.clone();
        shipments.into_iter().try_for_each(|shipment| self.load(Key::Shipment(shipment)))?;
        // What is away with it may come back with it.
        let items = gone.and_then(|shipment| self.state.shipments.get(&shipment));
        cells.extend(items.iter().flat_map(|one| &one.draft.contents).map(|item| item.cell.clone()));
        cells.into_iter().try_for_each(|cell| self.load(Key::Cell(cell)))?;
        self.labelled(&label::inside(name))
    }

    /// Loads all that is kept under a label. What was written since may lie under another by now, or under this one: the
    /// state says so.
    pub(crate) fn labelled(&mut self, label: &str) -> Result<(), CustodyError> {
        if self.from == 0 || !self.labelled.insert(label.to_owned()) {
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
                if cell.is_watched_here() {
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
            Key::Irregular(number) => {
                state.irregularities.insert(number, read(self.book, &text, &value)?);
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
                    let whole = Whole { time: state.time, places: state.places.clone() };
                    (Some(write(self.book, &whole)?), Vec::new())
                }
                Key::Cell(name) => match state.cells.get(name) {
                    Some(cell) => (Some(write(self.book, cell)?), of_cell(name, cell)),
                    None => (None, Vec::new()),
                },
                Key::Container(name) => match state.containers.get(name) {
                    Some(container) => (Some(write(self.book, container)?), of_container(name, container)),
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
                Key::Irregular(number) => match state.irregularities.get(number) {
                    Some(irregular) => (Some(write(self.book, irregular)?), of_irregular(irregular)),
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
