//! What happened against the rules is written down as it was, makes nothing possible, and is open until it is put right.

use super::*;
use crate::cell::Whereabouts;
use crate::check::broken_rules;
use crate::due::due;
use crate::refusal_of_irregular::RefusalOfIrregular as Because;

const ACTION: &str = "taken out and put apart at once";

fn shop() -> World {
    let mut world = World::new();
    world.open("IN", ContainerKind::Intact, "US");
    world.open("DD", ContainerKind::Damaged, "US");
    for cell in ["PE-1", "PE-2"] {
        world.intact(cell);
        world.must(placed("IN", cell, None));
    }
    world.damaged("PE-3");
    world.must(placed("DD", "PE-3", Some("a")));
    world.assess("PE-4", Fate::Reuse, CellState::Intact);
    world
}

/// The refusal that is told for what is wrong with an event as an irregularity.
fn why(world: &World, event: Event) -> Refusal {
    world.irregular(event, ACTION).unwrap_err()
}

fn open_items(world: &World, name: &str) -> Vec<String> {
    let all = due(&world.state, &world.circumstances()).into_iter();
    all.filter(|item| item.subject == name && item.what.starts_with("IRREGULAR"))
        .map(|item| item.what)
        .collect()
}

#[test]
fn a_damaged_cell_found_among_intact_ones_is_written_down_and_open_until_put_right() {
    let mut world = shop();
    let found = placed("IN", "PE-3", None);
    assert!(matches!(world.attempt(found.clone()), Err(Refusal::ElsewhereAlready { .. })));
    let entry = world.next();
    let event = world.irregular(found, ACTION).unwrap();
    let Event::Irregularity(told) = &event else { unreachable!() };
    assert_eq!(told.breaks.len(), 2, "{:?}", told.breaks);
    assert!(told.breaks[1].contains("the two are never mixed"), "{:?}", told.breaks);
    world.must(event);
    assert_eq!(world.state.cells["PE-3"].container(), Some("IN"), "as it was");
    let [item] = open_items(&world, "PE-3").try_into().unwrap();
    assert!(item.contains("never mixed") && item.contains(ACTION), "{item}");
    let all = due(&world.state, &world.circumstances());
    assert!(all.iter().any(|item| item.what.starts_with("take it out of its container")), "{all:?}");
    assert!(world.draft(&world.request("S1", "IN")).is_err(), "nothing leaves so");

    let empty = remedy(&world, entry, "");
    assert_eq!(world.attempt(empty), Err(Refusal::BadText("text on what was done")));
    let other =
        Event::Remedy(Remedy { about: Named::Cell, name: "PE-1".to_owned(), entry, done: "x".to_owned() });
    assert_eq!(world.attempt(other), Err(Because::NoIrregularity(entry).into()));
    world.must(taken_out("PE-3"));
    assert_eq!(open_items(&world, "PE-3").len(), 1, "moved, and nobody has said that it is right now");
    let put_right = remedy(&world, entry, "back in DD; the box looked through, all dry");
    let by = world.next();
    world.must(put_right.clone());
    assert!(open_items(&world, "PE-3").is_empty());
    assert_eq!(world.attempt(put_right), Err(Because::PutRight { entry, by }.into()));
}

#[test]
fn what_the_rules_allow_is_not_irregular_and_a_slip_of_the_pen_stays_one() {
    let world = shop();
    assert_eq!(why(&world, taken_out("PE-1")), Because::Regular.into());
    assert!(matches!(why(&world, placed("IN", "PE-9", None)), Refusal::UnknownCell(_)));
    assert!(matches!(why(&world, placed("XX", "PE-1", None)), Refusal::UnknownContainer(_)));
    assert!(matches!(why(&world, taken_out("PE-4")), Refusal::NotInContainer(_)));
    assert!(matches!(
        why(&world, world.judgement("PE-3", LegalState::NotWaste)),
        Refusal::OfIrregular(Because::NotSo(_))
    ));
    assert!(matches!(why(&world, hold("PE-1", TODAY)), Refusal::OfIrregular(Because::NotSo(_))));
    let tomorrow = date(2026, 11, 26);
    let signed = Signed {
        schema: SCHEMA,
        by: "Ines Harrow".to_owned(),
        on: tomorrow,
        event: placed("IN", "PE-3", None),
    };
    let refused = broken_rules(&world.state, &signed, &world.circumstances());
    assert!(matches!(refused, Err(Refusal::BadDay { .. })), "{refused:?}");
}

#[test]
fn the_rules_that_it_breaks_are_those_of_the_book_and_of_nobody_else() {
    let mut world = shop();
    let mut event = world.irregular(placed("IN", "PE-3", None), ACTION).unwrap();
    if let Event::Irregularity(told) = &mut event {
        told.breaks = vec!["nothing much".to_owned()];
    }
    assert!(matches!(world.attempt(event), Err(Refusal::OfIrregular(Because::Outdated(_)))));
    let event = world.irregular(placed("IN", "PE-3", None), "").unwrap();
    assert_eq!(world.attempt(event), Err(Refusal::BadText("text on what is done about it")));
}

