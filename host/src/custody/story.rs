//! The whole story of a cell: everything in the book that is about it, in order.
//!
//! Takes a book and a cell's name; gives text, one line for each entry. Containers and shipments belong to the story as
//! far as the cell was in them.

use crate::book::{Book, Entry};
use crate::custody::event::{Event, Signed};
use crate::custody::ledger::{entries, event_of};
use crate::custody::state::State;
use crate::error::Error;
use std::collections::BTreeSet;

/// Writes the story of a cell.
///
/// # Errors
/// A book error, or an input error where the book knows nothing of the cell.
pub fn story(book: &Book, cell: &str) -> Result<String, Error> {
    let mut told = format!("the story of cell {cell}\n");
    let mut places = Places::default();
    let mut lines = 0;
    for entry in entries(book)? {
        let event = event_of(&entry)?;
        if places.concerns(&entry, event.as_ref(), cell) {
            lines += 1;
            told.push_str(&line(&entry, event.as_ref()));
        }
    }
    if lines == 0 {
        return Err(Error::input(format!("{} knows no cell {cell}", book.path().display()))
            .hint("`celltriage book list` shows what there is"));
    }
    if let Some(found) = State::read(book)?.cells.get(cell) {
        told.push_str(&format!("now: {}\n", found.whereabouts.words()));
        if found.facts.is_some() {
            told.push_str(&format!("legal state: {}\n", found.legal()));
        }
    }
    Ok(told)
}

fn line(entry: &Entry, event: Option<&Signed>) -> String {
    let day = event.map_or_else(|| entry.at.strftime("%Y-%m-%d").to_string(), |signed| signed.on.to_string());
    format!("{:>5}  {day}  {:<19} {}\n", entry.number, entry.kind, entry.summary)
}

/// Containers and shipments that the cell was in, as far as the book is read.
#[derive(Default)]
struct Places {
    shipments: BTreeSet<String>,
    entries: BTreeSet<u32>,
}

impl Places {
    fn concerns(&mut self, entry: &Entry, event: Option<&Signed>, cell: &str) -> bool {
        let about = match event.map(|signed| &signed.event) {
            None => entry.cell_id == cell,
            Some(Event::ContainerOpened(_)) => false,
            Some(Event::ShipmentDrafted(draft)) => {
                let holds = draft.contents.iter().any(|item| item.cell == cell);
                if holds {
                    self.shipments.insert(draft.shipment.clone());
                }
                holds
            }
            Some(event @ (Event::ShipmentWithdrawn(_) | Event::ReceiverAgreed(_) | Event::HandedOver(_))) => {
                self.shipments.contains(event.subject())
            }
            Some(Event::Correction(correction)) => self.entries.contains(&correction.entry),
            Some(event) => event.subject() == cell,
        };
        if about {
            self.entries.insert(entry.number);
        }
        about
    }
}
