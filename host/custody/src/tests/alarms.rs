//! Alarms of the hot-cell watch: a cell that reacts is critical, a warm one damaged, one of which nothing was seen neither.

use super::*;
use celltriage_book::{Book, NewEntry};
use celltriage_instrument::hot_cell::alarm::{Alarm, Cause, Level};
use celltriage_instrument::hot_cell::record::{ALARM, AlarmRecord, SCHEMA as ALARM_SCHEMA, alarm_entry};
use celltriage_verdict::{Hazard, KnownFinding};
use jiff::Timestamp;

/// An alarm as a watch writes it; without a level, as an earlier program did.
pub(super) fn alarm(cell: &str, cause: Cause, level: Option<Level>, at: Timestamp) -> NewEntry {
    let alarm = Alarm { cause, level, value: 2.4, limit: 2.0, at_s: 180.0 };
    let record = AlarmRecord { schema: ALARM_SCHEMA, fixture: "0001".to_owned(), alarm, recording: 0 };
    alarm_entry(cell, &record, at).unwrap()
}

impl World {
    /// Takes in an alarm with the number that follows.
    fn alarmed(&mut self, cell: &str, cause: Cause, level: Option<Level>) -> u32 {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        for _ in 0..self.state.read_to {
            book.append(entry("other", "none", serde_json::Value::Null)).unwrap();
        }
        let entry = book.append(alarm(cell, cause, level, Timestamp::UNIX_EPOCH)).unwrap();
        self.state.hot_cell(&entry);
        self.state.read_to = entry.number;
        // A number of the world is taken by it.
        let (by, event) = ("a watch".to_owned(), escalation("none"));
        self.log.push(Written::Event(entry.number, Signed { schema: SCHEMA, by, on: TODAY, event }));
        entry.number
    }
}

fn found(world: &World) -> Vec<(CellState, Option<Hazard>, bool)> {
    let told = |found: &KnownFinding| (found.condition, found.hazard, found.is_acute());
    world.state.cells["PE-1"].found.iter().map(told).collect()
}

#[test]
fn each_cause_and_level_counts_as_what_it_is_and_an_old_alarm_as_it_did() {
    let warming = Some(Hazard::Warming);
    for cause in Cause::ALL {
        for level in [None, Some(Level::Warm), Some(Level::Reacting)] {
            let mut world = World::new();
            world.intact("PE-1");
            world.alarmed("PE-1", cause, level);
            let (state, told) = match (cause.is_about_the_cell(), level) {
                (false, _) => (LegalState::IntactWaste, vec![]),
                (_, Some(Level::Warm)) => {
                    (LegalState::DamagedOrDefective, vec![(CellState::DamagedOrDefective, warming, false)])
                }
                _ => (LegalState::Critical, vec![(CellState::Critical, warming, true)]),
            };
            let cell = &world.state.cells["PE-1"];
            assert_eq!(cell.legal(), state, "{cause:?} {level:?}");
            assert_eq!(found(&world), told, "{cause:?} {level:?}");
            assert_eq!(cell.escalated, state == LegalState::Critical);
            assert!(cell.proposal() >= state, "the page proposes no less than the cell is handled as");
        }
    }
}

#[test]
fn a_warm_cell_is_judged_as_damaged_without_weeks_of_watch_and_serves_no_more() {
    let mut world = World::new();
    world.assess("PE-1", Fate::Reuse, CellState::Intact);
    assert!(world.state.cells["PE-1"].is_for_reuse());
    world.alarmed("PE-1", Cause::OverAir, Some(Level::Warm));
    assert!(!world.state.cells["PE-1"].is_for_reuse());
    let judged = world.judgement("PE-1", LegalState::NotWaste);
    assert!(matches!(world.attempt(judged), Err(Refusal::KnownBefore { .. })));
    let judged = world.judgement("PE-1", LegalState::DamagedOrDefective);
    world.must(judged);
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::DamagedOrDefective);
}

#[test]
fn a_warm_alarm_makes_no_critical_cell_milder_and_a_later_one_that_reacts_makes_it_critical() {
    let mut world = World::new();
    world.intact("PE-1");
    world.alarmed("PE-1", Cause::OverAir, Some(Level::Warm));
    world.alarmed("PE-1", Cause::RisingAway, Some(Level::Reacting));
    world.alarmed("PE-1", Cause::FallingVoltage, Some(Level::Warm));
    let cell = &world.state.cells["PE-1"];
    assert_eq!((cell.legal(), cell.proposal()), (LegalState::Critical, LegalState::Critical));
    let milder = world.judgement("PE-1", LegalState::DamagedOrDefective);
    assert!(matches!(world.attempt(milder), Err(Refusal::StillCritical { .. })));
}

#[test]
fn a_struck_warm_alarm_counts_no_more_and_brings_no_judgement_back() {
    let mut world = World::new();
    world.intact("PE-1");
    let number = world.alarmed("PE-1", Cause::Growth, Some(Level::Warm));
    let (subject, of, because) = ("PE-1".to_owned(), ALARM.to_owned(), "wrong cell".to_owned());
    world.must(Event::Correction(Correction { entry: number, of, subject, because, strike: true }));
    let cell = &world.state.cells["PE-1"];
    assert!(cell.found.is_empty() && !cell.escalated && cell.judgement.is_none());
    assert_eq!(cell.legal(), LegalState::Unknown);
}
