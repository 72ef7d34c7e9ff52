//! The present state of cells, containers and shipments, folded from the book's events and from nothing else.
//!
//! Takes assessments and events in the order of the book; gives a [`State`]. Folding never refuses: what was written
//! stands. What may be written is decided before, in [`check`](super::check).

pub use crate::container::Container;
pub use crate::irregular_state::{Irregular, Remedied};
pub use crate::shipment::{Progress, Shipment};
pub use crate::struck::Struck;

use crate::book_time::BookTime;
use crate::cell::{Cell, Judged, Watch, Whereabouts};
use crate::event::*;
use crate::facts::Facts;
use crate::units::{Milligrams, MilliwattHours};
use crate::watch_end::WatchEnd;
use crate::{known, simulated};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::Entry;
use celltriage_instrument::hot_cell::record::{ALARM, WATCH, WatchRecord};
use celltriage_rules::{LegalState, PlaceCode};
use celltriage_verdict::{Fate, Told};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Everything that custody knows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct State {
    /// All cells, and things with cells in them, that were ever assessed or received, by name.
    pub cells: BTreeMap<String, Cell>,
    /// All containers, by name.
    pub containers: BTreeMap<String, Container>,
    /// All shipments, by name.
    pub shipments: BTreeMap<String, Shipment>,
    /// What may be corrected, as far as it was asked for: entry to its kind and subject.
    pub entries: BTreeMap<u32, (String, String)>,
    /// Entries that no longer count.
    pub struck: BTreeMap<u32, Struck>,
    /// The last entry of the book that was taken in.
    pub read_to: u32,
    /// The times of all entries that were taken in, of whatever kind.
    pub time: BookTime,
    /// Cells under watch.
    pub watched: BTreeSet<String>,
    /// What happened against the rules, by entry.
    pub irregularities: BTreeMap<u32, Irregular>,
    /// Places at which a container was ever opened.
    pub places: BTreeSet<PlaceCode>,
}

/// What is kept of the state beside its cells, containers and shipments.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(crate) struct Whole {
    pub(crate) time: BookTime,
    pub(crate) places: BTreeSet<PlaceCode>,
}

impl State {
    /// Takes in the time of the next entry, of whatever kind, before what it says.
    pub fn pass_to(&mut self, at: Timestamp) {
        let Some(step) = self.time.pass(at) else { return };
        for name in &self.watched {
            let Some(watch) = self.cells.get_mut(name).and_then(|cell| cell.watch.as_mut()) else { continue };
            watch.ends.pass_to(step.to_ms);
            watch.critical_ends.iter_mut().for_each(|ends| ends.pass_to(step.to_ms));
            if let Some(day) = step.set_back_to() {
                // What was seen before this entry was not seen on a day after it.
                watch.inspections.iter_mut().for_each(|(_, seen, _)| *seen = day.min(*seen));
            }
        }
    }

    /// Takes in an assessment.
    pub fn assessed(&mut self, number: u32, cell: &str, facts: Facts) {
        self.entries.insert(number, (ASSESSMENT.to_owned(), cell.to_owned()));
        let time = self.time;
        let cell = self.cells.entry(cell.to_owned()).or_default();
        // The decision to recycle is a decision to discard, where it is the shop's to make; quarantine alone is not one.
        if facts.fate == Fate::Recycle && !cell.whereabouts.is_gone() && cell.lacks_consent().is_none() {
            cell.discards.push((number, facts.on));
        }
        // A new measurement does not make a critical cell milder; a person does.
        cell.escalated |= cell.legal() == LegalState::Critical;
        cell.end(number, |found| facts.ends(found));
        facts.found.iter().for_each(|found| cell.finds(found.clone(), time));
        cell.origins.extend(facts.simulated.map(|simulated| (number, simulated)));
        cell.is_screened_by(&facts);
        // What is measured on a fixture is a cell, whatever device was weighed.
        if cell.is_device() {
            cell.weighed = None;
        }
        cell.facts = Some(facts);
        self.read_to = self.read_to.max(number);
    }

