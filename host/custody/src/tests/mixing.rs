//! What may stand with what, and what is counted of it.

use super::*;
use crate::counters::{of_container, of_site};
use crate::limits::{Counted, UNKNOWN_MASS};

#[test]
fn damaged_and_intact_never_stand_together() {
    let mut world = World::new();
    world.intact("PE-1");
    world.damaged("PE-2");
    world.open("IN", ContainerKind::Intact, "DE");
    world.open("DD", ContainerKind::Damaged, "DE");
    world.open("Q", ContainerKind::Quarantine, "DE");
    assert!(matches!(world.attempt(placed("IN", "PE-2", Some("a"))), Err(Refusal::WrongMix { .. })));
    assert!(matches!(world.attempt(placed("DD", "PE-1", Some("a"))), Err(Refusal::WrongMix { .. })));
    assert!(matches!(world.attempt(placed("Q", "PE-1", Some("a"))), Err(Refusal::WrongMix { .. })));
    world.must(placed("IN", "PE-1", None));
    world.must(placed("DD", "PE-2", Some("a")));
}

#[test]
fn a_cell_that_nobody_judged_counts_as_damaged() {
    let mut world = World::new();
    world.assess("PE-1", Fate::Recycle, CellState::Intact);
    world.open("IN", ContainerKind::Intact, "DE");
    world.open("DD", ContainerKind::Damaged, "DE");
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Unknown);
    assert!(matches!(
        world.attempt(placed("IN", "PE-1", None)),
        Err(Refusal::WrongMix { state, .. }) if state.contains("until a person judges it")
    ));
    world.must(placed("DD", "PE-1", Some("a")));
}

#[test]
fn a_new_assessment_ends_an_earlier_judgement() {
    let mut world = World::new();
    world.intact("PE-1");
    world.assess("PE-1", Fate::Recycle, CellState::Intact);
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Unknown);
}

#[test]
fn a_critical_cell_stays_critical_until_a_person_judges_it_again() {
    let mut world = World::new();
    world.damaged("PE-1");
    let critical = world.judgement("PE-1", LegalState::Critical);
    world.must(critical);
    world.assess("PE-1", Fate::Recycle, CellState::Intact);
    world.must(hold("PE-1", TODAY));
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Critical);
    world.open("Q", ContainerKind::Quarantine, "DE");
    assert_eq!(world.attempt(placed("Q", "PE-1", Some("a"))), Err(Refusal::Critical("PE-1".to_owned())));
    let damaged = world.judgement("PE-1", LegalState::DamagedOrDefective);
    // Not in the same minute: after a watch, with a cool look at its end.
    assert!(matches!(world.attempt(damaged.clone()), Err(Refusal::StillCritical { .. })));
    world.today = date(2026, 12, 23);
    world.must(inspection("PE-1", Look::Unchanged, Some(18.0)));
    world.must(damaged);
    world.must(placed("Q", "PE-1", Some("a")));
}

#[test]
fn one_damaged_cell_to_one_inner_packing() {
    let mut world = World::new();
    world.damaged("PE-1");
    world.damaged("PE-2");
    world.open("DD", ContainerKind::Damaged, "US");
    assert_eq!(world.attempt(placed("DD", "PE-1", None)), Err(Refusal::NoInnerPacking("DD".to_owned())));
    world.must(placed("DD", "PE-1", Some("a")));
    assert!(matches!(world.attempt(placed("DD", "PE-2", Some("a"))), Err(Refusal::InnerPackingTaken { .. })));
    world.must(placed("DD", "PE-2", Some("b")));
}

#[test]
fn a_cell_for_reuse_goes_into_no_waste_container_until_it_is_given_up() {
    let mut world = World::new();
    world.assess("PE-1", Fate::Reuse, CellState::Intact);
    for (name, kind) in
        [("IN", ContainerKind::Intact), ("DD", ContainerKind::Damaged), ("Q", ContainerKind::Quarantine)]
    {
        world.open(name, kind, "US");
        assert_eq!(world.attempt(placed(name, "PE-1", Some("a"))), Err(Refusal::ForReuse("PE-1".to_owned())));
    }
    let given_up = world.judgement("PE-1", LegalState::IntactWaste);
    world.must(given_up);
    world.must(placed("IN", "PE-1", None));
}

