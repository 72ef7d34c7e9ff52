//! Labels on cells: what is told of one that is missing, and of one that says something else than was decided.

use super::*;
use crate::due::{Due, Urgency, due};

fn put_on(cell: &str, says: Option<Fate>) -> Event {
    Event::LabelPutOn(LabelPutOn { cell: cell.to_owned(), says })
}

fn of(world: &World, cell: &str) -> Vec<Due> {
    let all = due(&world.state, &world.circumstances());
    all.into_iter().filter(|item| item.subject == cell).collect()
}

#[test]
fn a_decided_cell_without_a_label_is_told_with_what_else_it_waits_for() {
    let mut world = World::new();
    world.assess("C-1", Fate::Recycle, CellState::Intact);
    let told = of(&world, "C-1");
    assert!(told.len() == 1 && told[0].what.ends_with("; no label is noted"), "{told:?}");
    world.must(put_on("C-1", Some(Fate::Recycle)));
    let told = of(&world, "C-1");
    assert!(told.len() == 1 && !told[0].what.contains("label"), "{told:?}");
}

#[test]
fn a_label_that_says_reuse_of_a_cell_that_was_decided_otherwise_must_go_now_wherever_the_cell_is() {
    let mut world = World::new();
    world.assess("C-1", Fate::Reuse, CellState::Intact);
    world.must(put_on("C-1", Some(Fate::Reuse)));
    world.assess("C-1", Fate::Quarantine, CellState::DamagedOrDefective);
    let wrong = |world: &World| {
        let found = of(world, "C-1").into_iter().find(|item| item.what.contains("change its label"));
        found.map(|item| (item.urgency, item.what))
    };
    let (urgency, what) = wrong(&world).expect("it is told");
    assert_eq!(urgency, Urgency::Now);
    assert!(what.contains("it says reuse") && what.contains("decided quarantine"), "{what}");
    // In its box too: whoever takes it out reads the label.
    world.must(world.judgement("C-1", LegalState::DamagedOrDefective));
    world.open("D-1", ContainerKind::Damaged, "DE");
    world.must(placed("D-1", "C-1", Some("bag 1")));
    assert!(wrong(&world).is_some());
    world.must(put_on("C-1", Some(Fate::Quarantine)));
    assert_eq!(wrong(&world), None);
}

#[test]
fn a_label_that_says_less_than_was_decided_may_wait() {
    let mut world = World::new();
    world.assess("C-1", Fate::Undecided, CellState::Intact);
    world.must(put_on("C-1", Some(Fate::Undecided)));
    world.assess("C-1", Fate::Recycle, CellState::Intact);
    let told = of(&world, "C-1");
    assert!(told.iter().any(|item| item.urgency == Urgency::Open && item.what.contains("it says undecided")));
}

#[test]
fn a_struck_label_is_none_and_a_spare_may_bear_one_before_it_is_tested() {
    let mut world = World::new();
    world.must(put_on("SPARE-1", None));
    assert!(of(&world, "SPARE-1").is_empty(), "a name alone says nothing wrong");
    world.assess("C-1", Fate::Recycle, CellState::Intact);
    let entry = world.next();
    world.must(put_on("C-1", Some(Fate::Recycle)));
    world.must(Event::Correction(Correction {
        entry,
        of: "label-put-on".to_owned(),
        subject: "C-1".to_owned(),
        because: "on another cell".to_owned(),
        strike: true,
    }));
    assert!(of(&world, "C-1")[0].what.ends_with("; no label is noted"));
}
