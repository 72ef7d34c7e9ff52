//! What leaves the workshop without a shipment, what comes back, and what follows a hand-over.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::event::{
    Arrival, CellLeft, CellReturned, ContainerLeft, ContainerReturned, Departure, Event, FollowUp,
    ShipmentFollowedUp,
};
use celltriage_custody::leaving::{against, inside, is_at_receiver, still_inside};
use celltriage_custody::{PackRules, Scope, State};

/// A cell or a container, by its name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Thing {
    /// A cell.
    Cell(String),
    /// A container, with all that is in it.
    Container(String),
}

impl Thing {
    /// Returns its name.
    pub fn name(&self) -> &str {
        match self {
            Self::Cell(name) | Self::Container(name) => name,
        }
    }

    /// Returns its departure, with what stands against what leaves.
    pub(crate) fn leaves(&self, state: &State, departure: &Departure) -> Event {
        let departure = departure.clone();
        match self {
            Self::Cell(cell) => {
                let against = against(state, cell);
                Event::CellLeft(CellLeft { cell: cell.clone(), departure, against })
            }
            Self::Container(container) => {
                let cells = inside(state, container);
                Event::ContainerLeft(ContainerLeft { container: container.clone(), cells, departure })
            }
        }
    }
}

impl Workshop<'_> {
    /// Writes down that something left without a shipment; it counts no more.
    ///
    /// # Errors
    /// As [`Workshop::enter`]; a loss, a theft, a fire and what an authority takes are written down whatever the cell is.
    pub fn leave(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        what: &Thing,
        departure: &Departure,
    ) -> Result<Entered> {
        self.enter(signer, rules, Scope::Names(&[what.name()]), |state, _| Ok(what.leaves(state, departure)))
    }

    /// Writes down that something came back; it counts again, and is screened again before anything else.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn come_back(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        what: &Thing,
        arrival: &Arrival,
    ) -> Result<Entered> {
        self.enter(signer, rules, Scope::Names(&[what.name()]), |state, _| {
            let arrival = arrival.clone();
            Ok(match what {
                Thing::Cell(cell) => Event::CellReturned(CellReturned { cell: cell.clone(), arrival }),
                Thing::Container(container) => {
                    let (container, cells) = (container.clone(), still_inside(state, container));
                    Event::ContainerReturned(ContainerReturned { container, cells, arrival })
                }
            })
        })
    }

    /// Writes down what followed a hand-over. A refusal that names no cells is about all that are still away with the shipment.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn follow_up(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        shipment: &str,
        follow_up: &FollowUp,
    ) -> Result<Entered> {
        self.enter(signer, rules, Scope::Names(&[shipment]), |state, _| {
            let mut follow_up = follow_up.clone();
            if let FollowUp::Refused { cells, .. } = &mut follow_up
                && cells.is_empty()
            {
                *cells = still_away(state, shipment);
            }
            Ok(Event::ShipmentFollowedUp(ShipmentFollowedUp { shipment: shipment.to_owned(), follow_up }))
        })
    }
}

/// Returns the cells that left with a shipment, have not come back and are not refused already.
fn still_away(state: &State, name: &str) -> Vec<String> {
    let Some(shipment) = state.shipments.get(name) else { return Vec::new() };
    let cells = shipment.draft.contents.iter().map(|item| item.cell.clone());
    cells.filter(|cell| is_at_receiver(state, cell, name)).collect()
}
