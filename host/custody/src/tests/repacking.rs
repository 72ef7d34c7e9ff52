//! A container as a whole while it is here: moved, merged, split, emptied, and several of them in one shipment. Every rule of a single cell
//! holds for each.

use super::*;
use crate::counters::of_container;
use crate::refusal_on_container::RefusalOnContainer as Because;
use crate::repacking::repacked;

fn moved(world: &World, container: &str, place: &str, stands: &str, corrected: bool) -> Event {
    let _there = &world.state.containers[container];
    Event::ContainerMoved(ContainerMoved {
        container: container.to_owned(),
        place: place.parse().unwrap(),
        stands: stands.to_owned(),
        corrected,
        because: "the yard is dug up".to_owned(),
    })
}

fn repack(world: &World, from: &str, into: Option<&str>, only: &[&str]) -> Event {
    let only: Vec<String> = only.iter().map(|name| (*name).to_owned()).collect();
    let cells = repacked(&world.state, from, &only);
    Event::ContainerRepacked(ContainerRepacked {
        container: from.to_owned(),
        into: into.map(str::to_owned),
        all: cells.len() == world.state.cells_in(from).count(),
        cells,
        because: "one drum is enough".to_owned(),
    })
}

/// Two boxes for intact cells, one for damaged ones, and a cell judged in each of the first and the last.
fn boxed() -> World {
    let mut world = World::new();
    for (name, kind) in [
        ("IN-1", ContainerKind::Intact),
        ("IN-2", ContainerKind::Intact),
        ("DD-1", ContainerKind::Damaged),
        ("DD-2", ContainerKind::Damaged),
    ] {
        world.open(name, kind, "DE");
    }
    world.intact("PE-1");
    world.damaged("PE-2");
    world.must(placed("IN-1", "PE-1", None));
    world.must(placed("DD-1", "PE-2", Some("a")));
    world
}

#[test]
fn what_is_merged_keeps_its_clock_its_packing_and_its_mass() {
    let mut world = boxed();
    world.today = TODAY.tomorrow().unwrap();
    world.intact("PE-3");
    world.must(placed("IN-2", "PE-3", None));
    let merged = repack(&world, "IN-1", Some("IN-2"), &[]);
    world.must(merged);
    assert_eq!((world.state.count_in("IN-1"), world.state.count_in("IN-2")), (0, 2));
    let counters = of_container(&world.state, "IN-2", &world.circumstances());
    let since = format!("since {TODAY}");
    let clocks: Vec<_> = counters.iter().filter(|counter| counter.until.is_some()).collect();
    for clock in &clocks {
        assert!(clock.counted.as_ref().unwrap().starts_with(&since), "the oldest counts: {clock:?}");
    }
    let merged = repack(&world, "DD-1", Some("DD-2"), &[]);
    world.must(merged);
    let lies = &world.state.cells["PE-2"].whereabouts;
    assert!(
        matches!(lies, crate::cell::Whereabouts::In { container, inner: Some(inner), .. } if container == "DD-2" && inner == "a")
    );
    assert_eq!(world.replayed(), world.state);
}

#[test]
fn nothing_damaged_gets_into_an_intact_box_by_a_merge() {
    let mut world = boxed();
    let merged = repack(&world, "DD-1", Some("IN-1"), &[]);
    let refused = world.attempt(merged.clone()).unwrap_err();
    assert!(matches!(refused, Refusal::WrongMix { .. }), "{refused}");
    // Where it has happened it is written down, and the box is told to be wrong.
    let entry = world.next();
    let irregular = world.irregular(merged, "taken apart at once").unwrap();
    world.must(irregular);
    assert_eq!(world.state.cells_in("IN-1").count(), 2);
    assert!(world.state.irregularities[&entry].is_open() && world.state.irregular_with("PE-2").count() == 1);
    assert!(world.state.cells["PE-2"].to_screen().is_some());
    let due = crate::due::due(&world.state, &world.circumstances());
    assert!(
        due.iter().any(|due| due.subject == "PE-2" && due.what.contains("take it out of its container")),
        "{due:?}"
    );
    assert_eq!(world.replayed(), world.state);
}

#[test]
fn one_cell_that_must_stay_keeps_them_all() {
    let mut world = boxed();
    world.damaged("PE-4");
    world.must(placed("DD-1", "PE-4", Some("b")));
    world.must(escalation("PE-4"));
    for into in [Some("DD-2"), None] {
        let refused = world.attempt(repack(&world, "DD-1", into, &[])).unwrap_err();
        assert_eq!(refused, Refusal::Critical("PE-4".to_owned()));
    }
    let away = world.attempt(moved(&world, "DD-1", "DE", "behind the house", false)).unwrap_err();
    assert_eq!(away, Refusal::Critical("PE-4".to_owned()));
    // The others may be brought away from it, and a wrong word is put right.
    let split = repack(&world, "DD-1", Some("DD-2"), &["PE-2"]);
    world.must(split);
    let corrected = moved(&world, "DD-1", "AT", "behind the house", true);
    world.must(corrected);
    let opened = &world.state.containers["DD-1"].opened;
    assert_eq!((opened.place.as_str(), opened.stands.as_str()), ("AT", "behind the house"));
    assert!(world.state.places.contains(&"AT".parse().unwrap()));
    let irregular = moved(&world, "DD-1", "AT", "the road", false);
    let irregular = world.irregular(irregular, "the fire service was there").unwrap();
    world.must(irregular);
    assert_eq!(world.state.containers["DD-1"].opened.stands, "the road");
}

