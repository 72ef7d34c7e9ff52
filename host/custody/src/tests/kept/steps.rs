//! What is tried on a book whose kept state is compared with all its entries, and the bench that does it.

use super::super::*;
use crate::kept_state::{FOLD, Scope};
use crate::ledger::{Ledger, Signature};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_assessment::test_support::example;
use celltriage_book::Book;
use celltriage_instrument::hot_cell::alarm::{Cause, Level};
use celltriage_measure::observation::Sign;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use std::collections::BTreeMap;

const CELLS: [&str; 5] = ["PE-1", "PE-2", "PE-3", "pe 1", "BOX"];
const BOXES: [&str; 3] = ["BOX", "DD", "Q"];

/// What is tried; much of it is refused.
#[derive(Clone, Debug)]
pub(super) enum Try {
    Assess(usize, Fate, CellState),
    /// An alarm of the hot-cell watch, also one of an earlier program.
    Alarm(usize, Cause, Option<Level>),
    Judge(usize, LegalState),
    Place(usize, usize),
    TakeOut(usize),
    Hold(usize),
    Look(usize, Look),
    Release(usize),
    Escalate(usize),
    Fit(usize, bool),
    OutOfDevice(usize),
    Incident(usize, LifeEvent),
    Lifetime(usize, u32),
    Draft(usize),
    Agree,
    Withdraw,
    HandOver,
    Leave(usize, WayOut),
    LeaveBox(usize, WayOut),
    Back(usize),
    BackBox(usize),
    /// A receipt, or with a cell the refusal of it.
    FollowUp(Option<usize>),
    /// A cell found where the rules do not want it.
    Found(usize, usize),
    /// The n-th irregularity is put right.
    PutRight(usize),
    Strike(u32),
    /// Received or added to: as what, with a sign that shows, and what its owner says.
    Receive(usize, Option<ReceivedAs>, Option<Sign>, Option<Consent>),
    /// All of one box into another, or one cell out of it.
    Repack(usize, usize),
    Empty(usize, usize),
    Move(usize, bool),
    /// Hours that pass, also backwards.
    Wait(i64),
    Keep,
    Forget,
    /// Somebody else writes from now on, until it is this one's turn again.
    Other,
}

fn happens() -> impl Strategy<Value = LifeEvent> {
    prop::sample::select(vec![
        LifeEvent::ShortCircuit,
        LifeEvent::Wetted,
        LifeEvent::Dropped,
        LifeEvent::Other,
    ])
}

pub(super) fn tried() -> impl Strategy<Value = Try> {
    let (cell, container) = (0..CELLS.len(), 0..BOXES.len());
    let (leaver, from) = (cell.clone(), container.clone());
    let way = prop::sample::select(&WayOut::ALL[..]);
    let found = (cell.clone(), container.clone());
    let fate = prop::sample::select(&Fate::ALL[..]);
    let condition = prop::sample::select(&CellState::ALL[..]);
    let usual = prop::sample::select(vec![
        LegalState::IntactWaste,
        LegalState::IntactWaste,
        LegalState::DamagedOrDefective,
        LegalState::NotWaste,
    ]);
    let cause = prop::sample::select(&Cause::ALL[..]);
    let level = prop::sample::select(vec![None, Some(Level::Warm), Some(Level::Reacting)]);
    let look = prop::sample::select(vec![Look::Unchanged, Look::Worse, Look::Active]);
    let (any_cell, boxes, thrown) = (cell.clone(), container.clone(), cell.clone());
    let is = prop::option::of(prop::sample::select(&ReceivedAs::ALL[..]));
    let sign = prop::sample::select(vec![None, None, Some(Sign::Swollen), Some(Sign::ActiveNow)]);
    let told = prop::option::of(prop::sample::select(&Consent::ALL[..]));
    prop_oneof![
        3 => (cell.clone(), fate, condition).prop_map(|(cell, fate, condition)| Try::Assess(cell, fate, condition)),
        2 => (cell.clone(), cause, level).prop_map(|(cell, cause, level)| Try::Alarm(cell, cause, level)),
        6 => (cell.clone(), usual).prop_map(|(cell, state)| Try::Judge(cell, state)),
        6 => (cell.clone(), container.clone()).prop_map(|(cell, container)| Try::Place(cell, container)),
        2 => cell.clone().prop_map(Try::TakeOut),
        2 => cell.clone().prop_map(Try::Hold),
        2 => (cell.clone(), look).prop_map(|(cell, look)| Try::Look(cell, look)),
        1 => cell.clone().prop_map(Try::Release),
        1 => cell.clone().prop_map(Try::Escalate),
        3 => (cell.clone(), any::<bool>()).prop_map(|(cell, stays)| Try::Fit(cell, stays)),
        2 => cell.clone().prop_map(Try::OutOfDevice),
        1 => (cell.clone(), happens()).prop_map(|(cell, what)| Try::Incident(cell, what)),
        1 => (cell, 0_u32..900).prop_map(|(cell, cycles)| Try::Lifetime(cell, cycles)),
        4 => container.prop_map(Try::Draft),
        3 => Just(Try::Agree),
        1 => Just(Try::Withdraw),
        3 => Just(Try::HandOver),
        2 => (leaver.clone(), way.clone()).prop_map(|(cell, how)| Try::Leave(cell, how)),
        1 => (from.clone(), way).prop_map(|(container, how)| Try::LeaveBox(container, how)),
        2 => leaver.clone().prop_map(Try::Back),
        2 => from.prop_map(Try::BackBox),
        2 => prop::option::of(leaver).prop_map(Try::FollowUp),
        3 => found.prop_map(|(cell, container)| Try::Found(cell, container)),
        2 => (0_usize..3).prop_map(Try::PutRight),
        4 => (any_cell, is, sign, told).prop_map(|(cell, is, sign, told)| Try::Receive(cell, is, sign, told)),
        2 => (boxes.clone(), boxes.clone()).prop_map(|(one, into)| Try::Repack(one, into)),
        1 => (boxes.clone(), thrown).prop_map(|(one, cell)| Try::Empty(one, cell)),
        1 => (boxes, any::<bool>()).prop_map(|(one, corrected)| Try::Move(one, corrected)),
        2 => (1_u32..40).prop_map(Try::Strike),
        2 => (-30_i64..900).prop_map(Try::Wait),
        2 => Just(Try::Keep),
        1 => Just(Try::Forget),
        3 => Just(Try::Other),
    ]
}

