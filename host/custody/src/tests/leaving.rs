//! What leaves without a shipment counts no more; what comes back counts again, and is screened before anything else.

use super::*;
use crate::cell::Whereabouts;
use crate::counters::of_site;
use crate::due::{Urgency, due};
use crate::refusal_on_leaving::RefusalOnLeaving as Because;
use celltriage_verdict::KNOWN_TABLE;

fn lies(world: &World, cell: &str) -> Whereabouts {
    world.state.cells[cell].whereabouts.clone()
}

fn site_mass(world: &World) -> Vec<Option<String>> {
    let place = "US".parse().unwrap();
    of_site(&world.state, &place, &world.circumstances()).into_iter().map(|one| one.counted).collect()
}

fn is_due(world: &World, subject: &str) -> Vec<String> {
    let all = due(&world.state, &world.circumstances());
    all.into_iter().filter(|item| item.subject == subject).map(|item| item.what).collect()
}

/// An intact cell and a damaged one in their boxes, one under watch, one that serves, one that is critical.
fn shop() -> World {
    let mut world = World::new();
    world.open("IN", ContainerKind::Intact, "US");
    world.open("DD", ContainerKind::Damaged, "US");
    world.intact("PE-1");
    world.must(placed("IN", "PE-1", None));
    world.damaged("PE-2");
    world.must(placed("DD", "PE-2", Some("a")));
    world.assess("PE-3", Fate::Reuse, CellState::Intact);
    world.must(hold("PE-3", date(2026, 12, 23)));
    world.assess("PE-4", Fate::Reuse, CellState::Intact);
    world.assess("PE-5", Fate::Quarantine, CellState::DamagedOrDefective);
    world.must(escalation("PE-5"));
    world
}

#[test]
fn what_happens_to_the_shop_is_written_down_whatever_the_cell_is() {
    for how in WayOut::ALL.into_iter().filter(|how| how.happens_to_us()) {
        for cell in ["PE-1", "PE-2", "PE-3", "PE-4", "PE-5"] {
            let mut world = shop();
            let event = world.left(cell, untold(how));
            world.must(event);
            let Whereabouts::Left { how: as_told, on, .. } = lies(&world, cell) else { panic!("{how:?}") };
            assert_eq!((as_told, on), (how, TODAY));
            assert!(is_due(&world, cell).is_empty(), "{how:?} {cell}: {:?}", is_due(&world, cell));
            assert!(world.attempt(hold(cell, TODAY)).is_err());
            let without = Departure { because: None, ..departure(how) };
            let mut world = shop();
            let event = world.left(cell, without);
            assert_eq!(world.attempt(event), Err(Refusal::BadText("text on what happened")));
        }
    }
}

#[test]
fn what_leaves_counts_no_more_and_what_comes_back_counts_again() {
    let mut world = shop();
    let before = site_mass(&world);
    let event = world.left("PE-1", departure(WayOut::Stolen));
    world.must(event);
    assert_eq!(world.state.cells_in("IN").count(), 0);
    assert_ne!(site_mass(&world), before);
    assert!(is_due(&world, "IN").is_empty(), "no clock runs for what is not there");
    world.today = date(2026, 12, 1);
    world.must(back("PE-1", WayBack::Found));
    assert_eq!(lies(&world, "PE-1"), Whereabouts::Loose);
    assert_eq!(site_mass(&world), before, "it counts again, from the day it was first discarded");
    let cell = &world.state.cells["PE-1"];
    assert_eq!((cell.legal(), cell.discarded_on()), (LegalState::Unknown, Some(TODAY)));
    assert!(cell.to_screen().is_some_and(|screening| screening.because.contains("found again")));
    let refused = world.attempt(placed("IN", "PE-1", None));
    assert!(matches!(refused, Err(Refusal::WrongMix { .. })), "{refused:?}");
    let judged = world.judgement("PE-1", LegalState::IntactWaste);
    world.must(judged);
    world.must(placed("IN", "PE-1", None));
}

