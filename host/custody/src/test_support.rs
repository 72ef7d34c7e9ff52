//! A small world in which events are tried, and all refusals, for the tests of this crate and of those above.

#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

use crate::check::check;
use crate::checklist::{Answers, Criterion};
use crate::circumstances::Circumstances;
use crate::draft::{self, Request};
use crate::event::*;
use crate::facts::Facts;
use crate::local_rules::PackRules;
use crate::refusal::Refusal;
use crate::state::State;
use crate::units::{Milligrams, MilliwattHours};
use celltriage_book::{NewEntry, Subject};
use celltriage_measure::nameplate::Chemistry;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_rules::Packs;
use celltriage_verdict::{CellState, Fate};
use jiff::civil::{Date, date};

/// The day on which everything happens unless told otherwise.
pub const TODAY: Date = date(2026, 11, 25);

/// A book held in memory: what was written, and the state after it.
pub struct World {
    pub state: State,
    pub rules: PackRules,
    pub today: Date,
    pub log: Vec<Written>,
}

/// What stands in the log.
#[derive(Clone, Debug)]
pub enum Written {
    Assessed(u32, String, Facts),
    Event(u32, Signed),
}

impl Default for World {
    fn default() -> Self {
        let rules = PackRules::new(Packs::built_in().unwrap());
        Self { state: State::default(), rules, today: TODAY, log: Vec::new() }
    }
}

impl World {
    pub fn new() -> Self {
        Self::default()
    }

    pub fn next(&self) -> u32 {
        u32::try_from(self.log.len()).unwrap() + 1
    }

    pub fn circumstances(&self) -> Circumstances<'_> {
        Circumstances { today: self.today, rules: &self.rules }
    }

    pub fn assess(&mut self, cell: &str, fate: Fate, condition: CellState) {
        let number = self.next();
        let facts = Facts {
            assessment: number,
            on: self.today,
            fate,
            proposed: LegalState::of(fate, condition),
            energy: MilliwattHours(11_400),
            label_mass: Some(Milligrams(45_000)),
            chemistry: Some(Chemistry::Lco),
            simulated: Some(false),
            found: Vec::new(),
        };
        self.state.assessed(number, cell, facts.clone());
        self.log.push(Written::Assessed(number, cell.to_owned(), facts));
    }

    pub fn try_on(&mut self, on: Date, event: Event) -> Result<(), Refusal> {
        let signed = Signed { schema: SCHEMA, by: "Ines Harrow".to_owned(), on, event };
        check(&self.state, &signed, &self.circumstances())?;
        let number = self.next();
        self.state.apply(number, &signed);
        self.log.push(Written::Event(number, signed));
        Ok(())
    }

    pub fn attempt(&mut self, event: Event) -> Result<(), Refusal> {
        self.try_on(self.today, event)
    }

    pub fn must(&mut self, event: Event) {
        self.attempt(event).unwrap();
    }

    pub fn open(&mut self, container: &str, kind: ContainerKind, place: &str) {
        self.must(opened(container, kind, place));
    }

    /// A cell of the workshop, assessed and judged intact waste.
    pub fn intact(&mut self, cell: &str) {
        self.assess(cell, Fate::Recycle, CellState::Intact);
        let judged = self.judgement(cell, LegalState::IntactWaste);
        self.must(judged);
    }

    /// A cell of the workshop, assessed and judged damaged.
    pub fn damaged(&mut self, cell: &str) {
        self.assess(cell, Fate::Quarantine, CellState::DamagedOrDefective);
        let judged = self.judgement(cell, LegalState::DamagedOrDefective);
        self.must(judged);
    }

    /// A judgement of the latest assessment, with a reason, and with answers that fit the state.
    pub fn judgement(&self, cell: &str, state: LegalState) -> Event {
        let found = &self.state.cells[cell];
        Event::Judgement(Judgement {
            cell: cell.to_owned(),
            assessment: found.facts.as_ref().map_or(0, |facts| facts.assessment),
            proposed: found.proposal(),
            state,
            answers: answers_for(state),
            qualification: "battery technician, maker's criteria at hand".to_owned(),
            because: Some("looked at twice".to_owned()),
            decided_on: (state == LegalState::IntactWaste).then_some(self.today),
            device: None,
            removed_on: None,
            photo: None,
        })
    }

    pub fn request(&self, shipment: &str, container: &str) -> Request {
        Request {
            shipment: shipment.to_owned(),
            container: container.to_owned(),
            mode: Mode::Road,
            purpose: Purpose::Recycling,
            receiver: "Gull Point Recycling".to_owned(),
            planned_on: self.today,
            gross: Milligrams::kilograms(12),
        }
    }

    pub fn draft(&mut self, request: &Request) -> Result<(), Refusal> {
        let draft = draft::build(&self.state, request, &self.circumstances())?;
        self.attempt(Event::ShipmentDrafted(Box::new(draft)))
    }

    pub fn hand_over(&mut self, shipment: &str, waste_code: Option<&str>) -> Result<(), Refusal> {
        self.attempt(handed_over(shipment, waste_code))
    }
}

pub fn answers_for(state: LegalState) -> Answers {
    let mut answers: Answers = Criterion::ALL.into_iter().map(|criterion| (criterion, Answer::No)).collect();
    let bad = match state {
        LegalState::NotWaste | LegalState::IntactWaste => return answers,
        LegalState::Unknown | LegalState::DamagedOrDefective => Criterion::MechanicalDamage,
        LegalState::CasingBreached => Criterion::CasingOpen,
        LegalState::Critical => Criterion::AcuteHazard,
    };
    answers.insert(bad, Answer::Yes);
    answers
}

