//! A container as a whole while it is here: where it stands, and cells that go from one into another, or out.

use crate::event::{ContainerKind, ContainerMoved, ContainerRepacked, Inside};
use crate::state::State;
use crate::whereabouts::Whereabouts;
use jiff::civil::Date;

/// Returns cells of a container as they are repacked, all of them or those named, each in the inner packing that it has.
pub fn repacked(state: &State, container: &str, only: &[String]) -> Vec<Inside> {
    let named = |cell: &String| only.is_empty() || only.contains(cell);
    let cells = state.cells_in(container).filter(|(cell, _)| named(cell));
    let mut found: Vec<Inside> = cells
        .map(|(name, cell)| {
            let inner = match &cell.whereabouts {
                Whereabouts::In { inner, .. } => inner.clone(),
                _ => None,
            };
            Inside { cell: name.clone(), inner, against: Vec::new() }
        })
        .collect();
    // What is named and does not lie there is told by the check.
    let missing = only.iter().filter(|cell| !found.iter().any(|one| one.cell == **cell));
    let missing: Vec<Inside> =
        missing.map(|cell| Inside { cell: cell.clone(), inner: None, against: Vec::new() }).collect();
    found.extend(missing);
    found
}

impl State {
    /// Takes in where a container stands.
    pub(crate) fn container_moves(&mut self, moved: &ContainerMoved) {
        self.places.insert(moved.place.clone());
        if let Some(container) = self.containers.get_mut(&moved.container) {
            container.opened.place = moved.place.clone();
            container.opened.stands = moved.stands.clone();
        }
    }

    /// Takes in that cells were repacked.
    pub(crate) fn container_is_repacked(&mut self, number: u32, repacked: &ContainerRepacked, on: Date) {
        for inside in &repacked.cells {
            match &repacked.into {
                Some(into) => self.is_put_into(number, &inside.cell, into, inside.inner.clone(), on),
                None => self.cell(&inside.cell).whereabouts = Whereabouts::Loose,
            }
        }
    }

    /// Takes in that a cell lies in a container from now on. Whoever puts it into one for waste has decided to discard it, that day at the
    /// latest; what is not the shop's to discard only lies there.
    pub(crate) fn is_put_into(
        &mut self,
        number: u32,
        cell: &str,
        container: &str,
        inner: Option<String>,
        on: Date,
    ) {
        let found = self.containers.get(container);
        let waste = found.is_some_and(|found| found.opened.kind != ContainerKind::Quarantine);
        let cell = self.cell(cell);
        if waste && cell.lacks_consent().is_none() {
            cell.discards.push((number, on));
        }
        cell.whereabouts = Whereabouts::In { container: container.to_owned(), inner, since: on };
    }
}