#[test]
fn a_cell_for_reuse_that_was_away_is_assessed_again_before_it_serves() {
    let mut world = shop();
    let event = world.left("PE-4", departure(WayOut::Sold));
    world.must(event);
    assert!(!is_due(&world, "PE-4").iter().any(|what| what.contains("judge")));
    world.must(back("PE-4", WayBack::BroughtBack));
    let again = world.left("PE-4", departure(WayOut::Sold));
    assert!(matches!(world.attempt(again), Err(Refusal::OnLeaving(Because::NotThisWay { .. }))));
    assert!(matches!(world.attempt(fitted("PE-4", true)), Err(Refusal::NotProven { .. })));
    assert_eq!(is_due(&world, "PE-4").len(), 1, "{:?}", is_due(&world, "PE-4"));
    world.assess("PE-4", Fate::Reuse, CellState::Intact);
    let again = world.left("PE-4", departure(WayOut::Sold));
    world.must(again);
}

#[test]
fn what_is_found_of_a_cell_decides_whether_the_shop_gives_it_away() {
    for row in KNOWN_TABLE {
        for how in [WayOut::HandedBack, WayOut::Sold, WayOut::Refurbisher, WayOut::Recycler] {
            let mut world = World::new();
            world.assess_with("PE-1", Fate::Reuse, CellState::Intact, |facts| {
                facts.found = vec![found(1, row.found)];
            });
            let event = world.left("PE-1", departure(how));
            let done = world.attempt(event);
            let may = how == WayOut::HandedBack && !row.bars.leaving;
            assert_eq!(done.is_ok(), may, "{how:?} of what is {}: {done:?}", row.words);
        }
    }
}

#[test]
fn whoever_takes_a_cell_with_something_against_it_is_told() {
    let mut world = shop();
    world.must(taken_out("PE-2"));
    let event = world.left("PE-2", untold(WayOut::HandedBack));
    let Err(Refusal::OnLeaving(Because::NotTold { against, .. })) = world.attempt(event) else {
        panic!("nothing was told")
    };
    assert!(against.contains("judged damaged"), "{against}");
    let event = world.left("PE-2", departure(WayOut::HandedBack));
    let Event::CellLeft(left) = &event else { unreachable!() };
    assert!(left.against.iter().any(|text| text.contains("judged damaged")), "{:?}", left.against);
    world.must(event);
    // Of a cell that was tested and found good there is nothing to tell.
    let event = world.left("PE-4", untold(WayOut::HandedBack));
    world.must(event);
    let nameless = Departure { to: None, ..departure(WayOut::HandedBack) };
    let event = world.left("PE-1", nameless);
    assert_eq!(world.attempt(event), Err(Refusal::BadText("name of who takes it")));
}

#[test]
fn only_plain_waste_goes_to_a_recycler_without_papers_and_nothing_held_goes_at_all() {
    let mut world = shop();
    let event = world.left("PE-2", departure(WayOut::Recycler));
    assert!(matches!(world.attempt(event), Err(Refusal::OnLeaving(Because::OnlyWithPapers { .. }))));
    let event = world.box_left("DD", departure(WayOut::Recycler));
    assert!(matches!(world.attempt(event), Err(Refusal::OnLeaving(Because::OnlyWithPapers { .. }))));
    for how in [WayOut::HandedBack, WayOut::Sold, WayOut::Refurbisher, WayOut::Recycler] {
        let event = world.left("PE-3", departure(how));
        assert!(matches!(world.attempt(event), Err(Refusal::UnderWatch { .. })), "{how:?}");
        let event = world.left("PE-5", departure(how));
        assert!(matches!(world.attempt(event), Err(Refusal::Critical(_))), "{how:?}");
    }
    world.draft(&world.request("S1", "IN")).unwrap();
    let event = world.left("PE-1", departure(WayOut::Recycler));
    assert!(matches!(world.attempt(event), Err(Refusal::ContainerDrafted { .. })));
    world.must(withdrawn("S1"));
    let event = world.left("PE-1", departure(WayOut::Recycler));
    world.must(event);
}