/// A book with the times at which it is written.
pub(super) struct Bench {
    pub(super) book: Book,
    /// Who writes now, and who wrote before: each holds what it was last checked against.
    ledgers: [Ledger; 2],
    rules: PackRules,
    pub(super) now: Timestamp,
    drafts: u32,
}

impl Bench {
    fn writes(&mut self, scope: &Scope<'_>, make: impl Fn(&World) -> Option<Event>) -> bool {
        // As in the shop: the day is that of the clock.
        let today = self.now.to_zoned_datetime(jiff::tz::TimeZone::UTC).date();
        let signature = Signature { by: "Ines Harrow".to_owned(), on: today, at: self.now };
        let circumstances = Circumstances { today, rules: &self.rules };
        let made = |state: &State| {
            let world = World { state: state.clone(), today, ..World::new() };
            make(&world).ok_or(Refusal::NoSuchEntry(0))
        };
        let done = self.ledgers[0].record(&mut self.book, &signature, &circumstances, scope, made);
        // What an event was checked against, whenever it was loaded, is what all entries say; every third, since that reads them all.
        let looked_at = done.as_ref().ok().filter(|(entry, _)| entry.number % 3 == 0);
        if let (Some((_, held)), Scope::Names(names)) = (looked_at, scope) {
            let all = Scope::All.read_afresh(&self.book).unwrap();
            for name in *names {
                assert_eq!(held.cells.get(*name), all.cells.get(*name));
                assert_eq!(held.containers.get(*name), all.containers.get(*name));
                assert_eq!(held.shipments.get(*name), all.shipments.get(*name));
                let inside = |state: &State| {
                    state.cells_in(name).map(|(cell, one)| (cell.clone(), one.clone())).collect::<Vec<_>>()
                };
                assert_eq!(inside(held), inside(&all), "in {name}");
            }
            assert_eq!((&held.time, &held.watched, held.read_to), (&all.time, &all.watched, all.read_to));
        }
        done.is_ok()
    }