pub fn opened(container: &str, kind: ContainerKind, place: &str) -> Event {
    Event::ContainerOpened(ContainerOpened {
        container: container.to_owned(),
        kind,
        place: place.parse().unwrap(),
        stands: "yard, north wall".to_owned(),
        tare: None,
        most_cells: None,
        most_mass: None,
        most_energy: None,
        one_chemistry: false,
        volume: None,
    })
}

pub fn placed(container: &str, cell: &str, inner: Option<&str>) -> Event {
    Event::CellPlaced(CellPlaced {
        cell: cell.to_owned(),
        container: container.to_owned(),
        inner: inner.map(str::to_owned),
        weighed: None,
    })
}

pub fn taken_out(cell: &str) -> Event {
    Event::CellTakenOut(CellTakenOut { cell: cell.to_owned(), because: "wrong box".to_owned() })
}

pub fn hold(cell: &str, until: Date) -> Event {
    Event::Hold(Hold {
        cell: cell.to_owned(),
        because: "warm in the drawer".to_owned(),
        stands: "sand box, yard".to_owned(),
        until,
        every_days: 1,
    })
}

pub fn inspection(cell: &str, look: Look, temperature_c: Option<f64>) -> Event {
    Event::Inspection(Inspection {
        cell: cell.to_owned(),
        temperature_c,
        air_c: Some(18.0),
        look,
        note: None,
    })
}

pub fn release(cell: &str) -> Event {
    Event::Release(Release { cell: cell.to_owned(), because: "cold for four weeks".to_owned() })
}

pub fn escalation(cell: &str) -> Event {
    Event::Escalation(Escalation { cell: cell.to_owned(), because: "hisses".to_owned() })
}

pub fn agreed(shipment: &str) -> Event {
    Event::ReceiverAgreed(ReceiverAgreed { shipment: shipment.to_owned(), reference: "letter 17".to_owned() })
}

pub fn withdrawn(shipment: &str) -> Event {
    Event::ShipmentWithdrawn(ShipmentWithdrawn {
        shipment: shipment.to_owned(),
        because: "lorry broke down".to_owned(),
    })
}

pub fn handed_over(shipment: &str, waste_code: Option<&str>) -> Event {
    Event::HandedOver(HandedOver {
        shipment: shipment.to_owned(),
        document: "D-2026-0017".to_owned(),
        received_by: "driver Okoro".to_owned(),
        checked_by: "Ines Harrow".to_owned(),
        training: "dangerous goods, 3 March 2026".to_owned(),
        waste_code: waste_code.map(str::to_owned),
    })
}

/// One refusal of each kind.
pub fn refusals() -> Vec<Refusal> {
    let text = || "PE-1".to_owned();
    vec![
        Refusal::UnknownCell(text()),
        Refusal::UnknownContainer(text()),
        Refusal::UnknownShipment(text()),
        Refusal::NameTaken { name: text(), what: "cell" },
        Refusal::BadText("reason"),
        Refusal::BadNumber("3 kg is too much".to_owned()),
        Refusal::BadDay { day: TODAY, what: "later than today".to_owned() },
        Refusal::CellGone { cell: text(), shipment: text(), on: TODAY },
        Refusal::ContainerGone { container: text(), shipment: text() },
        Refusal::ContainerDrafted { container: text(), shipment: text() },
        Refusal::ElsewhereAlready { cell: text(), container: text() },
        Refusal::NotInContainer(text()),
        Refusal::ForReuse(text()),
        Refusal::WrongMix {
            cell: text(),
            state: LegalState::DamagedOrDefective,
            container: text(),
            takes: "intact waste cells",
        },
        Refusal::Critical(text()),
        Refusal::UnderWatch { cell: text(), since: TODAY, because: text() },
        Refusal::NotUnderWatch(text()),
        Refusal::NoInnerPacking(text()),
        Refusal::InnerPackingTaken { inner: text(), container: text(), holds: text() },
        Refusal::OtherChemistry { cell: text(), has: text(), container: text(), holds: text(), why: text() },
        Refusal::ContainerFull { container: text(), would: text(), limit: text() },
        Refusal::BadJudgement("it does not fit".to_owned()),
        Refusal::KnownBefore { cell: text(), found: text() },
        Refusal::StillCritical { cell: text(), found: text(), why: text() },
        Refusal::MixedWithSimulated { cell: text(), is: "real", container: text(), holds: text() },
        Refusal::Simulated { cell: text(), shipment: text() },
        Refusal::NotReleasable { cell: text(), why: text() },
        Refusal::Air(text()),
        Refusal::Empty(text()),
        Refusal::QuarantineIsNotSent(text()),
        Refusal::NotJudged(text()),
        Refusal::Forbidden { cell: text(), why: text() },
        Refusal::WrongStage { shipment: text(), is: text() },
        Refusal::NotAgreed(text()),
        Refusal::DraftOutdated { shipment: text(), what: text() },
        Refusal::WasteCode { given: text(), on: TODAY, valid: text() },
        Refusal::NoUsedRecord { cell: text(), why: text() },
        Refusal::Milder { state: LegalState::IntactWaste, proposed: LegalState::DamagedOrDefective },
        Refusal::NoSuchEntry(99),
        Refusal::NotCorrectable { entry: 1, why: text() },
    ]
}

/// A new entry of a book, with nothing in it but what came out.
pub fn entry(kind: &str, cell: &str, result: serde_json::Value) -> NewEntry {
    let at = "2026-11-25T12:00:00Z".parse().unwrap();
    NewEntry { summary: "one".to_owned(), result, ..NewEntry::of(kind, Subject::cell(cell), at) }
}
