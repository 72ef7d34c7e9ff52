//! What gets no papers, and what no longer changes once it has left.

use super::*;

/// A container of a kind and place with one judged cell in it.
fn ready(kind: ContainerKind, place: &str) -> World {
    let mut world = World::new();
    match kind {
        ContainerKind::Intact => world.intact("PE-1"),
        _ => world.damaged("PE-1"),
    }
    world.open("BOX", kind, place);
    world.must(placed("BOX", "PE-1", Some("a")));
    world
}

#[test]
fn nothing_goes_by_air_from_anywhere() {
    for place in ["US", "DE", "GB", "CA-ON", "JP"] {
        for kind in [ContainerKind::Intact, ContainerKind::Damaged] {
            let mut world = ready(kind, place);
            let request = Request { mode: Mode::Air, ..world.request("S1", "BOX") };
            let refused = world.draft(&request).unwrap_err();
            assert!(
                matches!(refused, Refusal::Air(_)) && refused.to_string().contains('['),
                "{place}: {refused}"
            );
            assert!(world.state.shipments.is_empty());
        }
    }
}

#[test]
fn a_draft_made_elsewhere_for_air_is_refused_too() {
    let mut world = ready(ContainerKind::Intact, "DE");
    let request = world.request("S1", "BOX");
    let mut draft = draft::build(&world.state, &request, &world.circumstances()).unwrap();
    draft.mode = Mode::Air;
    let refused = world.attempt(Event::ShipmentDrafted(Box::new(draft.clone())));
    assert!(matches!(refused, Err(Refusal::Air(_))), "{refused:?}");
    draft.mode = Mode::Road;
    draft.contents.clear();
    let forged = world.attempt(Event::ShipmentDrafted(Box::new(draft)));
    assert!(matches!(forged, Err(Refusal::DraftOutdated { .. })), "contents come from the state only");
}

#[test]
fn one_critical_cell_blocks_the_papers_of_the_whole_container() {
    let mut world = ready(ContainerKind::Damaged, "DE");
    world.damaged("PE-2");
    world.must(placed("BOX", "PE-2", Some("b")));
    world.must(escalation("PE-2"));
    let request = world.request("S1", "BOX");
    assert_eq!(world.draft(&request), Err(Refusal::Critical("PE-2".to_owned())));
    assert_eq!(
        world.attempt(taken_out("PE-2")),
        Err(Refusal::Critical("PE-2".to_owned())),
        "nor is it moved"
    );
}

#[test]
fn a_cell_that_becomes_critical_after_the_draft_is_not_handed_over() {
    for event in [escalation("PE-1"), hold("PE-1", TODAY)] {
        let mut world = ready(ContainerKind::Damaged, "DE");
        let request = world.request("S1", "BOX");
        world.draft(&request).unwrap();
        world.must(agreed("S1"));
        world.must(event);
        let refused = world.hand_over("S1", Some("16 02 15*")).unwrap_err();
        assert!(matches!(refused, Refusal::Critical(_) | Refusal::UnderWatch { .. }), "{refused}");
    }
}

#[test]
fn an_unjudged_cell_is_not_sent_even_as_damaged() {
    let mut world = World::new();
    world.assess("PE-1", Fate::Quarantine, CellState::DamagedOrDefective);
    world.open("BOX", ContainerKind::Damaged, "DE");
    world.must(placed("BOX", "PE-1", Some("a")));
    let request = world.request("S1", "BOX");
    assert_eq!(world.draft(&request), Err(Refusal::NotJudged("PE-1".to_owned())));
}

#[test]
fn an_open_casing_gets_no_papers_in_the_united_states() {
    for (place, refused) in [("US", true), ("US-WA", true), ("DE", false)] {
        let mut world = World::new();
        world.assess("PE-1", Fate::Quarantine, CellState::CasingBreached);
        let judged = world.judgement("PE-1", LegalState::CasingBreached);
        world.must(judged);
        world.open("BOX", ContainerKind::Damaged, place);
        world.must(placed("BOX", "PE-1", Some("a")));
        let request = world.request("S1", "BOX");
        let drafted = world.draft(&request);
        assert_eq!(matches!(drafted, Err(Refusal::Forbidden { .. })), refused, "{place}: {drafted:?}");
    }
}

