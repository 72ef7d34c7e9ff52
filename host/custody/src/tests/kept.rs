//! The state as the book keeps it says what folding all entries says, whatever was written, by whom, and when it was kept.

use super::*;
use crate::kept_state::{FOLD, Scope};
use crate::ledger::{Ledger, Signature};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_assessment::test_support::example;
use celltriage_book::Book;
use celltriage_instrument::hot_cell::alarm::{Cause, Level};
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use std::collections::BTreeMap;

const CELLS: [&str; 5] = ["PE-1", "PE-2", "PE-3", "pe 1", "BOX"];
const BOXES: [&str; 3] = ["BOX", "DD", "Q"];

/// What is tried; much of it is refused.
#[derive(Clone, Debug)]
enum Try {
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
    Strike(u32),
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

fn tried() -> impl Strategy<Value = Try> {
    let (cell, container) = (0..CELLS.len(), 0..BOXES.len());
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
        2 => (1_u32..40).prop_map(Try::Strike),
        2 => (-30_i64..900).prop_map(Try::Wait),
        2 => Just(Try::Keep),
        1 => Just(Try::Forget),
        3 => Just(Try::Other),
    ]
}

/// A book with the times at which it is written.
struct Bench {
    book: Book,
    /// Who writes now, and who wrote before: each holds what it was last checked against.
    ledgers: [Ledger; 2],
    rules: PackRules,
    now: Timestamp,
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

    fn does(&mut self, step: &Try) {
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
                self.book.append(super::alarms::alarm(CELLS[*cell], *cause, *level, self.now)).unwrap();
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

    /// Compares what is kept with what all entries say, as a whole and for each name.
    fn compare(&self) -> Result<(), TestCaseError> {
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

fn begun(folder: &tempfile::TempDir, most_behind: u32) -> Bench {
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

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn what_is_kept_is_what_the_entries_say(
        steps in prop::collection::vec(tried(), 5..60),
        most_behind in prop::sample::select(vec![1, 3, 10, 1000]),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = begun(&folder, most_behind);
        for (count, step) in steps.iter().enumerate() {
            bench.does(step);
            if count % 6 == 0 {
                bench.compare()?;
            }
        }
        bench.compare()?;
    }
}

#[test]
fn a_whole_day_is_kept_as_it_is_told() {
    let steps = [
        Try::Assess(0, Fate::Recycle, CellState::Intact),
        Try::Assess(1, Fate::Quarantine, CellState::DamagedOrDefective),
        Try::Assess(2, Fate::Recycle, CellState::Intact),
        Try::Hold(1),
        Try::Judge(0, LegalState::IntactWaste),
        Try::Place(0, 0),
        Try::Wait(30),
        Try::Look(1, Look::Worse),
        Try::Place(1, 2),
        Try::Wait(20),
        Try::Draft(0),
        Try::Withdraw,
        Try::Draft(0),
        Try::Agree,
        Try::Wait(-1),
        Try::HandOver,
        Try::Strike(5),
        Try::Wait(200),
        Try::Judge(2, LegalState::DamagedOrDefective),
        Try::Look(1, Look::Active),
        Try::Escalate(2),
        Try::Release(1),
        Try::Lifetime(3, 214),
        Try::Fit(3, false),
        Try::Wait(40),
        Try::OutOfDevice(3),
        Try::Incident(3, LifeEvent::Wetted),
    ];
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 3);
    for step in &steps {
        bench.does(step);
        bench.compare().unwrap();
    }
    let all = State::read(&bench.book).unwrap();
    assert!(matches!(all.cells["PE-1"].whereabouts, crate::cell::Whereabouts::HandedOver { .. }), "{all:?}");
    assert_eq!((all.watched.len(), all.struck.len(), all.shipments.len()), (1, 1, 2));
    let fourth = &all.cells["pe 1"];
    assert_eq!((fourth.lives.len(), fourth.found.len(), fourth.to_screen().is_some()), (2, 1, true));
    // What left is known with the shipment that it left with.
    let gone = State::about(&bench.book, &["PE-1"]).unwrap();
    assert_eq!(gone.shipments["S2"], all.shipments["S2"]);
}

#[test]
fn a_held_state_that_was_overtaken_takes_in_nothing_twice() {
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 1000);
    let judge = |cell| Try::Judge(cell, LegalState::IntactWaste);
    for step in [
        Try::Assess(0, Fate::Recycle, CellState::Intact),
        Try::Assess(1, Fate::Recycle, CellState::Intact),
        Try::Keep,
        judge(0),
        // Another one judges a cell that the first holds nothing of, and what is kept is brought beyond what the first holds.
        Try::Other,
        judge(1),
        Try::Keep,
        Try::Other,
        judge(0),
        judge(1),
    ] {
        bench.does(&step);
    }
    // The ninth entry is one of those whose state is compared with all entries.
    assert_eq!(bench.book.last_number().unwrap(), 9);
}

#[test]
fn a_draft_of_simulated_cells_says_so_also_when_they_have_left_its_box() {
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 3);
    let made = example(|subject| {
        subject.circumstances.source = "simulated bench with a sound cell".to_owned();
        subject.nameplate.mass_g = Some(45.0);
    });
    let new = entry(ASSESSMENT, "PE-1", serde_json::to_value(&made).unwrap());
    let simulated = Some(true);
    bench.book.append(celltriage_book::NewEntry { at: bench.now, simulated, ..new }).unwrap();
    for step in [
        Try::Judge(0, LegalState::IntactWaste),
        Try::Place(0, 0),
        Try::Draft(0),
        Try::Withdraw,
        Try::TakeOut(0),
        Try::Judge(0, LegalState::NotWaste),
        Try::Keep,
    ] {
        bench.does(&step);
    }
    let all = Scope::AllShipments.read(&bench.book).unwrap();
    let draft = &all.shipments["S1"].draft;
    assert_eq!((draft.contents.len(), all.simulated_in(draft)), (1, Some("PE-1")));
}

