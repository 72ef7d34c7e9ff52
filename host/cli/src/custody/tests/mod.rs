//! Checks of custody as a whole: a small world in which events are tried, and what must hold in it.

mod dates;
mod ledger;
mod mixing;
mod papers;
mod properties;
mod refusals;
mod shipping;
mod watch;
mod wrong_clock;

use crate::custody::check::{Circumstances, check};
use crate::custody::checklist::{Answers, Criterion};
use crate::custody::draft::{self, Request};
use crate::custody::event::*;
use crate::custody::facts::Facts;
use crate::custody::local_rules::PackRules;
use crate::custody::refusal::Refusal;
use crate::custody::state::State;
use crate::custody::units::{Milligrams, MilliwattHours};
use celltriage_measure::nameplate::Chemistry;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_rules::Packs;
use celltriage_verdict::{CellState, Fate};
use jiff::civil::{Date, date};

/// The day on which everything happens unless told otherwise.
const TODAY: Date = date(2026, 11, 25);

/// A book held in memory: what was written, and the state after it.
struct World {
    state: State,
    rules: PackRules,
    today: Date,
    log: Vec<Written>,
}

/// What stands in the log.
#[derive(Clone, Debug)]
enum Written {
    Assessed(u32, String, Facts),
    Event(u32, Signed),
}

impl World {
    fn new() -> Self {
        let rules = PackRules::new(Packs::built_in().unwrap());
        Self { state: State::default(), rules, today: TODAY, log: Vec::new() }
    }

    fn next(&self) -> u32 {
        u32::try_from(self.log.len()).unwrap() + 1
    }

    fn circumstances(&self) -> Circumstances<'_> {
        Circumstances { today: self.today, rules: &self.rules }
    }

    fn assess(&mut self, cell: &str, fate: Fate, condition: CellState) {
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

    fn try_on(&mut self, on: Date, event: Event) -> Result<(), Refusal> {
        let signed = Signed { schema: SCHEMA, by: "Ines Harrow".to_owned(), on, event };
        check(&self.state, &signed, &self.circumstances())?;
        let number = self.next();
        self.state.apply(number, &signed);
        self.log.push(Written::Event(number, signed));
        Ok(())
    }

    fn attempt(&mut self, event: Event) -> Result<(), Refusal> {
        self.try_on(self.today, event)
    }

    fn must(&mut self, event: Event) {
        self.attempt(event).unwrap();
    }

    fn open(&mut self, container: &str, kind: ContainerKind, place: &str) {
        self.must(opened(container, kind, place));
    }

    /// A cell of the workshop, assessed and judged intact waste.
    fn intact(&mut self, cell: &str) {
        self.assess(cell, Fate::Recycle, CellState::Intact);
        let judged = self.judgement(cell, LegalState::IntactWaste);
        self.must(judged);
    }

    /// A cell of the workshop, assessed and judged damaged.
    fn damaged(&mut self, cell: &str) {
        self.assess(cell, Fate::Quarantine, CellState::DamagedOrDefective);
        let judged = self.judgement(cell, LegalState::DamagedOrDefective);
        self.must(judged);
    }

    /// A judgement of the latest assessment, with a reason, and with answers that fit the state.
    fn judgement(&self, cell: &str, state: LegalState) -> Event {
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

    fn request(&self, shipment: &str, container: &str) -> Request {
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

    fn draft(&mut self, request: &Request) -> Result<(), Refusal> {
        let draft = draft::build(&self.state, request, &self.circumstances())?;
        self.attempt(Event::ShipmentDrafted(Box::new(draft)))
    }

    fn hand_over(&mut self, shipment: &str, waste_code: Option<&str>) -> Result<(), Refusal> {
        self.attempt(handed_over(shipment, waste_code))
    }
}

fn answers_for(state: LegalState) -> Answers {
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

fn opened(container: &str, kind: ContainerKind, place: &str) -> Event {
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

fn placed(container: &str, cell: &str, inner: Option<&str>) -> Event {
    Event::CellPlaced(CellPlaced {
        cell: cell.to_owned(),
        container: container.to_owned(),
        inner: inner.map(str::to_owned),
        weighed: None,
    })
}

fn taken_out(cell: &str) -> Event {
    Event::CellTakenOut(CellTakenOut { cell: cell.to_owned(), because: "wrong box".to_owned() })
}

fn hold(cell: &str, until: Date) -> Event {
    Event::Hold(Hold {
        cell: cell.to_owned(),
        because: "warm in the drawer".to_owned(),
        stands: "sand box, yard".to_owned(),
        until,
        every_days: 1,
    })
}

fn inspection(cell: &str, look: Look, temperature_c: Option<f64>) -> Event {
    Event::Inspection(Inspection {
        cell: cell.to_owned(),
        temperature_c,
        air_c: Some(18.0),
        look,
        note: None,
    })
}

fn release(cell: &str) -> Event {
    Event::Release(Release { cell: cell.to_owned(), because: "cold for four weeks".to_owned() })
}

fn escalation(cell: &str) -> Event {
    Event::Escalation(Escalation { cell: cell.to_owned(), because: "hisses".to_owned() })
}

fn agreed(shipment: &str) -> Event {
    Event::ReceiverAgreed(ReceiverAgreed { shipment: shipment.to_owned(), reference: "letter 17".to_owned() })
}

fn withdrawn(shipment: &str) -> Event {
    Event::ShipmentWithdrawn(ShipmentWithdrawn {
        shipment: shipment.to_owned(),
        because: "lorry broke down".to_owned(),
    })
}

fn handed_over(shipment: &str, waste_code: Option<&str>) -> Event {
    Event::HandedOver(HandedOver {
        shipment: shipment.to_owned(),
        document: "D-2026-0017".to_owned(),
        received_by: "driver Okoro".to_owned(),
        checked_by: "Ines Harrow".to_owned(),
        training: "dangerous goods, 3 March 2026".to_owned(),
        waste_code: waste_code.map(str::to_owned),
    })
}