#[test]
fn a_cell_in_a_device_leaves_with_it_once_it_is_to_stay() {
    let mut world = shop();
    world.must(fitted("PE-4", false));
    let event = world.left("PE-4", departure(WayOut::HandedBack));
    assert!(matches!(world.attempt(event), Err(Refusal::IsFitted { .. })));
    world.must(out_of_device("PE-4"));
    world.assess("PE-4", Fate::Reuse, CellState::Intact);
    world.must(fitted("PE-4", true));
    let event = world.left("PE-4", untold(WayOut::HandedBack));
    world.must(event);
    world.must(back("PE-4", WayBack::BroughtBack));
    assert_eq!(lies(&world, "PE-4"), Whereabouts::Loose);
}

#[test]
fn a_watch_rests_while_its_cell_is_away_and_begins_again() {
    let mut world = shop();
    let event = world.left("PE-3", departure(WayOut::Authority));
    world.must(event);
    assert!(!world.state.watched.contains("PE-3"));
    world.today = date(2027, 3, 1);
    world.must(back("PE-3", WayBack::BroughtBack));
    assert!(world.state.watched.contains("PE-3"));
    let watch = world.state.cells["PE-3"].watch.as_ref().unwrap();
    assert_eq!((watch.since, watch.hold.until), (date(2027, 3, 1), date(2027, 3, 29)), "28 days as before");
    world.must(inspection("PE-3", Look::Unchanged, Some(18.0)));
    assert!(matches!(world.attempt(release("PE-3")), Err(Refusal::NotReleasable { .. })));
}

#[test]
fn a_box_is_stolen_with_what_is_in_it_and_found_again_with_what_is_left() {
    let mut world = shop();
    world.damaged("PE-6");
    world.must(placed("DD", "PE-6", Some("b")));
    let event = world.box_left("DD", departure(WayOut::Stolen));
    world.must(event);
    let refused = world.attempt(placed("DD", "PE-1", Some("c")));
    assert!(
        matches!(
            refused,
            Err(Refusal::OnLeaving(Because::ContainerLeft { .. })) | Err(Refusal::ElsewhereAlready { .. })
        ),
        "{refused:?}"
    );
    assert!(
        world.attempt(opened("dd", ContainerKind::Damaged, "US")).is_ok(),
        "its name is free for the eye"
    );
    world.must(back("PE-6", WayBack::Found));
    let event = world.box_back("DD", WayBack::Found);
    let Event::ContainerReturned(returned) = &event else { unreachable!() };
    assert_eq!(returned.cells.iter().map(|one| one.cell.as_str()).collect::<Vec<_>>(), ["PE-2"]);
    world.must(event);
    assert!(matches!(lies(&world, "PE-2"), Whereabouts::In { inner: Some(inner), .. } if inner == "a"));
    let what = is_due(&world, "PE-2");
    assert!(what.is_empty(), "a damaged cell lies rightly there, whatever else is to be judged: {what:?}");
    let again = world.box_back("DD", WayBack::Found);
    assert!(matches!(world.attempt(again), Err(Refusal::OnLeaving(Because::IsHere(_)))));
    assert!(matches!(world.draft(&world.request("S1", "DD")), Err(Refusal::NotJudged(_))));
}

#[test]
fn nothing_comes_back_from_a_fire() {
    let mut world = shop();
    for how in [WayOut::Burnt, WayOut::TakenApart] {
        let cell = if how == WayOut::Burnt { "PE-5" } else { "PE-4" };
        let event = world.left(cell, departure(how));
        world.must(event);
        let refused = world.attempt(back(cell, WayBack::Found));
        assert!(matches!(refused, Err(Refusal::OnLeaving(Because::Destroyed { .. }))), "{refused:?}");
    }
    assert!(matches!(
        world.attempt(back("PE-1", WayBack::Found)),
        Err(Refusal::OnLeaving(Because::IsHere(_)))
    ));
}