    /// Takes in an entry of the hot-cell watch; an alarm that the cell reacts makes it critical, one that it is warm ends an
    /// earlier judgement.
    pub fn hot_cell(&mut self, entry: &Entry) {
        let simulated = simulated::of_entry(entry);
        let told = if entry.kind == ALARM { known::alarm_in(entry) } else { None };
        let alarm = if entry.kind == ALARM { known::of_alarm(entry, told) } else { None };
        let watch = Some(entry).filter(|entry| entry.kind == WATCH);
        let watch = watch.and_then(|entry| serde_json::from_value::<WatchRecord>(entry.inputs.clone()).ok());
        self.entries.insert(entry.number, (entry.kind.clone(), entry.subject.name.clone()));
        let time = self.time;
        let cell = self.cell(&entry.subject.name);
        match &alarm {
            Some(alarm) if alarm.is_acute() => cell.escalated = true,
            Some(_) => {
                // A cell found critical stays so until it is judged again.
                cell.escalated |= cell.legal() == LegalState::Critical;
                cell.judgement = None;
            }
            None => {}
        }
        if let Some(alarm) = alarm {
            cell.grounds.alarmed(entry.number, told.map_or(f64::INFINITY, |told| told.at_s));
            cell.finds(alarm, time);
        }
        watch.iter().for_each(|watch| cell.grounds.watched(entry.number, watch));
        cell.origins.extend(simulated.map(|simulated| (entry.number, simulated)));
    }

