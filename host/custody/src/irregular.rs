//! What happened against the rules: it stands open until somebody writes down what put it right.
//!
//! The state follows what really happened, as with any other event; nothing that speaks against a cell is lifted by it, and a cell that
//! was in one is screened again before it serves.

use crate::event::{ContainerLeft, ContainerRepacked, Event, Irregularity, Named, Remedy, Signed};
use crate::irregular_state::{Irregular, Remedied};
use crate::state::State;
use std::collections::BTreeSet;

impl State {
    /// Returns the open irregularities that concern a name, with their entries.
    pub fn irregular_with<'s>(&'s self, name: &'s str) -> impl Iterator<Item = (u32, &'s Irregular)> {
        let open = self.irregularities.iter().filter(|(_, one)| one.is_open());
        open.filter(move |(_, one)| one.concerns.contains(name)).map(|(entry, one)| (*entry, one))
    }

    /// Takes in what happened against the rules.
    pub(crate) fn is_irregular(&mut self, number: u32, signed: &Signed, told: &Irregularity) {
        let (by, on, concerns) = (signed.by.clone(), signed.on, self.concerned(told));
        if let Some(event) = told.event.as_deref() {
            let cell = (told.about == Named::Cell).then(|| self.cell(&told.name));
            if let Some(cell) = cell {
                // Wherever it was by the book, it is there no more.
                cell.fitting = None;
                let because = format!("was handled against the rules on {on} (entry {number})");
                cell.is_to_be_screened(number, on, because);
            }
            if let Event::ContainerRepacked(repacked) = event {
                for inside in &repacked.cells {
                    let because = format!("was repacked against the rules on {on} (entry {number})");
                    self.cell(&inside.cell).is_to_be_screened(number, on, because);
                }
            }
            self.apply(number, &Signed { event: event.clone(), ..signed.clone() });
        }
        self.entries.insert(number, (signed.event.kind().to_owned(), told.name.clone()));
        self.irregularities
            .insert(number, Irregular { by, on, told: told.clone(), concerns, remedied: None });
    }

    /// Takes in what put an irregularity right.
    pub(crate) fn is_remedied(&mut self, number: u32, signed: &Signed, remedy: &Remedy) {
        if let Some(irregular) = self.irregularities.get_mut(&remedy.entry) {
            let (by, on, done) = (signed.by.clone(), signed.on, remedy.done.clone());
            irregular.remedied.get_or_insert(Remedied { entry: number, by, on, done });
        }
    }

    fn concerned(&self, told: &Irregularity) -> BTreeSet<String> {
        let mut names = BTreeSet::from([told.name.clone()]);
        let Some(event) = told.event.as_deref() else { return names };
        names.extend(event.names().into_iter().map(str::to_owned));
        match event {
            Event::ContainerRepacked(ContainerRepacked { cells, .. })
            | Event::ContainerLeft(ContainerLeft { cells, .. }) => {
                names.extend(cells.iter().map(|inside| inside.cell.clone()));
            }
            Event::HandedOver(handed) => {
                let draft = self.shipments.get(&handed.shipment).map(|shipment| &shipment.draft);
                names.extend(draft.iter().flat_map(|draft| draft.containers()).map(str::to_owned));
                let items = draft.iter().flat_map(|draft| &draft.contents);
                names.extend(items.map(|item| item.cell.clone()));
            }
            _ => {}
        }
        names
    }
}
