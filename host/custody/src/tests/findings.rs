//! The table of what can be known against a cell, tried cell by cell: what each finding blocks, and what ends it.

use super::*;
use celltriage_instrument::hot_cell::alarm::AlarmLimits;
use celltriage_instrument::hot_cell::record::{Ended, WatchRecord};
use celltriage_verdict::{KNOWN_TABLE, KnownKind, Release};

const CELL: &str = "PE-1";

/// A sound cell of which entry 1 found something; nobody has judged it.
fn world(kind: KnownKind) -> World {
    let mut world = World::new();
    world.assess_with(CELL, Fate::Undecided, CellState::Intact, |facts| {
        facts.found = vec![found(1, kind)];
    });
    world
}

fn stands(world: &World) -> bool {
    world.state.cells[CELL].standing().next().is_some()
}

fn strike(entry: u32, of: &str) -> Event {
    Event::Correction(Correction {
        entry,
        of: of.to_owned(),
        subject: CELL.to_owned(),
        because: "wrong cell in the hand".to_owned(),
        strike: true,
    })
}

/// Judged as a person would who may: waste that is not damaged, so that only what was found is in the way.
fn judged_waste(world: &mut World) -> Result<(), Refusal> {
    let judged = world.judgement(CELL, LegalState::IntactWaste);
    world.attempt(judged)
}

#[test]
fn not_waste_is_barred_as_the_table_says() {
    for row in KNOWN_TABLE {
        let mut world = world(row.found);
        let judged = world.judgement(CELL, LegalState::NotWaste);
        let refused = world.attempt(judged);
        let barred = matches!(refused, Err(Refusal::KnownBefore { .. } | Refusal::StillCritical { .. }));
        assert_eq!(barred, row.bars.not_waste, "{row:?}: {refused:?}");
    }
}

#[test]
fn serving_again_is_barred_as_the_table_says() {
    for row in KNOWN_TABLE {
        let mut world = World::new();
        world.assess(CELL, Fate::Reuse, CellState::Intact);
        let judged = world.judgement(CELL, LegalState::NotWaste);
        world.must(judged);
        let record = world.used(CELL);
        world.attempt(record.clone()).unwrap();
        world.state.cells.get_mut(CELL).unwrap().found = vec![found(1, row.found)];
        let refused = world.attempt(record);
        assert_eq!(
            matches!(refused, Err(Refusal::KnownBefore { .. })),
            row.bars.reuse,
            "{row:?}: {refused:?}"
        );
    }
}

#[test]
fn leaving_is_barred_as_the_table_says() {
    for row in KNOWN_TABLE {
        let mut world = World::new();
        world.damaged(CELL);
        world.open("D-1", ContainerKind::Damaged, "US");
        world.must(placed("D-1", CELL, Some("bag 1")));
        world.state.cells.get_mut(CELL).unwrap().found = vec![found(1, row.found)];
        let refused = world.draft(&world.request("S-1", "D-1"));
        let barred = matches!(refused, Err(Refusal::NotLeaving { .. }));
        assert_eq!(barred, row.bars.leaving, "{row:?}: {refused:?}");
    }
}

#[test]
fn what_a_person_judged_no_longer_critical_may_leave() {
    for row in KNOWN_TABLE {
        let settled = celltriage_verdict::KnownFinding { settled_by: Some(9), ..found(1, row.found) };
        assert!(!settled.bars().leaving && settled.bars().reuse, "{row:?}");
    }
}

#[test]
fn striking_ends_every_finding_and_stays_readable() {
    for row in KNOWN_TABLE {
        let mut world = world(row.found);
        world.must(strike(1, "assessment"));
        assert!(!stands(&world), "{row:?}");
        assert!(world.state.struck.contains_key(&1));
    }
}

#[test]
fn a_finished_test_ends_what_a_test_may_end_and_nothing_else() {
    for row in KNOWN_TABLE {
        for (finished, looked_whole) in [(false, false), (false, true), (true, false), (true, true)] {
            let mut world = world(row.found);
            world.assess_with(CELL, Fate::Undecided, CellState::Intact, |facts| {
                (facts.finished, facts.looked_whole) = (finished, looked_whole);
            });
            let ends = match row.release {
                Release::FinishedTest => finished,
                Release::Screening => finished && looked_whole,
                _ => false,
            };
            assert_eq!(stands(&world), !ends, "{row:?}, {finished}, {looked_whole}");
            // The test was of another cell: what it had ended stands again.
            world.must(strike(2, "assessment"));
            assert!(stands(&world), "{row:?}");
        }
    }
}

#[test]
fn a_cooling_ends_warmth_at_rest_and_nothing_else() {
    for row in KNOWN_TABLE {
        let mut world = world(row.found);
        world.must(temperature_look(CELL, 0, 18.6));
        world.must(temperature_look(CELL, 60, 18.2));
        let ended = world.attempt(finding_released(CELL, 1));
        assert_eq!(ended.is_ok(), row.release == Release::Cooling, "{row:?}: {ended:?}");
        assert_eq!(stands(&world), ended.is_err());
    }
}