    /// Takes in an event.
    pub fn apply(&mut self, number: u32, signed: &Signed) {
        self.read_to = self.read_to.max(number);
        let event = &signed.event;
        self.entries.insert(number, (event.kind().to_owned(), event.subject().to_owned()));
        let on = signed.on;
        for mut found in known::of_event(number, signed) {
            // A danger said to be an old one counts from the day on which it was written down: nobody can vouch for more.
            let time = self.time;
            found.on = time.day_of_last().map_or(found.on, |written| found.on.max(written));
            self.cell(event.subject()).finds(found, time);
        }
        match event {
            Event::Judgement(judgement) => {
                let cell = self.cell(&judgement.cell);
                cell.found.retain(|found| found.told != Told::Unjudged);
                if judgement.state < LegalState::Critical {
                    let acute = cell.found.iter_mut().filter(|found| found.is_acute());
                    acute.for_each(|found| found.settled_by = Some(number));
                }
                match judgement.decided_on {
                    Some(day) => cell.discards.push((number, day)),
                    None if judgement.state == LegalState::NotWaste => cell.discards.clear(),
                    None => {}
                }
                cell.escalated = false;
                cell.judgement =
                    Some(Judged { entry: number, by: signed.by.clone(), on, judgement: judgement.clone() });
            }
            Event::ContainerOpened(opened) => {
                self.places.insert(opened.place.clone());
                let container = Container::of(opened.clone(), on);
                self.containers.entry(opened.container.clone()).or_insert(container);
            }
            Event::CellPlaced(placed) => {
                if let Some(mass) = placed.weighed {
                    self.cell(&placed.cell).weighed = Some((number, mass));
                }
                self.is_put_into(number, &placed.cell, &placed.container, placed.inner.clone(), on);
            }
            Event::CellTakenOut(taken) => self.cell(&taken.cell).whereabouts = Whereabouts::Loose,
            Event::CellWeighed(weighed) => self.cell(&weighed.cell).weighed = Some((number, weighed.mass)),
            Event::Hold(hold) => {
                let time = self.time;
                let ends = WatchEnd::of(hold, on, time);
                let cell = self.cell(&hold.cell);
                // A suspicion ends an earlier judgement; a cell found critical stays so until it is judged again.
                cell.escalated |= cell.legal() == LegalState::Critical;
                cell.judgement = None;
                cell.found.retain(|found| found.told != Told::Hold || found.entry == number);
                let (held, hold, inspections) = (hold.cell.clone(), hold.clone(), Vec::new());
                cell.watch = Some(Watch { since: on, ends, critical_ends: None, hold, inspections });
                cell.count_critical_days(on, time);
                self.watch_what_is_here(&held);
            }
            Event::Inspection(inspection) => {
                let cell = self.cell(&inspection.cell);
                cell.escalated |= inspection.look == Look::Active;
                if let Some(watch) = &mut cell.watch {
                    watch.inspections.push((number, on, inspection.clone()));
                }
            }
            Event::Release(release) => {
                self.watched.remove(&release.cell);
                let cell = self.cell(&release.cell);
                cell.found.retain(|found| found.told != Told::Hold);
                cell.watch = None;
            }
            Event::Escalation(escalation) => self.cell(&escalation.cell).escalated = true,
            Event::TemperatureLook(look) => self.cell(&look.cell).grounds.looked(number, look),
            Event::FindingReleased(released) => {
                let cell = self.cell(&released.cell);
                let grounds = cell.grounds.clone();
                cell.end(number, |found| found.entry == released.entry && grounds.may_end(found).is_ok());
            }
            Event::ShipmentDrafted(draft) => {
                for name in draft.containers() {
                    if let Some(container) = self.containers.get_mut(name) {
                        container.drafted_for = Some(draft.shipment.clone());
                    }
                }
                let shipment = Shipment::of(draft.as_ref().clone(), on, signed.by.clone());
                self.shipments.insert(draft.shipment.clone(), shipment);
            }
            Event::ShipmentWithdrawn(withdrawn) => {
                if let Some(shipment) = self.shipments.get_mut(&withdrawn.shipment) {
                    shipment.progress = Progress::Withdrawn;
                    for name in shipment.draft.containers() {
                        if let Some(container) = self.containers.get_mut(name) {
                            container.drafted_for = None;
                        }
                    }
                }
            }
            Event::ReceiverAgreed(agreed) => {
                if let Some(shipment) = self.shipments.get_mut(&agreed.shipment) {
                    shipment.agreed = Some((on, agreed.reference.clone()));
                }
            }
            Event::HandedOver(handed) => self.hand_over(handed, on),
            Event::ShipmentFollowedUp(after) => {
                if let Some(shipment) = self.shipments.get_mut(&after.shipment) {
                    shipment.is_followed_by(number, on, &after.follow_up);
                }
            }
            Event::CellLeft(left) => self.cell_leaves(left, on),
            Event::ContainerLeft(left) => self.container_leaves(left, on),
            Event::CellReturned(back) => self.cell_returns(number, back, on),
            Event::ContainerReturned(back) => self.container_returns(number, back, on),
            Event::UsedRecord(record) => self.cell(&record.cell).used_records.push(number),
            Event::LifetimeRecord(record) => self.cell(&record.cell).life_is_recorded(number, on, record),
            Event::Fitted(fitted) => self.cell(&fitted.cell).is_fitted(number, on, fitted),
            Event::TakenOutOfDevice(taken) => self.cell(&taken.cell).is_taken_out_of_device(number, on),
            Event::Incident(incident) => self.cell(&incident.cell).has_incident(number, on, incident),
            Event::LabelPutOn(put_on) => self.cell(&put_on.cell).label = Some((number, on, put_on.says)),
            Event::ContainerMoved(moved) => self.container_moves(moved),
            Event::ContainerRepacked(repacked) => self.container_is_repacked(number, repacked, on),
            Event::Received(told) => self.receives(number, on, told),
            Event::Irregularity(told) => self.is_irregular(number, signed, told),
            Event::Remedy(remedy) => self.is_remedied(number, signed, remedy),
            Event::Correction(correction) if correction.strike => self.strike(number, signed, correction),
            Event::Correction(_) => {}
        }
    }

    pub(crate) fn cell(&mut self, name: &str) -> &mut Cell {
        self.cells.entry(name.to_owned()).or_default()
    }

    fn hand_over(&mut self, handed: &HandedOver, on: Date) {
        let Some(shipment) = self.shipments.get_mut(&handed.shipment) else { return };
        shipment.progress = Progress::HandedOver { on };
        shipment.handed_over = Some(handed.clone());
        for name in shipment.draft.containers() {
            if let Some(container) = self.containers.get_mut(name) {
                container.left_with = Some(handed.shipment.clone());
                container.drafted_for = None;
            }
        }
        for item in &shipment.draft.contents {
            let cell = self.cells.entry(item.cell.clone()).or_default();
            // Nobody looks at it here any more.
            self.watched.remove(&item.cell);
            cell.whereabouts = Whereabouts::HandedOver { shipment: handed.shipment.clone(), on };
        }
    }