#[test]
fn packings_places_and_drafts_are_held_to() {
    let mut world = boxed();
    world.damaged("PE-4");
    world.must(placed("DD-2", "PE-4", Some("a")));
    let refused = world.attempt(repack(&world, "DD-1", Some("DD-2"), &[])).unwrap_err();
    assert!(matches!(refused, Refusal::InnerPackingTaken { .. }), "{refused}");
    let same = world.attempt(repack(&world, "DD-1", Some("DD-1"), &[])).unwrap_err();
    assert_eq!(same, Refusal::OnContainer(Because::ItIsTheSame("DD-1".to_owned())));
    let strange = world.attempt(repack(&world, "DD-1", Some("DD-2"), &["PE-1"])).unwrap_err();
    assert!(matches!(strange, Refusal::OnContainer(Because::NotInside { .. })), "{strange}");
    let nothing = world.attempt(repack(&world, "IN-2", None, &[])).unwrap_err();
    assert_eq!(nothing, Refusal::Empty("IN-2".to_owned()));
    let there = world.attempt(moved(&world, "IN-1", "DE", "yard, north wall", false)).unwrap_err();
    assert_eq!(there, Refusal::OnContainer(Because::StandsThere("IN-1".to_owned())));
    world.draft(&world.request("S-1", "IN-1")).unwrap();
    for event in [repack(&world, "IN-1", None, &[]), moved(&world, "IN-1", "DE", "shelf 2", false)] {
        assert!(matches!(world.attempt(event), Err(Refusal::ContainerDrafted { .. })));
    }
    // Told wrongly what is in it: somebody has taken something out meanwhile.
    let Event::ContainerRepacked(whole) = repack(&world, "DD-1", Some("DD-2"), &[]) else { unreachable!() };
    let stale = Event::ContainerRepacked(ContainerRepacked { all: false, ..whole });
    assert!(matches!(world.attempt(stale), Err(Refusal::OnContainer(Because::Outdated(_)))));
}

#[test]
fn somebody_else_s_goes_into_no_intact_box_and_a_full_one_takes_no_more() {
    let mut world = boxed();
    world.must(received("PE-9", ReceivedAs::Cell, |_| {}));
    let judged = world.judgement("PE-9", LegalState::IntactWaste);
    world.must(judged);
    world.must(placed("IN-2", "PE-9", None));
    world.must(added("PE-9", |told| told.whose = Some(Whose::NotKnown)));
    let refused = world.attempt(repack(&world, "IN-2", Some("IN-1"), &[])).unwrap_err();
    assert!(matches!(refused, Refusal::NoConsent { .. }), "{refused}");
    let Event::ContainerOpened(small) = opened("IN-3", ContainerKind::Intact, "DE") else { unreachable!() };
    world.must(Event::ContainerOpened(ContainerOpened { most_cells: Some(1), ..small }));
    world.intact("PE-5");
    world.must(placed("IN-1", "PE-5", None));
    let refused = world.attempt(repack(&world, "IN-1", Some("IN-3"), &[])).unwrap_err();
    assert!(matches!(refused, Refusal::ContainerFull { .. }), "{refused}");
    assert_eq!(world.state.count_in("IN-3"), 0, "none has gone");
}

#[test]
fn several_containers_go_together_and_count_against_the_limit_of_one_vehicle() {
    let mut world = boxed();
    for (cell, container) in [("PE-5", "IN-1"), ("PE-6", "IN-2")] {
        world.intact(cell);
        let mass = Milligrams::kilograms(170);
        world.must(Event::CellWeighed(CellWeighed { cell: cell.to_owned(), mass }));
        world.must(placed(container, cell, None));
    }
    let gross = Milligrams::kilograms(180);
    let alone = Request { gross, ..world.request("S-1", "IN-1") };
    let limit = |world: &World, shipment: &str| {
        let papers = &world.state.shipments[shipment].draft.papers;
        let found = papers.counted.iter().find(|count| count.text.contains("333 kg"));
        found.map(|count| (count.text.clone(), count.passed)).unwrap()
    };
    world.draft(&alone).unwrap();
    assert!(!limit(&world, "S-1").1, "{:?}", limit(&world, "S-1"));
    world.must(withdrawn("S-1"));
    let both = Request { more: vec!["IN-2".to_owned()], ..alone.clone() };
    let both = Request { shipment: "S-2".to_owned(), ..both };
    world.draft(&both).unwrap();
    let (text, passed) = limit(&world, "S-2");
    assert!(passed && text.contains("340.045 kg"), "{text}");
    let draft = world.state.shipments["S-2"].draft.clone();
    assert_eq!((draft.cells(), draft.papers.packages >= 2, draft.inside("IN-2").count()), (3, true, 1));
    assert!(world.state.containers.values().filter(|one| one.drafted_for.is_some()).count() == 2);
    world.must(agreed("S-2"));
    world.hand_over("S-2", draft.waste_codes.first().map(|code| code.code.as_str())).unwrap();
    for container in ["IN-1", "IN-2"] {
        assert!(!world.state.containers[container].is_here());
    }
    // Each comes back by itself, with what left in it.
    let returned = world.box_back("IN-2", WayBack::Refused);
    world.must(returned);
    let back: Vec<&String> = world.state.cells_in("IN-2").map(|(cell, _)| cell).collect();
    assert_eq!(back, ["PE-6"]);
    assert!(world.state.cells["PE-5"].whereabouts.is_gone());
    assert_eq!(world.replayed(), world.state);

    let mut world = boxed();
    let mixed = Request { more: vec!["DD-1".to_owned()], ..world.request("S-1", "IN-1") };
    let refused = world.draft(&mixed).unwrap_err();
    assert!(matches!(refused, Refusal::OnContainer(Because::NotTogether { .. })), "{refused}");
    let twice = Request { more: vec!["IN-1".to_owned()], ..world.request("S-1", "IN-1") };
    assert!(world.draft(&twice).is_err());
}
