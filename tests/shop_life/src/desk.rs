//! Everything after the test: judged, boxed, watched, struck, sent.

use crate::cells::name;
use crate::life::{Came, Ears, Life};
use crate::step::{BoxFor, Judging, Seen, Step};
use crate::told::{Held, Lies};
use celltriage_book::Entry;
use celltriage_custody::checklist::Criterion;
use celltriage_custody::draft::Request;
use celltriage_custody::event::{
    CellPlaced, CellTakenOut, ContainerKind, ContainerOpened, Escalation, HandedOver, Inspection, Look, Mode,
    Purpose, ReceiverAgreed, Release, ShipmentWithdrawn,
};
use celltriage_custody::units::Milligrams;
use celltriage_custody::used::RecallCheck;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_workshop::corrections::NewCorrection;
use celltriage_workshop::judging::NewJudgement;
use celltriage_workshop::quarantine::NewWatch;
use celltriage_workshop::signer::Entered;
use celltriage_workshop::used_records::ForUse;
use celltriage_workshop::{Fault, Workshop};

impl Life<'_> {
    /// Plays a step at the desk.
    pub(crate) fn at_the_desk(&mut self, step: &Step) -> Came {
        match *step {
            Step::Judged(cell, how) => self.judged(&name(cell), how),
            Step::Opened(one, kind) => self.opened(one, kind),
            Step::Boxed(cell, one) => self.boxed(&name(cell), one),
            Step::TakenOut(cell) => self.taken_out(&name(cell)),
            Step::Watched(cell, days) => self.watched(&name(cell), days),
            Step::Seen(cell, seen) => self.seen(&name(cell), seen),
            Step::Released(cell) => self.released(&name(cell)),
            Step::Reacts(cell) => self.reacts(&name(cell)),
            Step::Drafted(one) => self.drafted(one),
            Step::Agreed(one) => self.agreed(one),
            Step::Leaves(one) => self.leaves(one),
            Step::Withdrawn(one) => self.withdrawn(one),
            Step::Recorded(cell) => self.recorded(&name(cell)),
            Step::Struck(cell, back) => self.struck(&name(cell), back),
            _ => Ok(()),
        }
    }

    /// Notes an event about a cell, or that it was refused.
    fn noted(
        &mut self,
        cell: &str,
        done: Result<Entry, Fault>,
    ) -> Result<Option<u32>, (&'static str, String)> {
        self.touched = Some(cell.to_owned());
        match done {
            Ok(entry) => {
                self.told.about(cell, entry.number);
                Ok(Some(entry.number))
            }
            Err(fault) => self.refused(&fault).map(|()| None),
        }
    }

    fn hold(&mut self, cell: &str, entry: u32, why: Held) {
        self.told.cells.entry(cell.to_owned()).or_default().held.push((entry, why));
    }

    fn judged(&mut self, cell: &str, how: Judging) -> Came {
        let to_judge = match self.shop.to_judge(cell) {
            Ok(to_judge) => to_judge,
            Err(fault) => return self.refused(&fault),
        };
        let state = match how {
            Judging::AsProposed => to_judge.cell.proposal().max(LegalState::IntactWaste),
            Judging::NotWaste => LegalState::NotWaste,
            Judging::Intact => LegalState::IntactWaste,
            Judging::Damaged => LegalState::DamagedOrDefective,
            Judging::Critical => LegalState::Critical,
        };
        let state = if state == LegalState::Unknown { LegalState::DamagedOrDefective } else { state };
        let mut answers = to_judge.recorded.clone();
        for criterion in Criterion::ALL {
            let answer = answers.entry(criterion).or_default();
            if *answer == Answer::NotObserved {
                *answer = Answer::No;
            }
        }
        let new = NewJudgement {
            cell: cell.to_owned(),
            assessment: to_judge.entry,
            state,
            answers,
            qualification: "battery technician".to_owned(),
            because: Some("looked at again".to_owned()),
            device: None,
            removed_on: None,
            photo: None,
            discarded_on: None,
            place: None,
        };
        let (signer, mut ears) = (self.signer(), Ears::default());
        let done = self.shop.judge(&signer, &self.rules, &new, &mut ears).map(|done| done.entry);
        if state == LegalState::Critical && !ears.emergency_first {
            return Err(("danger words first", format!("{cell} is judged critical")));
        }
        let Some(entry) = self.noted(cell, done)? else { return Ok(()) };
        if state == LegalState::NotWaste
            && let Some(held) = self.told.held(cell).first()
        {
            return Err(("no reuse while anything stands", format!("{cell} is judged not waste: {held:?}")));
        }
        if state >= LegalState::DamagedOrDefective {
            self.hold(cell, entry, Held::Judged);
        }
        Ok(())
    }

    fn opened(&mut self, one: u8, kind: BoxFor) -> Came {
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

    fn boxed(&mut self, cell: &str, one: u8) -> Came {
        let placed = CellPlaced {
            cell: cell.to_owned(),
            container: box_name(one),
            inner: Some(format!("bag {cell}")),
            weighed: Some(Milligrams(61_500)),
        };
        let signer = self.signer();
        let done = self.shop.place(&signer, &self.rules, placed).map(|done| done.entered.entry);
        if self.noted(cell, done)?.is_none() {
            return Ok(());
        }
        self.tally.boxed += 1;
        let kind = self.told.boxes.get(&one).copied();
        let held = self.told.held(cell).first().copied();
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        let before = std::mem::replace(&mut told.lies, Lies::In(one));
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

    fn taken_out(&mut self, cell: &str) -> Came {
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

    fn watched(&mut self, cell: &str, days: u8) -> Came {
        let until = self.shop.today().checked_add(jiff::Span::new().days(i64::from(days))).ok();
        let watch = NewWatch {
            cell: cell.to_owned(),
            because: "dropped".to_owned(),
            stands: "sand box, yard".to_owned(),
            until,
            every_days: 7,
        };
        let (signer, began) = (self.signer(), self.clock.true_time.get());
        let done = self.shop.hold(&signer, &self.rules, watch).map(|held| held.entered.entry);
        if let Some(entry) = self.noted(cell, done)? {
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            told.held.retain(|(_, why)| *why != Held::Watch);
            told.held.push((entry, Held::Watch));
            told.watch = Some((began, days));
        }
        Ok(())
    }

    fn seen(&mut self, cell: &str, seen: Seen) -> Came {
        let (look, temperature_c) = match seen {
            Seen::Cool => (Look::Unchanged, Some(18.4)),
            Seen::Warm => (Look::Unchanged, Some(24.0)),
            Seen::Unmeasured => (Look::Unchanged, None),
            Seen::Worse => (Look::Worse, Some(19.0)),
            Seen::Reacting => (Look::Active, None),
        };
        let inspection =
            Inspection { cell: cell.to_owned(), temperature_c, air_c: Some(18.0), look, note: None };
        let (signer, mut ears) = (self.signer(), Ears::default());
        let done = self.shop.inspect(&signer, &self.rules, &inspection, &mut ears).map(|done| done.entry);
        if seen == Seen::Reacting && !ears.emergency_first {
            return Err(("danger words first", format!("{cell} is seen reacting")));
        }
        if let (Some(entry), Look::Worse | Look::Active) = (self.noted(cell, done)?, look) {
            self.hold(cell, entry, Held::Seen);
        }
        Ok(())
    }

    fn released(&mut self, cell: &str) -> Came {
        let release = Release { cell: cell.to_owned(), because: "cool and as before".to_owned() };
        let signer = self.signer();
        let done = self.shop.release(&signer, &self.rules, release).map(|done| done.entry);
        if self.noted(cell, done)?.is_none() {
            return Ok(());
        }
        self.tally.released += 1;
        let now = self.clock.true_time.get();
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        told.held.retain(|(_, why)| *why != Held::Watch);
        let Some((began, days)) = told.watch.take() else {
            return Err(("only a watch can end", format!("{cell} was under none")));
        };
        // Days begin at midnight: the first and the last may be short.
        let least = i64::from(days).saturating_sub(1) * 24;
        let lasted = now.duration_since(began).as_hours();
        if lasted < least {
            return Err(("no watch ends early", format!("{cell}: {lasted} h of {days} days")));
        }
        Ok(())
    }

    fn reacts(&mut self, cell: &str) -> Came {
        let escalation = Escalation { cell: cell.to_owned(), because: "hisses".to_owned() };
        let (signer, mut ears) = (self.signer(), Ears::default());
        let done = self.shop.escalate(&signer, &self.rules, &escalation, &mut ears).map(|done| done.entry);
        if !ears.emergency_first {
            return Err(("danger words first", format!("{cell} reacts")));
        }
        if let Some(entry) = self.noted(cell, done)? {
            self.hold(cell, entry, Held::Seen);
        }
        Ok(())
    }

    fn drafted(&mut self, one: u8) -> Came {
        let number = self.shipments.get(&one).copied().unwrap_or(0) + 1;
        let request = Request {
            shipment: format!("S-{one}-{number}"),
            container: box_name(one),
            mode: Mode::Road,
            purpose: Purpose::Recycling,
            receiver: "Kessel Recycling".to_owned(),
            planned_on: self.shop.today(),
            gross: Milligrams(5_000_000),
        };
        let signer = self.signer();
        let done = self.shop.draft_shipment(&signer, &self.rules, &request);
        self.shipped(done, |life| {
            life.shipments.insert(one, number);
        })
    }

    fn agreed(&mut self, one: u8) -> Came {
        let agreed = ReceiverAgreed { shipment: self.shipment(one), reference: "letter 17".to_owned() };
        let signer = self.signer();
        let done = self.shop.receiver_agrees(&signer, &self.rules, agreed);
        self.shipped(done, |_| {})
    }

    fn withdrawn(&mut self, one: u8) -> Came {
        let withdrawn =
            ShipmentWithdrawn { shipment: self.shipment(one), because: "the lorry broke down".to_owned() };
        let signer = self.signer();
        let done = self.shop.withdraw(&signer, &self.rules, withdrawn);
        self.shipped(done, |_| {})
    }

    fn leaves(&mut self, one: u8) -> Came {
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

    fn recorded(&mut self, cell: &str) -> Came {
        let tested = match self.shop.tested(cell) {
            Ok(tested) => tested,
            Err(fault) => return self.refused(&fault),
        };
        let given = ForUse {
            item: "tablet cell".to_owned(),
            production_year: None,
            company: "Port Ellery Tablet Workshop".to_owned(),
            address: "1 Quay Lane, Port Ellery".to_owned(),
            recall: RecallCheck {
                on: self.shop.today(),
                looked_in: "the maker's list".to_owned(),
                listed: false,
            },
            contract: None,
        };
        let signer = self.signer();
        let done = self.shop.make_used_record(&signer, &self.rules, &tested, given);
        if self.noted(cell, done.map(|made| made.entered.entry))?.is_some() {
            self.tally.records += 1;
            if let Some(held) = self.told.held(cell).first() {
                return Err(("no reuse while anything stands", format!("record of {cell}: {held:?}")));
            }
        }
        Ok(())
    }

    fn struck(&mut self, cell: &str, back: u8) -> Came {
        let entries = self.told.cells.get(cell).map_or(&[][..], |told| &told.entries);
        let Some(entry) = entries.iter().rev().nth(usize::from(back)).copied() else { return Ok(()) };
        let new = NewCorrection { entry, because: "the wrong cell".to_owned(), strike: true };
        let signer = self.signer();
        let done = Workshop::correct(&mut self.shop, &signer, &self.rules, &new).map(|done| done.entry);
        if self.noted(cell, done)?.is_some() {
            self.tally.struck += 1;
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            if told.held.iter().any(|(held, why)| *held == entry && *why == Held::Watch) {
                told.watch = None;
            }
            told.held.retain(|(held, _)| *held != entry);
        }
        Ok(())
    }
}

fn box_name(one: u8) -> String {
    format!("B-{one}")
}

fn place() -> celltriage_rules::PlaceCode {
    "DE".parse().unwrap_or_else(|_| unreachable!("a place code"))
}