    /// Makes an entry no longer count. What is left is never milder than before: a struck judgement leaves the cell
    /// unjudged, whatever was judged earlier, a struck decision leaves it undecided, and a cell that was critical stays so
    /// until it is judged again. Only what the entry found counts no more.
    fn strike(&mut self, number: u32, signed: &Signed, correction: &Correction) {
        let struck = correction.entry;
        let how = Struck {
            subject: correction.subject.clone(),
            entry: number,
            by: signed.by.clone(),
            on: signed.on,
            because: correction.because.clone(),
        };
        self.struck.insert(struck, how);
        let Some(cell) = self.cells.get_mut(&correction.subject) else { return };
        cell.escalated |= cell.legal() == LegalState::Critical;
        cell.found.retain(|found| found.entry != struck);
        cell.forget(struck);
        for found in cell.found.iter_mut().filter(|found| found.settled_by == Some(struck)) {
            found.settled_by = None;
            cell.escalated = true;
        }
        if cell.escalated && cell.acute().is_none() {
            cell.found.retain(|found| found.told != Told::Unjudged);
            cell.found.push(known::unjudged(number, signed, struck));
        }
        cell.origins.retain(|(entry, _)| *entry != struck);
        cell.discards.retain(|(entry, _)| *entry != struck);
        let about = |judged: &Judged| judged.entry == struck || judged.judgement.assessment == struck;
        if cell.judgement.as_ref().is_some_and(about) {
            cell.judgement = None;
        }
        cell.facts =
            cell.facts.take().map(|facts| if facts.assessment == struck { facts.struck() } else { facts });
        if cell.weighed.is_some_and(|(entry, _)| entry == struck) {
            cell.weighed = None;
        }
        if cell.label.is_some_and(|(entry, ..)| entry == struck) {
            cell.label = None;
        }
        if correction.of == "hold" && cell.found.iter().all(|found| found.told != Told::Hold) {
            cell.watch = None;
            self.watched.remove(&correction.subject);
        }
        if let Some(watch) = &mut cell.watch {
            watch.inspections.retain(|(entry, _, _)| *entry != struck);
        }
        cell.forget_receipt(struck);
        cell.used_records.retain(|entry| *entry != struck);
        cell.lives.retain(|(entry, _, _)| *entry != struck);
        let before_fitting = cell.fitting.iter_mut().filter_map(|(_, before)| before.as_mut());
        for screening in cell.screening.iter_mut().chain(before_fitting) {
            screening.done_by = screening.done_by.filter(|entry| *entry != struck);
        }
        cell.was_not_fitted(struck);
    }

    /// Returns the cells in a container, by name.
    pub fn cells_in<'a>(&'a self, container: &'a str) -> impl Iterator<Item = (&'a String, &'a Cell)> {
        self.cells.iter().filter(move |(_, cell)| cell.container() == Some(container))
    }

    /// Returns the first simulated cell of a draft.
    pub fn simulated_in<'a>(&self, draft: &'a ShipmentDrafted) -> Option<&'a str> {
        let simulated = |cell: &str| self.cells.get(cell).is_some_and(Cell::is_simulated);
        draft.contents.iter().map(|item| item.cell.as_str()).find(|cell| simulated(cell))
    }

    /// Returns whether a container holds simulated cells.
    pub fn holds_simulated(&self, container: &str) -> bool {
        self.cells_in(container).any(|(_, cell)| cell.is_simulated())
    }

    /// Returns the mass of all cells in a container.
    pub fn mass_in(&self, container: &str) -> Milligrams {
        self.cells_in(container).map(|(_, cell)| cell.mass()).sum()
    }

    /// Returns the energy of all cells in a container.
    pub fn energy_in(&self, container: &str) -> MilliwattHours {
        self.cells_in(container).map(|(_, cell)| cell.energy()).sum()
    }
}