    pub(super) fn does(&mut self, step: &Try) {
        let event = |bench: &mut Self, event: Event| {
            let names = event.names().into_iter().map(str::to_owned).collect::<Vec<_>>();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            bench.writes(&Scope::Names(&names), |_| Some(event.clone()))
        };
        let ship = format!("S{}", self.drafts);
        match step {
            Try::Assess(cell, fate, condition) => {
                let mut made = example(|subject| subject.nameplate.mass_g = Some(45.0));
                (made.verdict.fate, made.verdict.condition) = (*fate, *condition);
                let result = serde_json::to_value(&made).unwrap();
                let new = entry(ASSESSMENT, CELLS[*cell], result);
                self.book.append(celltriage_book::NewEntry { at: self.now, ..new }).unwrap();
            }
            Try::Alarm(cell, cause, level) => {
                self.book
                    .append(super::super::alarms::alarm(CELLS[*cell], *cause, *level, self.now))
                    .unwrap();
            }
            Try::Judge(cell, state) => {
                let name = CELLS[*cell];
                self.writes(&Scope::Names(&[name]), |world| {
                    world.state.cells.contains_key(name).then(|| world.judgement(name, *state))
                });
            }
            Try::Place(cell, container) => {
                event(self, placed(BOXES[*container], CELLS[*cell], Some(CELLS[*cell])));
            }
            Try::TakeOut(cell) => drop(event(self, taken_out(CELLS[*cell]))),
            Try::Hold(cell) => drop(event(self, hold(CELLS[*cell], date(2027, 6, 1)))),
            Try::Look(cell, look) => drop(event(self, inspection(CELLS[*cell], *look, Some(18.0)))),
            Try::Release(cell) => drop(event(self, release(CELLS[*cell]))),
            Try::Escalate(cell) => drop(event(self, escalation(CELLS[*cell]))),
            Try::Fit(cell, stays) => drop(event(self, fitted(CELLS[*cell], *stays))),
            Try::OutOfDevice(cell) => drop(event(self, out_of_device(CELLS[*cell]))),
            Try::Incident(cell, what) => drop(event(self, incident(CELLS[*cell], *what))),
            Try::Lifetime(cell, cycles) => drop(event(self, lifetime(CELLS[*cell], *cycles))),
            Try::Draft(container) => {
                let (ship, container) = (format!("S{}", self.drafts + 1), BOXES[*container]);
                let done = self.writes(&Scope::Names(&[container, &ship]), |world| {
                    let request = world.request(&ship, container);
                    let draft = draft::build(&world.state, &request, &world.circumstances()).ok()?;
                    Some(Event::ShipmentDrafted(Box::new(draft)))
                });
                self.drafts += u32::from(done);
            }
            Try::Agree => drop(event(self, agreed(&ship))),
            Try::Withdraw => drop(event(self, withdrawn(&ship))),
            Try::HandOver => drop(event(self, handed_over(&ship, None))),
            Try::Leave(cell, how) => {
                let name = CELLS[*cell];
                self.writes(&Scope::Names(&[name]), |world| Some(world.left(name, departure(*how))));
            }
            Try::LeaveBox(container, how) => {
                let name = BOXES[*container];
                self.writes(&Scope::Names(&[name]), |world| Some(world.box_left(name, departure(*how))));
            }
            Try::Back(cell) => drop(event(self, back(CELLS[*cell], WayBack::Found))),
            Try::BackBox(container) => {
                let name = BOXES[*container];
                self.writes(&Scope::Names(&[name]), |world| Some(world.box_back(name, WayBack::Carrier)));
            }
            Try::FollowUp(None) => {
                let (reference, net) = ("slip 9".to_owned(), Some(Milligrams::grams(44)));
                event(self, followed(&ship, FollowUp::Receipt { reference, net }));
            }
            Try::FollowUp(Some(cell)) => drop(event(self, refused(&ship, &[CELLS[*cell]]))),
            Try::Found(cell, container) => {
                let (cell, container) = (CELLS[*cell], BOXES[*container]);
                self.writes(&Scope::Names(&[cell, container]), |world| {
                    world.irregular(placed(container, cell, None), "set apart").ok()
                });
            }
            Try::PutRight(which) => {
                let all = Scope::All.read_afresh(&self.book).unwrap().irregularities;
                let Some(entry) = all.keys().nth(*which).copied() else { return };
                self.writes(&Scope::Entry(entry), |world| Some(remedy(world, entry, "moved")));
            }
            Try::Repack(one, into) => self.repacks(BOXES[*one], Some(BOXES[*into]), &[]),
            Try::Empty(one, cell) => self.repacks(BOXES[*one], None, &[CELLS[*cell]]),
            Try::Move(one, corrected) => {
                let (name, stands) = (BOXES[*one], format!("shelf {}", self.drafts));
                let place = if *corrected { "DE" } else { "US" }.parse().unwrap();
                let (container, because) = (name.to_owned(), "more room".to_owned());
                let moved = ContainerMoved { container, place, stands, corrected: *corrected, because };
                event(self, Event::ContainerMoved(moved));
            }
            Try::Receive(cell, is, sign, consent) => {
                let change = |told: &mut Received| {
                    told.consent = *consent;
                    told.whose = consent.map(|_| Whose::Bringer);
                    told.signs.extend(sign.map(|sign| (sign, Symptom::Yes)));
                };
                let name = CELLS[*cell];
                let made = match is {
                    Some(is) => received(name, *is, change),
                    None => added(name, change),
                };
                event(self, made);
            }
            Try::Strike(number) => {
                self.writes(&Scope::Entry(*number), |world| {
                    let (of, subject) = world.state.entries.get(number).cloned()?;
                    let because = "wrong tag".to_owned();
                    Some(Event::Correction(Correction { entry: *number, of, subject, because, strike: true }))
                });
            }
            Try::Wait(hours) => self.now += SignedDuration::from_hours(*hours),
            Try::Keep => State::keep_up(&mut self.book, &mut |_| {}).unwrap(),
            Try::Other => self.ledgers.swap(0, 1),
            Try::Forget => self.book.forget_kept(FOLD).unwrap(),
        }
    }

