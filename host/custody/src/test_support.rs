//! A small world in which events are tried, and all refusals, for the tests of this crate and of those above.

#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

mod irregular;
mod leaving;
mod receiving;
mod refusals;

pub use irregular::remedy;
pub use leaving::{arrival, back, departure, followed, refused, untold};
pub use receiving::{added, consented, receipt, received, received_of_somebody};
pub use refusals::refusals;

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
use crate::used::{RecallCheck, UsedRecord};
use celltriage_book::{NewEntry, Subject};
use celltriage_measure::nameplate::Chemistry;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_rules::Packs;
use celltriage_verdict::{CellState, Fate, KnownFinding, KnownKind, LifeEvent, Source, Told};
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

    /// Folds the log again, as it would be read from a book.
    pub fn replayed(&self) -> State {
        let mut again = State::default();
        for written in &self.log {
            match written {
                Written::Assessed(number, cell, facts) => again.assessed(*number, cell, facts.clone()),
                Written::Event(number, signed) => {
                    let stored = serde_json::to_string(signed).unwrap();
                    again.apply(*number, &serde_json::from_str(&stored).unwrap());
                }
            }
        }
        again
    }

    pub fn circumstances(&self) -> Circumstances<'_> {
        Circumstances { today: self.today, rules: &self.rules }
    }

    pub fn assess(&mut self, cell: &str, fate: Fate, condition: CellState) {
        self.assess_with(cell, fate, condition, |_| {});
    }

    /// The same with something else in its facts.
    pub fn assess_with(
        &mut self,
        cell: &str,
        fate: Fate,
        condition: CellState,
        change: impl FnOnce(&mut Facts),
    ) {
        let number = self.next();
        let mut facts = Facts {
            assessment: number,
            on: self.today,
            fate,
            proposed: LegalState::of(fate, condition),
            energy: MilliwattHours(11_400),
            label_mass: Some(Milligrams(45_000)),
            chemistry: Some(Chemistry::Lco),
            simulated: Some(false),
            found: Vec::new(),
            finished: true,
            looked_whole: condition == CellState::Intact,
            second_visit: false,
            from_file: false,
            from_another_bench: false,
        };
        change(&mut facts);
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
            assessment: found.to_be_judged().map_or(0, |(entry, _)| entry),
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

    /// A test record of a cell as a used one.
    pub fn used(&self, cell: &str) -> Event {
        let assessment = self.state.cells[cell].facts.as_ref().map_or(0, |facts| facts.assessment);
        Event::UsedRecord(Box::new(UsedRecord {
            cell: cell.to_owned(),
            item: "cell of a school tablet".to_owned(),
            production_year: None,
            company: "Harrow Repairs".to_owned(),
            address: "2 Quay Street, Port Ellery".to_owned(),
            assessment,
            tested_on: self.today,
            results: Vec::new(),
            statement: "capacity counted".to_owned(),
            life: None,
            recall: RecallCheck { on: self.today, looked_in: "the maker's list".to_owned(), listed: false },
            contract: None,
        }))
    }

    pub fn request(&self, shipment: &str, container: &str) -> Request {
        Request {
            shipment: shipment.to_owned(),
            container: container.to_owned(),
            more: Vec::new(),
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

/// A look at a temperature in air of 18 degC, so many minutes after noon of the day.
pub fn temperature_look(cell: &str, minutes: i64, temperature_c: f64) -> Event {
    let noon: jiff::Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
    Event::TemperatureLook(TemperatureLook {
        cell: cell.to_owned(),
        at: noon + jiff::SignedDuration::from_mins(minutes),
        temperature_c,
        air_c: 18.0,
    })
}

pub fn finding_released(cell: &str, entry: u32) -> Event {
    Event::FindingReleased(FindingReleased { cell: cell.to_owned(), entry, because: "cold".to_owned() })
}

/// Something found by an entry, of a row of the table.
pub fn found(entry: u32, kind: KnownKind) -> KnownFinding {
    let told = if kind == KnownKind::Unjudged { Told::Unjudged } else { Told::Assessment };
    let critical = [KnownKind::Reacting, KnownKind::FoundCritical, KnownKind::Unjudged].contains(&kind);
    let condition = if critical { CellState::Critical } else { CellState::Unknown };
    KnownFinding {
        entry,
        on: TODAY,
        told,
        kind,
        what: kind.row().words.to_owned(),
        by: None,
        condition,
        hazard: None,
        settled_by: None,
        released_by: None,
    }
}

pub fn fitted(cell: &str, stays: bool) -> Event {
    let (device, job) = (None, Some("118".to_owned()));
    Event::Fitted(Fitted { cell: cell.to_owned(), device, job, stays, unproven: None })
}

pub fn out_of_device(cell: &str) -> Event {
    Event::TakenOutOfDevice(TakenOutOfDevice { cell: cell.to_owned(), because: None })
}

pub fn incident(cell: &str, happened: LifeEvent) -> Event {
    let note = (happened == LifeEvent::Other).then(|| "the device hummed".to_owned());
    Event::Incident(Incident { cell: cell.to_owned(), happened, note })
}

/// A record of a cell's life with what its device's gauge showed.
pub fn lifetime(cell: &str, cycles: u32) -> Event {
    let record = LifetimeRecord {
        device: Some("school tablet".to_owned()),
        job: Some("118".to_owned()),
        cycles: Some(cycles),
        ..LifetimeRecord::of(cell, Source::Gauge)
    };
    Event::LifetimeRecord(Box::new(record))
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

/// A new entry of a book, with nothing in it but what came out.
pub fn entry(kind: &str, cell: &str, result: serde_json::Value) -> NewEntry {
    let at = "2026-11-25T12:00:00Z".parse().unwrap();
    NewEntry { summary: "one".to_owned(), result, ..NewEntry::of(kind, Subject::cell(cell), at) }
}
