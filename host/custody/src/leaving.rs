//! What leaves the shop without a shipment, and what comes back: it stops counting, and counts again, to be screened first.

use crate::book_time::BookTime;
use crate::cell::{Cell, Watch};
use crate::event::{
    Arrival, CellLeft, CellReturned, ContainerLeft, ContainerReturned, Departure, Inside, WayOut,
};
use crate::state::State;
use crate::watch_end::WatchEnd;
use crate::whereabouts::Whereabouts;
use celltriage_verdict::KnownFinding;
use jiff::ToSpan;
use jiff::civil::Date;

/// Returns what stands against a cell, or is not known of it, for whoever gets it, each in a few words.
pub fn against(state: &State, name: &str) -> Vec<String> {
    let Some(cell) = state.cells.get(name) else { return Vec::new() };
    let mut found: Vec<String> = cell.standing().map(KnownFinding::words).collect();
    found.extend(state.irregular_with(name).map(|(entry, one)| format!("{} (entry {entry})", one.words())));
    if !found.is_empty() {
        return found;
    }
    // In a device to stay it was proven before it went in.
    let stays = matches!(cell.whereabouts, Whereabouts::Fitted { stays: true, .. });
    let open = cell.judged_against().or_else(|| Cell::unproven(Some(cell)).filter(|_| !stays));
    open.into_iter().collect()
}

/// Returns the cells of a container as they leave with it.
pub fn inside(state: &State, container: &str) -> Vec<Inside> {
    let cells = state.cells_in(container).map(|(name, cell)| {
        let inner = match &cell.whereabouts {
            Whereabouts::In { inner, .. } => inner.clone(),
            _ => None,
        };
        Inside { cell: name.clone(), inner, against: against(state, name) }
    });
    cells.collect()
}

/// Returns whether a cell left with a shipment, has not come back and is not refused by its receiver.
pub fn is_at_receiver(state: &State, cell: &str, shipment: &str) -> bool {
    let away = state.cells.get(cell).is_some_and(|cell| cell.whereabouts.is_with(shipment));
    let refused = state.shipments.get(shipment).map(|shipment| &shipment.refused);
    away && !refused.is_some_and(|refused| refused.iter().any(|one| one == cell))
}

/// Returns the cells with which a container comes back: all that left with it and have not come back by themselves.
pub fn still_inside(state: &State, container: &str) -> Vec<Inside> {
    let Some(found) = state.containers.get(container) else { return Vec::new() };
    let is_still = |cell: &str| match state.cells.get(cell).map(|cell| &cell.whereabouts) {
        Some(Whereabouts::Left { within, .. }) => within.as_deref() == Some(container),
        Some(lies) => found.left_with.as_deref().is_some_and(|shipment| lies.is_with(shipment)),
        None => false,
    };
    let plain = |cell: &str, inner: &Option<String>| Inside {
        cell: cell.to_owned(),
        inner: inner.clone(),
        against: Vec::new(),
    };
    let left = found.left.iter().flat_map(|left| &left.cells).map(|one| plain(&one.cell, &one.inner));
    let shipment = found.left_with.as_ref().and_then(|shipment| state.shipments.get(shipment));
    let items = shipment.iter().flat_map(|shipment| shipment.draft.inside(container));
    let items = items.map(|item| plain(&item.cell, &item.inner));
    left.chain(items).filter(|one| is_still(&one.cell)).collect()
}

impl Cell {
    /// Returns whether it is under watch and here to be looked at.
    pub fn is_watched_here(&self) -> bool {
        self.watch.is_some() && !self.whereabouts.is_gone()
    }

    fn leaves(&mut self, departure: &Departure, within: Option<&str>, on: Date) {
        self.fitting = None;
        self.whereabouts = Whereabouts::Left {
            how: departure.how,
            to: departure.to.clone(),
            within: within.map(str::to_owned),
            on,
        };
    }

    /// Takes in that it came back: nothing that was assessed or judged before says what it is now.
    fn comes_back(&mut self, entry: u32, on: Date, arrival: &Arrival, to: Whereabouts, time: BookTime) {
        let because = format!("came back on {on}, {} (entry {entry})", arrival.how.words());
        self.must_be_screened(entry, on, because);
        self.whereabouts = to;
        // Nobody has looked at it meanwhile: its watch begins again, for as long as it was to last.
        if let Some(Watch { since, mut hold, .. }) = self.watch.take() {
            let days = since.until(hold.until).map_or(0, |span| span.get_days()).max(0);
            hold.until = hold.until.max(on.saturating_add(days.days()));
            let (ends, inspections) = (WatchEnd::of(&hold, on, time), Vec::new());
            self.watch = Some(Watch { since: on, ends, critical_ends: None, hold, inspections });
            self.count_critical_days(on, time);
        }
    }
}

impl State {
    /// Takes in that a cell left.
    pub(crate) fn cell_leaves(&mut self, left: &CellLeft, on: Date) {
        self.cell(&left.cell).leaves(&left.departure, None, on);
        self.watch_what_is_here(&left.cell);
    }

    /// Takes in that a container left with its cells.
    pub(crate) fn container_leaves(&mut self, left: &ContainerLeft, on: Date) {
        if let Some(container) = self.containers.get_mut(&left.container) {
            let (departure, cells) = (left.departure.clone(), left.cells.clone());
            container.left = Some(crate::container::LeftWithout { departure, on, cells });
        }
        for inside in &left.cells {
            self.cell(&inside.cell).leaves(&left.departure, Some(&left.container), on);
            self.watch_what_is_here(&inside.cell);
        }
    }

    /// Takes in that a cell came back.
    pub(crate) fn cell_returns(&mut self, entry: u32, back: &CellReturned, on: Date) {
        self.is_back(entry, &back.cell, &back.arrival, Whereabouts::Loose, on);
    }

    /// Takes in that a container came back with cells.
    pub(crate) fn container_returns(&mut self, entry: u32, back: &ContainerReturned, on: Date) {
        if let Some(container) = self.containers.get_mut(&back.container) {
            (container.left_with, container.left) = (None, None);
        }
        for inside in &back.cells {
            let (container, inner) = (back.container.clone(), inside.inner.clone());
            let to = Whereabouts::In { container, inner, since: on };
            self.is_back(entry, &inside.cell, &back.arrival, to, on);
        }
    }

    fn is_back(&mut self, entry: u32, name: &str, arrival: &Arrival, to: Whereabouts, on: Date) {
        let time = self.time;
        let cell = self.cell(name);
        let shipment = match &cell.whereabouts {
            Whereabouts::HandedOver { shipment, .. } => Some(shipment.clone()),
            _ => None,
        };
        cell.comes_back(entry, on, arrival, to, time);
        if let Some(shipment) = shipment.and_then(|shipment| self.shipments.get_mut(&shipment)) {
            shipment.gets_back(name, on);
        }
        self.watch_what_is_here(name);
    }

    /// Counts the time of a watch where its cell is here, and not where it has left.
    pub(crate) fn watch_what_is_here(&mut self, name: &str) {
        if self.cells.get(name).is_some_and(Cell::is_watched_here) {
            self.watched.insert(name.to_owned());
        } else {
            self.watched.remove(name);
        }
    }
}

/// Returns whether a cell that leaves so is to serve again with whoever gets it.
pub const fn is_to_serve(how: WayOut) -> bool {
    matches!(how, WayOut::Sold | WayOut::Refurbisher)
}
