//! The state as the book keeps it says what folding all entries says, whatever was written, by whom, and when it was kept.

mod steps;

use super::*;
use crate::kept_state::{FOLD, Scope};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_assessment::test_support::example;
use celltriage_measure::observation::Sign;
use proptest::prelude::*;
use steps::{Bench, Try, begun, tried};

/// Does all steps; after each, what is kept must be what the entries say.
fn compared_at_each(bench: &mut Bench, steps: &[Try]) {
    for step in steps {
        bench.does(step);
        bench.compare().unwrap();
    }
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
    compared_at_each(&mut bench, &steps);
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
fn what_leaves_and_comes_back_is_kept_as_it_is_told() {
    let steps = [
        Try::Assess(0, Fate::Recycle, CellState::Intact),
        Try::Assess(1, Fate::Quarantine, CellState::DamagedOrDefective),
        Try::Assess(2, Fate::Recycle, CellState::Intact),
        Try::Judge(0, LegalState::IntactWaste),
        Try::Judge(2, LegalState::IntactWaste),
        Try::Place(0, 0),
        Try::Place(1, 1),
        Try::Place(2, 0),
        Try::Hold(1),
        Try::Draft(0),
        Try::Agree,
        Try::HandOver,
        Try::FollowUp(None),
        Try::FollowUp(Some(0)),
        Try::Back(0),
        Try::BackBox(0),
        Try::Hold(3),
        Try::LeaveBox(1, WayOut::Stolen),
        Try::Wait(100),
        Try::BackBox(1),
        Try::Leave(1, WayOut::Authority),
        Try::Back(1),
        Try::Found(1, 0),
        Try::Found(0, 1),
        Try::PutRight(0),
        Try::Leave(2, WayOut::Burnt),
    ];
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 3);
    compared_at_each(&mut bench, &steps);
    let all = State::read(&bench.book).unwrap();
    let shipment = &all.shipments["S1"];
    let back: Vec<&str> = shipment.returned.iter().map(|(cell, _)| cell.as_str()).collect();
    assert_eq!((back, shipment.followed.len()), (vec!["PE-1", "PE-3"], 2));
    assert!(all.containers.values().all(|container| container.is_here()));
    assert!(all.cells["PE-3"].whereabouts.is_gone() && all.watched.contains("PE-2"));
    let open: Vec<bool> = all.irregularities.values().map(|one| one.is_open()).collect();
    assert_eq!(open, [false, true]);
}

#[test]
fn what_is_received_is_kept_as_it_is_told() {
    let (lot, device) = (Some(ReceivedAs::Lot), Some(ReceivedAs::DeviceWithin));
    let steps = [
        Try::Receive(0, device, Some(Sign::Swollen), Some(Consent::NotAsked)),
        Try::Receive(1, lot, None, None),
        Try::Receive(2, device, Some(Sign::ActiveNow), None),
        Try::Judge(0, LegalState::DamagedOrDefective),
        Try::Place(0, 1),
        Try::Judge(1, LegalState::IntactWaste),
        Try::Place(1, 0),
        Try::Receive(0, None, None, Some(Consent::Given)),
        Try::Hold(2),
        Try::Wait(30),
        Try::Receive(4, device, None, None),
        Try::Draft(1),
        Try::Agree,
        Try::HandOver,
        Try::Strike(5),
        Try::Back(0),
        Try::Receive(0, None, Some(Sign::Swollen), None),
        Try::Assess(0, Fate::Quarantine, CellState::DamagedOrDefective),
        Try::Leave(1, WayOut::TakenApart),
    ];
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 3);
    compared_at_each(&mut bench, &steps);
    let all = State::read(&bench.book).unwrap();
    let receipts = |cell: &str| all.cells[cell].receipts.len();
    assert_eq!((receipts("PE-1"), receipts("PE-2"), receipts("PE-3")), (3, 1, 1));
    assert!(!all.cells.contains_key("BOX"), "a container's name is no cell's");
    assert!(all.cells["PE-1"].facts.is_some() && all.cells["PE-1"].discarded_on().is_some());
    assert!(all.cells["PE-2"].whereabouts.is_gone() && all.cells["PE-3"].is_watched_here());
}

#[test]
fn what_is_repacked_and_moved_is_kept_as_it_is_told() {
    let damaged = |cell| Try::Judge(cell, LegalState::DamagedOrDefective);
    let steps = [
        Try::Assess(0, Fate::Quarantine, CellState::DamagedOrDefective),
        Try::Assess(1, Fate::Quarantine, CellState::DamagedOrDefective),
        damaged(0),
        damaged(1),
        Try::Place(0, 1),
        Try::Place(1, 1),
        Try::Keep,
        Try::Repack(1, 2),
        Try::Repack(1, 0),
        Try::Move(2, false),
        Try::Move(2, true),
        Try::Empty(2, 0),
        Try::Repack(2, 1),
    ];
    let folder = tempfile::tempdir().unwrap();
    let mut bench = begun(&folder, 3);
    compared_at_each(&mut bench, &steps);
    let all = State::read(&bench.book).unwrap();
    assert_eq!((all.cells["PE-1"].container(), all.cells["PE-2"].container()), (None, Some("DD")));
    let quarantine = &all.containers["Q"].opened;
    assert_eq!((quarantine.place.as_str(), quarantine.stands.as_str()), ("DE", "shelf 0"));
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
