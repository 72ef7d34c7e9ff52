//! The boxes of the shop: cells are judged and placed, a full box is drafted, agreed and later handed over.

use crate::pen::Pen;
use crate::templates::QUALIFIED;
use celltriage_custody::event::{
    CellPlaced, CellWeighed, ContainerOpened, Event, HandedOver, Judgement, ReceiverAgreed, ShipmentDrafted,
    Signed,
};
use celltriage_custody::units::Milligrams;
use std::collections::VecDeque;

/// Full boxes that wait for their receiver: with the one that is being filled some hundred cells.
const WAITING: usize = 2;

/// A row of boxes of one kind.
pub struct Boxes {
    prefix: &'static str,
    with_inner: bool,
    templates: Vec<Signed>,
    opened: u32,
    filling: Vec<(String, u32)>,
    waiting: VecDeque<String>,
}

impl Boxes {
    pub fn new(prefix: &'static str, with_inner: bool, templates: Vec<Signed>) -> Self {
        let (filling, waiting) = (Vec::new(), VecDeque::new());
        Self { prefix, with_inner, templates, opened: 0, filling, waiting }
    }

    fn name(&self) -> String {
        format!("{}-{}", self.prefix, self.opened)
    }

    /// Boxes hold 40 to 60 cells.
    const fn room(&self) -> usize {
        40 + (self.opened as usize * 7) % 21
    }

    /// Takes in a cell that was just assessed.
    pub fn take(&mut self, cell: &str, assessment: u32, weigh: bool, pen: &mut Pen) {
        let judgement = Judgement { cell: cell.to_owned(), assessment, ..self.judgement() };
        let judged = pen.event(Event::Judgement(Judgement { decided_on: Some(pen.day()), ..judgement }));
        if self.filling.is_empty() {
            self.opened += 1;
            let opened = ContainerOpened { container: self.name(), ..self.opening() };
            pen.event(Event::ContainerOpened(opened));
        }
        let inner = self.with_inner.then(|| format!("bag {}", self.filling.len() + 1));
        let mass = Milligrams(60_000 + u64::from(assessment % 20_000));
        let weighed = Some(mass).filter(|_| !weigh);
        let container = self.name();
        pen.event(Event::CellPlaced(CellPlaced { cell: cell.to_owned(), container, inner, weighed }));
        if weigh {
            pen.event(Event::CellWeighed(CellWeighed { cell: cell.to_owned(), mass }));
        }
        self.filling.push((cell.to_owned(), judged));
        if self.filling.len() >= self.room() {
            self.draft(pen);
        }
    }

    /// Drafts the papers of the full box, and hands over the one that waits longest.
    fn draft(&mut self, pen: &mut Pen) {
        let (shipment, container) = (format!("S-{}", self.name()), self.name());
        let mut draft = self.drafted();
        let item = draft.contents.first().cloned().expect("a drafted cell");
        let items = self.filling.drain(..).enumerate().map(|(index, (cell, judgement))| {
            let mut item = item.clone();
            item.inner = item.inner.map(|_| format!("bag {}", index + 1));
            item.decided_on = Some(pen.day());
            (item.cell, item.judgement) = (cell, judgement);
            item
        });
        draft.contents = items.collect();
        draft.planned_on = pen.day();
        (draft.shipment, draft.container) = (shipment.clone(), container);
        pen.event(Event::ShipmentDrafted(Box::new(draft)));
        pen.event(Event::ReceiverAgreed(ReceiverAgreed { shipment: shipment.clone(), ..self.agreed() }));
        self.waiting.push_back(shipment);
        if self.waiting.len() > WAITING
            && let Some(shipment) = self.waiting.pop_front()
        {
            pen.event(Event::HandedOver(HandedOver { shipment, ..self.handed() }));
        }
    }

    fn find<T>(&self, pick: impl Fn(&Event) -> Option<T>) -> T {
        self.templates.iter().find_map(|signed| pick(&signed.event)).expect("an event of each sort")
    }

    fn judgement(&self) -> Judgement {
        let mut judgement = self.find(|event| match event {
            Event::Judgement(judgement) => Some(judgement.clone()),
            _ => None,
        });
        judgement.qualification = QUALIFIED.to_owned();
        judgement
    }

    fn opening(&self) -> ContainerOpened {
        self.find(|event| match event {
            Event::ContainerOpened(opened) => Some(opened.clone()),
            _ => None,
        })
    }

    fn drafted(&self) -> ShipmentDrafted {
        self.find(|event| match event {
            Event::ShipmentDrafted(draft) => Some(draft.as_ref().clone()),
            _ => None,
        })
    }

    fn agreed(&self) -> ReceiverAgreed {
        self.find(|event| match event {
            Event::ReceiverAgreed(agreed) => Some(agreed.clone()),
            _ => None,
        })
    }

    fn handed(&self) -> HandedOver {
        self.find(|event| match event {
            Event::HandedOver(handed) => Some(handed.clone()),
            _ => None,
        })
    }
}