#[test]
fn a_value_that_was_changed_is_not_believed_and_made_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 3);
    for step in [
        Try::Assess(0, Fate::Quarantine, CellState::DamagedOrDefective),
        Try::Judge(0, LegalState::DamagedOrDefective),
        Try::Place(0, 1),
    ] {
        bench.does(&step);
    }
    bench.does(&Try::Keep);
    assert!(bench.book.kept_to(FOLD).unwrap() > 0);
    let stranger = rusqlite::Connection::open(bench.book.path()).unwrap();
    for change in [
        "UPDATE kept SET value = x'7b7d', packing = 0 WHERE key = 'cell PE-1'",
        "UPDATE kept SET digest = zeroblob(32) WHERE key = 'whole'",
        "UPDATE kept_to SET digest = zeroblob(32)",
        "UPDATE kept_to SET version = version + 1",
    ] {
        stranger.execute(change, []).unwrap();
        let fits = crate::kept_state::kept_fits(&bench.book, true, &mut |_| {}).unwrap();
        assert_eq!(
            fits,
            change.starts_with("UPDATE kept_to"),
            "{change}: nothing is kept, or something else"
        );
        let state = State::about(&bench.book, &["PE-1"]).unwrap();
        assert_eq!(state.cells["PE-1"].container(), Some("DD"), "{change}");
        // Whoever writes about it finds that out, and keeps it again.
        bench.does(&Try::TakeOut(0));
        bench.does(&Try::Place(0, 1));
        bench.does(&Try::Keep);
        bench.compare().unwrap();
    }
    // Labels that are missing show only beside all entries.
    stranger.execute("DELETE FROM kept_under WHERE key = 'cell PE-1'", []).unwrap();
    assert!(!crate::kept_state::kept_fits(&bench.book, true, &mut |_| {}).unwrap());
}