#[test]
fn an_empty_container_and_a_package_lighter_than_its_cell_get_no_papers() {
    let mut world = ready(ContainerKind::Intact, "DE");
    world.open("NONE", ContainerKind::Intact, "DE");
    let request = world.request("S1", "NONE");
    assert_eq!(world.draft(&request), Err(Refusal::Empty("NONE".to_owned())));
    let request = Request { gross: Milligrams::grams(44), ..world.request("S1", "BOX") };
    assert!(matches!(world.draft(&request), Err(Refusal::BadNumber(_))));
}

#[test]
fn a_drafted_container_is_closed_until_the_draft_is_given_up() {
    let mut world = ready(ContainerKind::Intact, "DE");
    world.intact("PE-2");
    let request = world.request("S1", "BOX");
    world.draft(&request).unwrap();
    assert!(matches!(world.attempt(placed("BOX", "PE-2", None)), Err(Refusal::ContainerDrafted { .. })));
    assert!(matches!(world.attempt(taken_out("PE-1")), Err(Refusal::ContainerDrafted { .. })));
    let again = world.request("S2", "BOX");
    assert!(matches!(world.draft(&again), Err(Refusal::ContainerDrafted { .. })));
    world.must(withdrawn("S1"));
    assert!(matches!(world.draft(&request), Err(Refusal::NameTaken { .. })), "a name is never used twice");
    world.draft(&again).unwrap();
    assert!(matches!(world.attempt(withdrawn("S1")), Err(Refusal::WrongStage { .. })));
}

#[test]
fn nothing_leaves_before_the_receiver_agreed() {
    let mut world = ready(ContainerKind::Intact, "US");
    let request = world.request("S1", "BOX");
    world.draft(&request).unwrap();
    assert_eq!(world.hand_over("S1", None), Err(Refusal::NotAgreed("S1".to_owned())));
    world.must(agreed("S1"));
    world.hand_over("S1", None).unwrap();
    assert!(matches!(world.hand_over("S1", None), Err(Refusal::WrongStage { .. })));
}

#[test]
fn what_changed_after_the_draft_needs_another_draft() {
    let mut world = ready(ContainerKind::Intact, "DE");
    let request = world.request("S1", "BOX");
    world.draft(&request).unwrap();
    world.must(agreed("S1"));
    world.must(Event::CellWeighed(CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams(52_000) }));
    assert!(matches!(world.hand_over("S1", Some("16 02 15*")), Err(Refusal::DraftOutdated { .. })));
}

#[test]
fn a_cell_that_has_left_is_not_changed_any_more() {
    let mut world = ready(ContainerKind::Intact, "DE");
    world.open("OTHER", ContainerKind::Intact, "DE");
    let request = world.request("S1", "BOX");
    let judged_again = world.judgement("PE-1", LegalState::DamagedOrDefective);
    world.draft(&request).unwrap();
    world.must(agreed("S1"));
    world.hand_over("S1", Some("16 02 15*")).unwrap();
    let before = world.state.clone();
    for event in [
        placed("OTHER", "PE-1", None),
        taken_out("PE-1"),
        judged_again,
        hold("PE-1", TODAY),
        inspection("PE-1", Look::Unchanged, Some(18.0)),
        escalation("PE-1"),
        release("PE-1"),
        Event::CellWeighed(CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams(1) }),
    ] {
        let kind = event.kind();
        assert!(matches!(world.attempt(event), Err(Refusal::CellGone { .. })), "{kind}");
    }
    world.state.cells.entry("PE-2".to_owned()).or_default().facts = before.cells["PE-1"].facts.clone();
    let refused = world.attempt(placed("BOX", "PE-2", None));
    assert!(matches!(refused, Err(Refusal::ContainerGone { .. })));
    let refused = world.attempt(opened("BOX", ContainerKind::Intact, "DE"));
    assert!(matches!(refused, Err(Refusal::NameTaken { .. })));
    assert_eq!(world.state.shipments, before.shipments);
    assert_eq!(world.state.cells["PE-1"], before.cells["PE-1"]);
    // A later assessment of the same name does not bring it back either.
    world.assess("PE-1", Fate::Recycle, CellState::Intact);
    assert_eq!(world.state.cells["PE-1"].whereabouts, before.cells["PE-1"].whereabouts);
}

#[test]
fn a_place_without_known_codes_takes_the_code_that_the_person_gives() {
    let mut world = ready(ContainerKind::Intact, "JP");
    let request = world.request("S1", "BOX");
    world.draft(&request).unwrap();
    world.must(agreed("S1"));
    assert_eq!(world.hand_over("S1", Some(" ")), Err(Refusal::BadText("waste code")));
    world.hand_over("S1", None).unwrap();
}
