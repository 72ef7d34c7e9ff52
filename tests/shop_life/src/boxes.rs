//! Boxes: opened, filled, emptied, sent.

use crate::cells::box_name;
use crate::life::{Came, Life};
use crate::step::BoxFor;
use crate::told::Lies;
use celltriage_book::Entry;
use celltriage_custody::draft::Request;
use celltriage_custody::event::{
    CellPlaced, CellTakenOut, ContainerKind, ContainerOpened, HandedOver, Mode, Purpose, ReceiverAgreed,
    ShipmentWithdrawn,
};
use celltriage_custody::units::Milligrams;
use celltriage_workshop::Fault;
use celltriage_workshop::signer::Entered;

impl Life<'_> {
    pub(crate) fn opened(&mut self, one: u8, kind: BoxFor) -> Came {
        let opened = ContainerOpened {
            container: box_name(one),
            kind: match kind {
                BoxFor::Intact => ContainerKind::Intact,
                BoxFor::Damaged => ContainerKind::Damaged,
                BoxFor::Watch => ContainerKind::Quarantine,
            },
            place: place(),
            stands: "yard, north wall".to_owned(),
            tare: None,
            most_cells: None,
            most_mass: None,
            most_energy: None,
            one_chemistry: false,
            volume: None,
        };
        let signer = self.signer();
        match self.shop.open_container(&signer, &self.rules, opened) {
            Ok(done) => {
                self.told.entries.push(done.entry.number);
                self.told.boxes.insert(one, kind);
                Ok(())
            }
            Err(fault) => self.refused(&fault),
        }
    }

    pub(crate) fn boxed(&mut self, cell: &str, one: u8) -> Came {
        let signer = self.signer();
        let done = self.shop.place(&signer, &self.rules, placed(cell, one)).map(|done| done.entered.entry);
        self.is_boxed(cell, one, done)
    }

    /// Notes that a cell was put into a box, or that it was refused.
    pub(crate) fn is_boxed(&mut self, cell: &str, one: u8, done: Result<Entry, Fault>) -> Came {
        if self.noted(cell, done)?.is_none() {
            return Ok(());
        }
        self.tally.boxed += 1;
        let kind = self.told.boxes.get(&one).copied();
        let held = self.told.held(cell).first().copied();
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        let before = std::mem::replace(&mut told.lies, Lies::In(one));
        if told.reacted.is_some_and(|reacted| told.judged.is_none_or(|judged| judged < reacted)) {
            return Err(("nobody moves a reacting cell", format!("{cell} into {one}: {:?}", told.held)));
        }
        if before != Lies::Loose {
            return Err(("a cell is in one place", format!("{cell} was {before:?} and is put into {one}")));
        }
        match (kind, held) {
            (None, _) => Err(("a box that is not open takes nothing", format!("{cell} into {one}"))),
            (Some(BoxFor::Intact), Some(held)) => {
                Err(("no damaged cell in an intact box", format!("{cell}, held for {held:?}")))
            }
            _ => Ok(()),
        }
    }

    pub(crate) fn taken_out(&mut self, cell: &str) -> Came {
        let taken = CellTakenOut { cell: cell.to_owned(), because: "to be looked at".to_owned() };
        let signer = self.signer();
        let done = self.shop.take_out(&signer, &self.rules, taken).map(|done| done.entry);
        if self.noted(cell, done)?.is_some() {
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            if !matches!(std::mem::take(&mut told.lies), Lies::In(_)) {
                return Err(("a cell is in one place", format!("{cell} was taken out of no box")));
            }
        }
        Ok(())
    }

    pub(crate) fn drafted(&mut self, one: u8) -> Came {
        let number = self.shipments.get(&one).copied().unwrap_or(0) + 1;
        let request = Request {
            shipment: format!("S-{one}-{number}"),
            more: Vec::new(),
            container: box_name(one),
            more: Vec::new(),
            mode: Mode::Road,
            purpose: Purpose::Recycling,
            receiver: "Kessel Recycling".to_owned(),
            planned_on: self.shop.today(),
            gross: Milligrams(5_000_000),
        };
        let signer = self.signer();
        let done = self.shop.draft_shipment(&signer, &self.rules, &request);
        let drafted = done.is_ok();
        self.shipped(done, |life| {
            life.shipments.insert(one, number);
        })?;
        let intact = self.told.boxes.get(&one) == Some(&BoxFor::Intact);
        let inside = self.told.cells.iter().filter(|(_, cell)| cell.lies == Lies::In(one));
        match inside.map(|(name, cell)| (name, &cell.held)).find(|(_, held)| !held.is_empty()) {
            Some((name, held)) if drafted && intact => {
                Err(("no papers for a damaged cell among intact ones", format!("{name}: {held:?}")))
            }
            _ => Ok(()),
        }
    }

    pub(crate) fn agreed(&mut self, one: u8) -> Came {
        let agreed = ReceiverAgreed { shipment: self.shipment(one), reference: "letter 17".to_owned() };
        let signer = self.signer();
        let done = self.shop.receiver_agrees(&signer, &self.rules, agreed);
        self.shipped(done, |_| {})
    }

    pub(crate) fn withdrawn(&mut self, one: u8) -> Came {
        let withdrawn =
            ShipmentWithdrawn { shipment: self.shipment(one), because: "the lorry broke down".to_owned() };
        let signer = self.signer();
        let done = self.shop.withdraw(&signer, &self.rules, withdrawn);
        self.shipped(done, |_| {})
    }

    pub(crate) fn leaves(&mut self, one: u8) -> Came {
        let shipment = self.shipment(one);
        let view = self.shop.shipment(&shipment).ok();
        let waste_code =
            view.and_then(|view| view.shipment.draft.waste_codes.first().map(|code| code.code.clone()));
        let handed = HandedOver {
            shipment,
            document: "D-2026-0017".to_owned(),
            received_by: "driver Okoro".to_owned(),
            checked_by: "Ines Harrow".to_owned(),
            training: "dangerous goods, 3 March 2026".to_owned(),
            waste_code,
        };
        let signer = self.signer();
        let left = self.shop.hand_over(&signer, &self.rules, &handed);
        let accepted = left.is_ok();
        self.shipped(left, |life| life.tally.left += 1)?;
        if !accepted {
            return Ok(());
        }
        let kind = self.told.boxes.get(&one).copied();
        let mut count = 0;
        for (name, cell) in self.told.cells.iter_mut().filter(|(_, cell)| cell.lies == Lies::In(one)) {
            count += 1;
            cell.lies = Lies::Gone;
            match (kind, cell.held.first()) {
                (Some(BoxFor::Intact), Some(held)) => {
                    return Err(("no damaged cell leaves as an intact one", format!("{name}: {held:?}")));
                }
                (Some(BoxFor::Watch) | None, _) => {
                    return Err(("no cell under watch leaves", name.clone()));
                }
                _ => {}
            }
        }
        if count == 0 { Err(("what leaves holds cells", box_name(one))) } else { Ok(()) }
    }

    fn shipment(&self, one: u8) -> String {
        format!("S-{one}-{}", self.shipments.get(&one).copied().unwrap_or(0))
    }

    fn shipped(&mut self, done: Result<Entered, Fault>, then: impl FnOnce(&mut Self)) -> Came {
        match done {
            Ok(done) => {
                self.told.entries.push(done.entry.number);
                then(self);
                Ok(())
            }
            Err(fault) => self.refused(&fault),
        }
    }
}

/// A cell that is put into a box.
pub(crate) fn placed(cell: &str, one: u8) -> CellPlaced {
    CellPlaced {
        cell: cell.to_owned(),
        container: box_name(one),
        inner: Some(format!("bag {cell}")),
        weighed: Some(Milligrams(61_500)),
    }
}

fn place() -> celltriage_rules::PlaceCode {
    "DE".parse().unwrap_or_else(|_| unreachable!("a place code"))
}
