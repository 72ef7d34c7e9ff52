//! Days: clocks at their ends, leap days, the change of the waste codes, days that cannot be.

use super::*;
use crate::due::due;

/// A container in the United States with one cell whose decision fell on a day.
fn with_decision(day: Date) -> World {
    let mut world = World::new();
    world.today = day;
    world.intact("PE-1");
    world.open("BOX", ContainerKind::Intact, "US");
    world.must(placed("BOX", "PE-1", None));
    world
}

fn clock(world: &mut World, today: Date) -> (Date, i64) {
    world.today = today;
    let item =
        due(&world.state, &world.circumstances()).into_iter().find(|item| item.subject == "BOX").unwrap();
    (item.on, item.days_left)
}

#[test]
fn the_year_runs_from_the_decision_to_the_same_day_of_the_next_year() {
    for (decided, end) in [
        (date(2026, 11, 25), date(2027, 11, 25)),
        (date(2027, 3, 1), date(2028, 3, 1)),
        (date(2028, 2, 29), date(2029, 2, 28)),
        (date(2026, 12, 31), date(2027, 12, 31)),
    ] {
        let mut world = with_decision(decided);
        assert_eq!(clock(&mut world, end), (end, 0), "{decided}: the last day");
        let after = end.tomorrow().unwrap();
        assert_eq!(clock(&mut world, after), (end, -1), "{decided}: overdue");
    }
}

#[test]
fn the_earliest_decision_in_the_container_counts_and_moving_does_not_reset_it() {
    let mut world = with_decision(date(2026, 3, 10));
    world.today = date(2026, 11, 25);
    world.intact("PE-2");
    world.must(placed("BOX", "PE-2", None));
    assert_eq!(clock(&mut world, TODAY).0, date(2027, 3, 10));
    world.must(taken_out("PE-1"));
    assert_eq!(clock(&mut world, TODAY).0, date(2027, 11, 25));
    world.must(placed("BOX", "PE-1", None));
    assert_eq!(clock(&mut world, TODAY).0, date(2027, 3, 10), "the clock of the cell has run on");
}

#[test]
fn a_new_assessment_or_judgement_never_sets_a_clock_back() {
    let mut world = with_decision(date(2026, 3, 10));
    world.today = TODAY;
    world.intact("PE-1");
    assert_eq!(world.state.cells["PE-1"].discarded_on(), Some(date(2026, 3, 10)));
}

#[test]
fn quarantine_alone_starts_no_clock_but_a_waste_container_does() {
    let mut world = World::new();
    world.damaged("PE-1");
    assert_eq!(world.state.cells["PE-1"].discarded_on(), None);
    world.open("Q", ContainerKind::Quarantine, "US");
    world.open("BOX", ContainerKind::Damaged, "US");
    world.must(placed("Q", "PE-1", Some("a")));
    assert_eq!(world.state.cells["PE-1"].discarded_on(), None);
    world.must(taken_out("PE-1"));
    world.must(placed("BOX", "PE-1", Some("a")));
    assert_eq!(clock(&mut world, TODAY), (date(2027, 11, 25), 365));
}

#[test]
fn europe_has_no_counted_year_here() {
    let mut world = World::new();
    world.intact("PE-1");
    world.open("BOX", ContainerKind::Intact, "DE");
    world.must(placed("BOX", "PE-1", None));
    assert_eq!(due(&world.state, &world.circumstances()), Vec::new());
}

#[test]
fn overdue_items_come_first() {
    let mut world = with_decision(date(2025, 10, 1));
    world.today = TODAY;
    world.damaged("PE-9");
    world.must(hold("PE-9", date(2026, 12, 23)));
    let items = due(&world.state, &world.circumstances());
    let days: Vec<i64> = items.iter().map(|item| item.days_left).collect();
    assert_eq!(days, [-55, 1, 28], "{items:?}");
    assert_eq!(items[0].when(), "55 days overdue");
}

/// One intact cell in a container in Germany, whose shipment S1 was drafted and agreed on a day.
fn agreed_on(day: Date) -> World {
    let mut world = World::new();
    world.today = day;
    world.intact("PE-1");
    world.open("BOX", ContainerKind::Intact, "DE");
    world.must(placed("BOX", "PE-1", None));
    let request = world.request("S1", "BOX");
    world.draft(&request).unwrap();
    world.must(agreed("S1"));
    world
}

#[test]
fn papers_drafted_before_the_change_of_codes_are_not_used_after_it() {
    let (eve, day) = (date(2026, 12, 8), date(2026, 12, 9));
    let mut world = agreed_on(eve);
    assert!(matches!(world.hand_over("S1", Some("16 06 07*")), Err(Refusal::WasteCode { .. })));

    world.today = day;
    for code in ["16 02 15*", "16 06 07*"] {
        assert!(matches!(world.hand_over("S1", Some(code)), Err(Refusal::DraftOutdated { .. })), "{code}");
    }
    world.must(withdrawn("S1"));
    let request = world.request("S2", "BOX");
    world.draft(&request).unwrap();
    world.must(agreed("S2"));
    assert!(matches!(world.hand_over("S2", Some("16 02 15*")), Err(Refusal::WasteCode { .. })));
    assert!(
        matches!(world.hand_over("S2", None), Err(Refusal::WasteCode { .. })),
        "two codes: a person chooses"
    );
    world.hand_over("S2", Some("16 06 07*")).unwrap();
}

#[test]
fn a_hand_over_on_the_eve_uses_the_old_code_also_when_it_is_written_down_later() {
    let mut world = agreed_on(date(2026, 12, 8));
    world.today = date(2026, 12, 10);
    world.try_on(date(2026, 12, 8), handed_over("S1", Some("16 02 15*"))).unwrap();
}

#[test]
fn days_that_cannot_be_are_refused() {
    let mut world = World::new();
    world.intact("PE-1");
    world.open("BOX", ContainerKind::Intact, "DE");
    let (before, after) = (date(2026, 11, 24), date(2026, 11, 26));
    assert!(matches!(world.try_on(after, placed("BOX", "PE-1", None)), Err(Refusal::BadDay { .. })));
    assert!(matches!(world.try_on(before, placed("BOX", "PE-1", None)), Err(Refusal::BadDay { .. })));
    let judged = world.judgement("PE-1", LegalState::IntactWaste);
    assert!(matches!(world.try_on(before, judged.clone()), Err(Refusal::BadDay { .. })));
    let Event::Judgement(mut later) = judged else { unreachable!() };
    later.decided_on = Some(after);
    assert!(matches!(world.attempt(Event::Judgement(later)), Err(Refusal::BadDay { .. })));
    world.must(placed("BOX", "PE-1", None));
    let mut request = world.request("S1", "BOX");
    request.planned_on = before;
    assert!(matches!(world.draft(&request), Err(Refusal::BadDay { .. })));
    request.planned_on = TODAY;
    world.draft(&request).unwrap();
    world.must(agreed("S1"));
    assert!(matches!(
        world.try_on(before, handed_over("S1", Some("16 02 15*"))),
        Err(Refusal::BadDay { .. })
    ));
}