    fn repacks(&mut self, from: &str, into: Option<&str>, only: &[&str]) {
        let names: Vec<&str> = std::iter::once(from).chain(into).collect();
        let only: Vec<String> = only.iter().map(|name| (*name).to_owned()).collect();
        self.writes(&Scope::Names(&names), |world| {
            let cells = crate::repacking::repacked(&world.state, from, &only);
            Some(Event::ContainerRepacked(ContainerRepacked {
                container: from.to_owned(),
                into: into.map(str::to_owned),
                all: cells.len() == world.state.cells_in(from).count(),
                cells,
                because: "one is enough".to_owned(),
            }))
        });
    }

    /// Compares what is kept with what all entries say, as a whole and for each name.
    pub(super) fn compare(&self) -> Result<(), TestCaseError> {
        let folded = State { entries: BTreeMap::new(), ..Scope::All.read_afresh(&self.book).unwrap() };
        let kept = State { entries: BTreeMap::new(), ..State::read(&self.book).unwrap() };
        prop_assert_eq!(&kept, &folded);
        for name in CELLS.iter().chain(&BOXES) {
            let about = State::about(&self.book, &[name]).unwrap();
            prop_assert_eq!(about.cells.get(*name), folded.cells.get(*name));
            prop_assert_eq!(about.containers.get(*name), folded.containers.get(*name));
            let inside =
                |state: &State| state.cells_in(name).map(|(cell, _)| cell.clone()).collect::<Vec<_>>();
            prop_assert_eq!(inside(&about), inside(&folded), "in {}", name);
            prop_assert_eq!(&about.watched, &folded.watched);
            prop_assert_eq!(&about.time, &folded.time);
        }
        let same = crate::kept_state::kept_fits(&self.book, true, &mut |_| {}).unwrap();
        prop_assert!(same, "what is kept is what the entries say");
        let shop = Scope::Shop.read(&self.book).unwrap();
        let circumstances = Circumstances { today: TODAY, rules: &self.rules };
        prop_assert_eq!(crate::due::due(&shop, &circumstances), crate::due::due(&folded, &circumstances));
        for place in &folded.places {
            let site = |state: &State| crate::counters::of_site(state, place, &circumstances);
            prop_assert_eq!(site(&shop), site(&folded));
        }
        let all = Scope::AllContainers.read(&self.book).unwrap();
        prop_assert_eq!(&all.containers, &folded.containers);
        let all = Scope::AllShipments.read(&self.book).unwrap();
        prop_assert_eq!(&all.shipments, &folded.shipments);
        Ok(())
    }
}

pub(super) fn begun(folder: &tempfile::TempDir, most_behind: u32) -> Bench {
    let book = Book::open(folder.path().join("book.sqlite")).unwrap();
    let rules = PackRules::new(Packs::built_in().unwrap());
    let ledgers = [most_behind, most_behind + 2].map(Ledger::keeping_within);
    let mut bench = Bench { book, ledgers, rules, now: "2026-11-25T12:00:00Z".parse().unwrap(), drafts: 0 };
    for (name, kind) in
        BOXES.into_iter().zip([ContainerKind::Intact, ContainerKind::Damaged, ContainerKind::Quarantine])
    {
        assert!(bench.writes(&Scope::Names(&[name]), |_| Some(opened(name, kind, "US"))));
    }
    bench
}