#[test]
fn a_watched_cell_for_reuse_goes_into_quarantine_and_into_nothing_else() {
    let mut world = World::new();
    for (name, kind) in
        [("IN", ContainerKind::Intact), ("DD", ContainerKind::Damaged), ("Q", ContainerKind::Quarantine)]
    {
        world.open(name, kind, "US");
    }
    world.assess("PE-1", Fate::Reuse, CellState::Intact);
    world.assess("PE-2", Fate::Reuse, CellState::Intact);
    let kept = world.judgement("PE-2", LegalState::NotWaste);
    world.must(kept);
    for cell in ["PE-1", "PE-2"] {
        world.must(hold(cell, TODAY));
        world.must(inspection(cell, Look::Worse, Some(31.0)));
        for waste in ["IN", "DD"] {
            let refused = world.attempt(placed(waste, cell, Some(cell)));
            assert_eq!(refused, Err(Refusal::ForReuse(cell.to_owned())));
        }
        world.must(placed("Q", cell, Some(cell)));
        assert_eq!(world.state.cells[cell].discarded_on(), None, "quarantine is no decision to discard");
    }
}

#[test]
fn a_cell_stands_in_one_container_only() {
    let mut world = World::new();
    world.intact("PE-1");
    world.open("A", ContainerKind::Intact, "DE");
    world.open("B", ContainerKind::Intact, "DE");
    world.must(placed("A", "PE-1", None));
    for container in ["A", "B"] {
        assert!(matches!(
            world.attempt(placed(container, "PE-1", None)),
            Err(Refusal::ElsewhereAlready { .. })
        ));
    }
    world.must(taken_out("PE-1"));
    world.must(placed("B", "PE-1", None));
    assert_eq!((world.state.cells_in("A").count(), world.state.cells_in("B").count()), (0, 1));
}

#[test]
fn a_container_keeps_to_its_own_limits_and_to_one_chemistry() {
    let mut world = World::new();
    for cell in ["PE-1", "PE-2", "PE-3"] {
        world.intact(cell);
    }
    let Event::ContainerOpened(mut small) = opened("S", ContainerKind::Intact, "DE") else { unreachable!() };
    small.most_cells = Some(2);
    small.most_mass = Some(Milligrams(90_000));
    small.most_energy = Some(MilliwattHours(22_800));
    small.one_chemistry = true;
    world.must(Event::ContainerOpened(small));
    world.must(placed("S", "PE-1", None));
    let Event::CellPlaced(mut heavy) = placed("S", "PE-2", None) else { unreachable!() };
    heavy.weighed = Some(Milligrams(45_001));
    assert!(matches!(world.attempt(Event::CellPlaced(heavy)), Err(Refusal::ContainerFull { .. })));
    world.must(placed("S", "PE-2", None));
    assert!(matches!(world.attempt(placed("S", "PE-3", None)), Err(Refusal::ContainerFull { .. })));

    let Event::ContainerOpened(mut one) = opened("ONE", ContainerKind::Intact, "DE") else { unreachable!() };
    one.one_chemistry = true;
    world.must(Event::ContainerOpened(one));
    world.must(taken_out("PE-2"));
    world.must(placed("ONE", "PE-2", None));
    world.state.cells.get_mut("PE-3").unwrap().facts.as_mut().unwrap().chemistry = Some(Chemistry::Lfp);
    assert!(matches!(world.attempt(placed("ONE", "PE-3", None)), Err(Refusal::OtherChemistry { .. })));
}