#[test]
fn a_box_that_left_without_papers_counts_no_more_and_stays_flagged() {
    let mut world = shop();
    let without = world.box_left("DD", departure(WayOut::Recycler));
    let entry = world.next();
    let event = world.irregular(without, "called the recycler; papers follow").unwrap();
    world.must(event);
    assert!(!world.state.containers["DD"].is_here());
    assert!(world.state.cells["PE-3"].whereabouts.is_gone());
    let irregular = &world.state.irregularities[&entry];
    assert!(irregular.concerns.contains("PE-3") && irregular.told.breaks[0].contains("without a shipment"));
    assert_eq!(open_items(&world, "DD").len(), 1);
    let put_right = remedy(&world, entry, "papers D-9 sent after it");
    world.must(put_right);
    assert!(open_items(&world, "DD").is_empty());
}

#[test]
fn a_hand_over_under_a_wrong_code_or_without_agreement_is_written_down_with_both() {
    let mut world = World::new();
    world.open("IN", ContainerKind::Intact, "DE");
    world.intact("PE-1");
    world.must(placed("IN", "PE-1", None));
    world.draft(&world.request("S1", "IN")).unwrap();
    let event = world.irregular(handed_over("S1", Some("20 01 34")), ACTION).unwrap();
    let Event::Irregularity(told) = &event else { unreachable!() };
    assert!(told.breaks[0].contains("no receiver has agreed"), "{:?}", told.breaks);
    world.must(agreed("S1"));
    let entry = world.next();
    let event = world.irregular(handed_over("S1", Some("20 01 34")), ACTION).unwrap();
    let Event::Irregularity(told) = &event else { unreachable!() };
    assert!(told.breaks[0].contains("waste code 20 01 34 may not be used"), "{:?}", told.breaks);
    assert_eq!((told.about, told.name.as_str()), (Named::Shipment, "S1"));
    world.must(event);
    assert!(matches!(world.state.cells["PE-1"].whereabouts, Whereabouts::HandedOver { .. }));
    assert!(world.state.irregularities[&entry].concerns.contains("PE-1"));
    assert_eq!(open_items(&world, "S1").len(), 1);
}

#[test]
fn other_cells_than_the_draft_names_did_not_leave_with_it() {
    let mut world = shop();
    world.draft(&world.request("S1", "IN")).unwrap();
    world.must(agreed("S1"));
    let event = world.irregular(placed("IN", "PE-3", None), ACTION).unwrap();
    world.must(event);
    assert!(matches!(why(&world, handed_over("S1", None)), Refusal::OfIrregular(Because::OtherCells { .. })));
}

#[test]
fn nothing_that_happened_against_the_rules_makes_a_cell_fit_to_serve() {
    let mut world = shop();
    let critical = escalation("PE-3");
    world.must(critical);
    let known = world.state.cells["PE-3"].known();
    let event = world.irregular(taken_out("PE-3"), ACTION).unwrap();
    world.must(event);
    let cell = &world.state.cells["PE-3"];
    assert_eq!(
        (cell.legal(), cell.known(), &cell.whereabouts),
        (LegalState::Critical, known, &Whereabouts::Loose)
    );
    // A cell for reuse that was found in a box for waste is screened again.
    assert!(world.state.cells["PE-4"].is_for_reuse());
    let event = world.irregular(placed("DD", "PE-4", Some("b")), ACTION).unwrap();
    world.must(event);
    world.must(taken_out("PE-4"));
    let cell = &world.state.cells["PE-4"];
    assert!(!cell.is_for_reuse() && cell.to_screen().is_some());
    assert!(matches!(
        world.attempt(fitted("PE-4", true)),
        Err(Refusal::NotProven { .. } | Refusal::NotToBeFitted { .. })
    ));
    // What was fitted although it is damaged is in the device, and comes out as damaged as it was.
    world.damaged("PE-5");
    let event = world.irregular(fitted("PE-5", true), ACTION).unwrap();
    world.must(event);
    assert!(matches!(world.state.cells["PE-5"].whereabouts, Whereabouts::Fitted { stays: true, .. }));
    let event = world.left("PE-5", untold(WayOut::HandedBack));
    assert!(world.attempt(event).is_err(), "its owner is told");
    world.must(out_of_device("PE-5"));
    assert!(world.state.cells["PE-5"].damaged_for().is_some());
}

#[test]
fn what_no_event_says_is_noted_in_words() {
    let mut world = shop();
    let note = |name: &str, breaks: &[&str]| {
        Event::Irregularity(Box::new(Irregularity {
            about: Named::Container,
            name: name.to_owned(),
            event: None,
            happened: Some("stood open in the yard overnight".to_owned()),
            breaks: breaks.iter().map(|rule| (*rule).to_owned()).collect(),
            action: "closed; lock bought".to_owned(),
        }))
    };
    assert!(matches!(world.attempt(note("XX", &["closed at all times"])), Err(Refusal::UnknownContainer(_))));
    assert_eq!(world.attempt(note("DD", &[])), Err(Refusal::BadText("rule that it breaks")));
    world.must(note("DD", &["closed at all times"]));
    assert_eq!(open_items(&world, "DD").len(), 1);
}

#[test]
fn a_simulated_cell_is_in_no_irregularity() {
    let mut world = shop();
    world.assess_with("PE-8", Fate::Quarantine, CellState::DamagedOrDefective, |facts| {
        facts.simulated = Some(true);
    });
    for event in [placed("IN", "PE-8", None), world.left("PE-8", departure(WayOut::Sold))] {
        assert!(matches!(why(&world, event), Refusal::OfIrregular(Because::Simulated(_))));
    }
}