/// A shipment of two cells that was handed over.
fn handed() -> World {
    let mut world = World::new();
    world.open("IN", ContainerKind::Intact, "US");
    for cell in ["PE-1", "PE-2"] {
        world.intact(cell);
        world.must(placed("IN", cell, None));
    }
    let early = world.attempt(followed("S1", FollowUp::Receipt { reference: "r".to_owned(), net: None }));
    assert!(matches!(early, Err(Refusal::UnknownShipment(_))));
    world.draft(&world.request("S1", "IN")).unwrap();
    let early = world.attempt(refused("S1", &["PE-1"]));
    assert!(matches!(early, Err(Refusal::OnLeaving(Because::NotHandedOver(_)))));
    world.must(agreed("S1"));
    world.hand_over("S1", None).unwrap();
    world
}

#[test]
fn a_receipt_a_weight_and_a_certificate_follow_a_shipment() {
    let mut world = handed();
    let (reference, net) = ("slip 9".to_owned(), Some(Milligrams::grams(85)));
    world.must(followed("S1", FollowUp::Receipt { reference, net }));
    let (number, issued_by) = ("C-118".to_owned(), "Gull Point Recycling".to_owned());
    world.must(followed("S1", FollowUp::Certificate { number, issued_by }));
    let shipment = &world.state.shipments["S1"];
    assert_eq!(shipment.weighed_words().unwrap(), "85 g at the receiver, 90 g counted here: 5 g less");
    assert_eq!(shipment.followed.len(), 2);
    assert!(is_due(&world, "S1").is_empty());
}

#[test]
fn what_a_receiver_refuses_is_due_until_it_is_back_or_settled() {
    let mut world = handed();
    let refused_cell = |cells: &[&str]| refused("S1", cells);
    assert!(matches!(
        world.attempt(refused_cell(&["PE-9"])),
        Err(Refusal::OnLeaving(Because::NotAtReceiver { .. }))
    ));
    world.must(refused_cell(&["PE-1"]));
    assert!(world.attempt(refused_cell(&["PE-1"])).is_err(), "twice");
    assert_eq!(is_due(&world, "S1").len(), 1);
    assert_eq!(due(&world.state, &world.circumstances())[0].urgency, Urgency::Now);
    world.must(back("PE-1", WayBack::Refused));
    assert!(is_due(&world, "S1").is_empty() && !is_due(&world, "PE-1").is_empty());
    world.must(refused_cell(&["PE-2"]));
    world.must(followed("S1", FollowUp::Settled { because: "taken on a new paper".to_owned() }));
    assert!(is_due(&world, "S1").is_empty());
    assert!(matches!(lies(&world, "PE-2"), Whereabouts::HandedOver { .. }));
}

#[test]
fn a_box_that_the_carrier_returns_is_open_again_and_goes_with_new_papers() {
    let mut world = handed();
    let event = world.box_back("IN", WayBack::Carrier);
    world.must(event);
    assert_eq!(world.state.shipments["S1"].returned.len(), 2);
    let what = is_due(&world, "PE-1");
    assert!(what[0].starts_with("judge it again or take it out of its container: it came back"), "{what:?}");
    assert!(world.draft(&world.request("S2", "IN")).is_err(), "nobody has judged what came back");
    for cell in ["PE-1", "PE-2"] {
        let judged = world.judgement(cell, LegalState::IntactWaste);
        world.must(judged);
    }
    world.draft(&world.request("S2", "IN")).unwrap();
    world.must(agreed("S2"));
    world.hand_over("S2", None).unwrap();
    assert!(matches!(lies(&world, "PE-1"), Whereabouts::HandedOver { shipment, .. } if shipment == "S2"));
}
