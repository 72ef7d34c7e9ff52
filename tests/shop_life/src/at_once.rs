//! Two programs at the shop's book at the same moment: the other one writes between what this one has checked and its own writing.
//!
//! Nothing of the product plays this: the event that this program makes from the state that it has read is made while the other one
//! writes. What was checked against a state that is no longer the newest must be checked again.

use crate::boxes::placed;
use crate::cells::box_name;
use crate::life::{Came, Ears, Life};
use crate::step::Meanwhile;
use crate::told::Held;
use celltriage_custody::Scope;
use celltriage_custody::event::{Escalation, Event};
use celltriage_workshop::Workshop;
use std::cell::RefCell;

impl Life<'_> {
    /// A cell is put into a box, while at the other bench of the shop something else is written about it.
    pub(crate) fn at_once(&mut self, cell: &str, one: u8, meanwhile: Meanwhile) -> Came {
        let other = match self.second.take() {
            Some(other) => other,
            None => self.at_another(&self.path.clone())?,
        };
        let (signer, rules) = (self.signer(), &self.rules);
        let (other, there) = (RefCell::new(other), RefCell::new(None));
        let write = |other: &mut Workshop<'_>| match meanwhile {
            Meanwhile::Boxed(another) => {
                other.place(&signer, rules, placed(cell, another)).map(|done| done.entered.entry)
            }
            Meanwhile::Reacts => {
                let escalation = Escalation { cell: cell.to_owned(), because: "hisses".to_owned() };
                other.escalate(&signer, rules, &escalation, &mut Ears::default()).map(|done| done.entry)
            }
        };
        let (event, boxed_into) = (Event::CellPlaced(placed(cell, one)), box_name(one));
        let done = self.shop.enter(&signer, rules, Scope::Names(&[cell, &boxed_into]), |_, _| {
            // Once: what is made again was overtaken.
            there.borrow_mut().get_or_insert_with(|| write(&mut other.borrow_mut()));
            Ok(event.clone())
        });
        self.second = Some(other.into_inner());
        self.tally.at_once += 1;
        if let Some(there) = there.into_inner() {
            match meanwhile {
                Meanwhile::Boxed(another) => self.is_boxed(cell, another, there)?,
                Meanwhile::Reacts => {
                    if let Some(entry) = self.noted(cell, there)? {
                        self.hold(cell, entry, Held::Seen);
                        self.reacts_now(cell);
                    }
                }
            }
        }
        self.is_boxed(cell, one, done.map(|done| done.entry))
    }
}