#[test]
fn a_cooling_takes_two_cool_looks_an_hour_apart_the_last_of_them_level() {
    let table: [(&[(i64, f64)], &str); 6] = [
        (&[], "nobody has looked"),
        (&[(0, 18.2)], "0 min apart"),
        (&[(0, 18.2), (59, 18.2)], "59 min apart"),
        (&[(0, 18.2), (60, 19.1)], "warmer than the air"),
        (&[(0, 20.0), (60, 18.2)], "0 min apart"),
        // Brought in from the cold: it hides what is made inside until it is level.
        (&[(0, 8.0), (60, 18.2)], "has warmed by 10.2 K"),
    ];
    for (looks, missing) in table {
        let mut world = world(KnownKind::WarmAtRest);
        looks.iter().for_each(|(at, celsius)| world.must(temperature_look(CELL, *at, *celsius)));
        match world.attempt(finding_released(CELL, 1)) {
            Err(Refusal::NotEnded { why, .. }) => assert!(why.contains(missing), "{looks:?}: {why}"),
            other => panic!("{looks:?}: {other:?}"),
        }
    }
    let wild = world(KnownKind::WarmAtRest).attempt(temperature_look(CELL, 0, f64::NAN));
    assert!(matches!(wild, Err(Refusal::BadNumber(_))));
}

#[test]
fn a_struck_look_brings_back_what_was_ended_on_it() {
    let mut world = world(KnownKind::WarmAtRest);
    world.must(temperature_look(CELL, 0, 18.2));
    world.must(temperature_look(CELL, 60, 18.2));
    world.must(finding_released(CELL, 1));
    assert!(!stands(&world));
    assert_eq!(world.state.cells[CELL].found.len(), 1, "it stays readable");
    world.must(strike(3, "temperature-look"));
    assert!(stands(&world));
}

pub(super) fn watch(hours: f64, ended: Ended) -> WatchRecord {
    WatchRecord {
        schema: 1,
        fixture: "0001".to_owned(),
        planned_s: None,
        lasted_s: hours * 3_600.0,
        ended,
        every_s: 2.0,
        limits: AlarmLimits::default(),
        readings: 100,
        seen: Default::default(),
        alarms: Vec::new(),
        remarks: Vec::new(),
    }
}

#[test]
fn an_alarm_ends_by_a_new_watch_that_is_long_enough_and_saw_nothing() {
    // The alarm came after 4 h: the new watch must last 8.
    let table = [
        (8.0, Ended::Time, true),
        (8.0, Ended::Stopped, true),
        (7.9, Ended::Time, false),
        (20.0, Ended::LinkLost, false),
    ];
    for row in KNOWN_TABLE {
        for (hours, ended, enough) in table {
            let mut world = world(row.found);
            let grounds = &mut world.state.cells.get_mut(CELL).unwrap().grounds;
            grounds.alarmed(1, 4.0 * 3_600.0);
            grounds.watched(2, &watch(hours, ended));
            let done = world.attempt(finding_released(CELL, 1));
            let wanted = enough && row.release == Release::NewMeasurement;
            assert_eq!(done.is_ok(), wanted, "{row:?}, {hours} h, {ended:?}: {done:?}");
        }
    }
    let short = watch(5.9, Ended::Time);
    let mut world = world(KnownKind::HeatAlarm);
    world.state.cells.get_mut(CELL).unwrap().grounds.watched(2, &short);
    assert!(
        world.attempt(finding_released(CELL, 1)).is_err(),
        "at least six hours, however soon the alarm came"
    );
}

#[test]
fn nothing_is_ended_that_is_critical_or_was_not_found() {
    let mut world = world(KnownKind::Reacting);
    assert!(
        matches!(world.attempt(finding_released(CELL, 1)), Err(Refusal::NotEnded { why, .. }) if why.contains("judges"))
    );
    assert!(matches!(world.attempt(finding_released(CELL, 7)), Err(Refusal::NotEnded { .. })));
    assert!(matches!(world.attempt(finding_released("PE-9", 1)), Err(Refusal::UnknownCell(_))));
    assert!(judged_waste(&mut world).is_err());
}

#[test]
fn a_test_that_broke_off_is_on_the_list_of_what_is_due_until_it_is_made_again() {
    let mut world = world(KnownKind::UnfinishedTest);
    let told = |world: &World| -> Vec<String> {
        crate::due::due(&world.state, &world.circumstances()).into_iter().map(|due| due.what).collect()
    };
    assert_eq!(told(&world), ["test it again: test not finished (entry 1); no label is noted"]);
    world.assess(CELL, Fate::Undecided, CellState::Intact);
    assert_eq!(told(&world), ["assess it again or judge it: undecided since 2026-11-25; no label is noted"]);
}
