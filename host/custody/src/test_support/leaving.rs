//! Departures, returns and what follows a shipment, for tests.

use super::World;
use crate::event::{
    Arrival, CellLeft, CellReturned, ContainerLeft, ContainerReturned, Departure, Event, FollowUp,
    ShipmentFollowedUp, WayBack, WayOut,
};
use crate::leaving::{against, inside, still_inside};

/// A departure with all that any way asks for.
pub fn departure(how: WayOut) -> Departure {
    Departure {
        how,
        to: how.goes_to_somebody().then(|| "Mara Quill, 9 Harbour Row".to_owned()),
        document: Some("note 44".to_owned()),
        told: Some("do not charge it; take it to a collection point".to_owned()),
        because: Some("seen by two people".to_owned()),
    }
}

/// The same with nothing told.
pub fn untold(how: WayOut) -> Departure {
    Departure { told: None, ..departure(how) }
}

/// An arrival.
pub fn arrival(how: WayBack) -> Arrival {
    Arrival { how, from: Some("driver Okoro".to_owned()), seen: "dry, flat, cool".to_owned() }
}

impl World {
    /// A cell's departure.
    pub fn left(&self, cell: &str, departure: Departure) -> Event {
        let against = against(&self.state, cell);
        Event::CellLeft(CellLeft { cell: cell.to_owned(), departure, against })
    }

    /// A container's departure.
    pub fn box_left(&self, container: &str, departure: Departure) -> Event {
        let cells = inside(&self.state, container);
        Event::ContainerLeft(ContainerLeft { container: container.to_owned(), cells, departure })
    }

    /// A container's return.
    pub fn box_back(&self, container: &str, how: WayBack) -> Event {
        let (cells, arrival) = (still_inside(&self.state, container), arrival(how));
        Event::ContainerReturned(ContainerReturned { container: container.to_owned(), cells, arrival })
    }
}

/// A cell's return.
pub fn back(cell: &str, how: WayBack) -> Event {
    Event::CellReturned(CellReturned { cell: cell.to_owned(), arrival: arrival(how) })
}

/// What follows a shipment.
pub fn followed(shipment: &str, follow_up: FollowUp) -> Event {
    Event::ShipmentFollowedUp(ShipmentFollowedUp { shipment: shipment.to_owned(), follow_up })
}

/// Cells that are refused.
pub fn refused(shipment: &str, cells: &[&str]) -> Event {
    let cells = cells.iter().map(|cell| (*cell).to_owned()).collect();
    let (refused_by, because) = ("Gull Point Recycling".to_owned(), "label missing".to_owned());
    followed(shipment, FollowUp::Refused { refused_by, because, cells })
}