#[test]
fn a_mass_that_is_not_known_counts_as_the_worst_case_until_it_is_weighed() {
    let mut world = World::new();
    world.intact("PE-1");
    world.state.cells.get_mut("PE-1").unwrap().facts.as_mut().unwrap().label_mass = None;
    world.open("IN", ContainerKind::Intact, "DE");
    world.must(placed("IN", "PE-1", None));
    let heaviest = |world: &World| {
        of_container(&world.state, "IN", &world.circumstances())
            .into_iter()
            .find(|counter| counter.limit.what == Counted::CellMass)
            .unwrap()
    };
    assert_eq!(world.state.mass_in("IN"), UNKNOWN_MASS);
    let counter = heaviest(&world);
    assert_eq!(counter.passed, Some(true), "above 500 g as far as anybody knows");
    assert!(counter.notes[0].contains("not weighed"), "{:?}", counter.notes);
    world.must(Event::CellWeighed(CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams(46_000) }));
    assert_eq!(world.state.mass_in("IN"), Milligrams(46_000));
    assert_eq!(heaviest(&world).passed, Some(false));
}

#[test]
fn limits_are_passed_where_their_text_says() {
    let mut world = World::new();
    world.intact("PE-1");
    world.open("US", ContainerKind::Intact, "US-CA");
    world.must(placed("US", "PE-1", None));
    let weigh = |world: &mut World, mass: u64| {
        world.must(Event::CellWeighed(CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams(mass) }));
    };
    let passed = |world: &World| {
        of_site(&world.state, &"US".parse().unwrap(), &world.circumstances())[0].passed.unwrap()
    };
    weigh(&mut world, 4_999_999_999);
    assert!(!passed(&world));
    // Less than 5,000 kg is a small handler; 5,000 kg is not (40 CFR 273.9).
    weigh(&mut world, 5_000_000_000);
    assert!(passed(&world));

    world.open("DE", ContainerKind::Intact, "DE");
    world.must(taken_out("PE-1"));
    world.must(placed("DE", "PE-1", None));
    let passed = |world: &World, what| {
        let counters = of_container(&world.state, "DE", &world.circumstances());
        counters.into_iter().find(|counter| counter.limit.what == what).unwrap().passed
    };
    for (mass, what, expected) in [
        (500_000, Counted::CellMass, false),
        (500_001, Counted::CellMass, true),
        (333_000_000, Counted::TransportUnitMass, false),
        (333_000_001, Counted::TransportUnitMass, true),
    ] {
        weigh(&mut world, mass);
        assert_eq!(passed(&world, what), Some(expected), "{mass} mg");
    }
    assert_eq!(passed(&world, Counted::PackageGross), None, "the empty container was not weighed");
    for (energy, expected) in [(20_000, false), (20_001, true)] {
        world.state.cells.get_mut("PE-1").unwrap().facts.as_mut().unwrap().energy = MilliwattHours(energy);
        assert_eq!(passed(&world, Counted::CellEnergy), Some(expected));
    }
}

#[test]
fn the_gross_mass_counts_the_empty_container_too() {
    let mut world = World::new();
    world.intact("PE-1");
    let Event::ContainerOpened(mut drum) = opened("DRUM", ContainerKind::Intact, "DE") else {
        unreachable!()
    };
    drum.tare = Some(Milligrams(29_955_000));
    world.must(Event::ContainerOpened(drum));
    world.must(placed("DRUM", "PE-1", None));
    let gross = |world: &World| {
        let counters = of_container(&world.state, "DRUM", &world.circumstances());
        counters.into_iter().find(|counter| counter.limit.what == Counted::PackageGross).unwrap()
    };
    assert_eq!(gross(&world).passed, Some(false), "30 kg to the milligram");
    world.must(Event::CellWeighed(CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams(45_001) }));
    assert_eq!(gross(&world).passed, Some(true));
}

#[test]
fn two_containers_that_people_take_for_one_do_not_stand_together() {
    let mut world = World::new();
    world.open("B-10", ContainerKind::Intact, "DE");
    for name in ["b-10", "B-1O"] {
        let refused = world.attempt(opened(name, ContainerKind::Damaged, "DE"));
        assert!(matches!(refused, Err(Refusal::LooksLikeContainer { .. })), "{name}: {refused:?}");
    }
    world.must(opened("B-11", ContainerKind::Damaged, "DE"));
    // Nobody takes a container for one that has left.
    if let Some(container) = world.state.containers.get_mut("B-10") {
        container.left_with = Some("S-1".to_owned());
    }
    world.must(opened("b-10", ContainerKind::Damaged, "DE"));
}
