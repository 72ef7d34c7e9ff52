//! Watches over suspicious cells: looks, release, escalation, corrections.

use super::*;

const END: Date = date(2026, 12, 23);

fn watched() -> World {
    let mut world = World::new();
    world.intact("PE-1");
    world.must(hold("PE-1", END));
    world
}

fn why_not(world: &mut World) -> String {
    match world.attempt(release("PE-1")) {
        Err(Refusal::NotReleasable { why, .. }) => why,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_watch_ends_only_after_its_last_day_with_a_cool_unchanged_look_on_it_or_later() {
    let mut world = watched();
    assert!(why_not(&mut world).contains("runs until 2026-12-23"));
    world.today = END;
    assert!(why_not(&mut world).contains("nobody has looked at it"));
    world.try_on(date(2026, 12, 22), inspection("PE-1", Look::Unchanged, Some(18.0))).unwrap();
    assert!(why_not(&mut world).contains("on 2026-12-23 or later"));
    world.must(inspection("PE-1", Look::Unchanged, None));
    assert!(why_not(&mut world).contains("not measured"));
    world.must(inspection("PE-1", Look::Unchanged, Some(20.1)));
    assert!(why_not(&mut world).contains("more than 2 K warmer"));
    world.must(inspection("PE-1", Look::Worse, Some(18.0)));
    assert!(why_not(&mut world).contains("changed"));
    world.must(inspection("PE-1", Look::Unchanged, Some(20.0)));
    world.must(release("PE-1"));
    assert_eq!(world.attempt(release("PE-1")), Err(Refusal::NotUnderWatch("PE-1".to_owned())));
}

#[test]
fn a_watch_ends_an_intact_judgement_and_its_release_does_not_bring_it_back() {
    let mut world = watched();
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Unknown);
    let early = world.judgement("PE-1", LegalState::IntactWaste);
    assert!(matches!(world.attempt(early), Err(Refusal::UnderWatch { .. })));
    world.today = END;
    world.must(inspection("PE-1", Look::Unchanged, Some(18.0)));
    world.must(release("PE-1"));
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Unknown);
    let judged = world.judgement("PE-1", LegalState::IntactWaste);
    world.must(judged);
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::IntactWaste);
}

#[test]
fn an_active_look_makes_the_cell_critical_and_no_release_is_possible() {
    let mut world = watched();
    world.must(inspection("PE-1", Look::Active, None));
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Critical);
    world.today = END;
    world.must(inspection("PE-1", Look::Unchanged, Some(18.0)));
    assert_eq!(world.attempt(release("PE-1")), Err(Refusal::Critical("PE-1".to_owned())));
    let damaged = world.judgement("PE-1", LegalState::DamagedOrDefective);
    world.must(damaged);
    world.must(release("PE-1"));
}

#[test]
fn a_cell_under_watch_stands_in_quarantine_only() {
    let mut world = watched();
    world.open("IN", ContainerKind::Intact, "DE");
    world.open("DD", ContainerKind::Damaged, "DE");
    world.open("Q", ContainerKind::Quarantine, "DE");
    assert!(matches!(world.attempt(placed("IN", "PE-1", None)), Err(Refusal::WrongMix { .. })));
    assert!(matches!(world.attempt(placed("DD", "PE-1", Some("a"))), Err(Refusal::UnderWatch { .. })));
    world.must(placed("Q", "PE-1", Some("a")));
    let request = world.request("S1", "Q");
    assert_eq!(world.draft(&request), Err(Refusal::NotJudged("PE-1".to_owned())));
    let damaged = world.judgement("PE-1", LegalState::DamagedOrDefective);
    world.must(damaged);
    assert_eq!(world.draft(&request), Err(Refusal::QuarantineIsNotSent("Q".to_owned())));
}

#[test]
fn a_milder_judgement_needs_a_reason_and_every_answer() {
    let mut world = World::new();
    world.assess("PE-1", Fate::Recycle, CellState::Unknown);
    let Event::Judgement(good) = world.judgement("PE-1", LegalState::IntactWaste) else { unreachable!() };
    let refused = |world: &mut World, change: &dyn Fn(&mut Judgement)| {
        let mut changed = good.clone();
        change(&mut changed);
        match world.attempt(Event::Judgement(changed)) {
            Err(Refusal::BadJudgement(text)) => text,
            Err(milder @ Refusal::Milder { .. }) => milder.to_string(),
            other => panic!("{other:?}"),
        }
    };
    assert!(refused(&mut world, &|judged| judged.because = None).contains("milder"));
    let text = refused(&mut world, &|judged| {
        judged.answers.remove(&Criterion::Misuse);
    });
    assert!(text.contains("not answered: misuse"), "{text}");
    let text = refused(&mut world, &|judged| {
        judged.answers.insert(Criterion::Swollen, Answer::Yes);
    });
    assert!(text.contains("answered yes: swollen"), "{text}");
    assert!(
        refused(&mut world, &|judged| judged.state = LegalState::Unknown).contains("without a judgement")
    );
    assert!(refused(&mut world, &|judged| judged.assessment = 99).contains("assessed again"));
    assert!(refused(&mut world, &|judged| judged.decided_on = None).contains("is missing"));
    let text = refused(&mut world, &|judged| {
        judged.state = LegalState::NotWaste;
        judged.decided_on = None;
    });
    assert!(text.contains("only a new assessment"), "{text}");
    let mut nameless = good.clone();
    nameless.qualification = " ".to_owned();
    assert_eq!(world.attempt(Event::Judgement(nameless)), Err(Refusal::BadText("qualification")));
    world.must(Event::Judgement(good));
}

fn strike(entry: u32, of: &str, subject: &str) -> Event {
    Event::Correction(Correction {
        entry,
        of: of.to_owned(),
        subject: subject.to_owned(),
        because: "wrong cell in the hand".to_owned(),
        strike: true,
    })
}

#[test]
fn a_struck_judgement_leaves_the_cell_unjudged_whatever_was_judged_before() {
    let mut world = World::new();
    world.intact("PE-1");
    let damaged = world.judgement("PE-1", LegalState::DamagedOrDefective);
    world.must(damaged);
    let last = world.next() - 1;
    world.must(strike(last, "judgement", "PE-1"));
    assert_eq!(world.state.cells["PE-1"].legal(), LegalState::Unknown);
    assert!(matches!(world.attempt(strike(last, "judgement", "PE-1")), Err(Refusal::NotCorrectable { .. })));
}

#[test]
fn moves_are_not_struck_and_other_entries_are_not_touched() {
    let mut world = World::new();
    world.intact("PE-1");
    world.open("BOX", ContainerKind::Intact, "DE");
    world.must(placed("BOX", "PE-1", None));
    let place = world.next() - 1;
    for event in [
        strike(place, "cell-placed", "PE-1"),
        strike(place, "judgement", "PE-1"),
        strike(99, "judgement", "PE-1"),
    ] {
        assert!(matches!(world.attempt(event), Err(Refusal::NotCorrectable { .. })));
    }
    let Event::Correction(mut remark) = strike(place, "cell-placed", "PE-1") else { unreachable!() };
    remark.strike = false;
    let before = world.state.cells.clone();
    world.must(Event::Correction(remark));
    assert_eq!(world.state.cells, before);
}

#[test]
fn a_struck_date_of_discarding_no_longer_counts() {
    let mut world = World::new();
    world.assess("PE-1", Fate::Undecided, CellState::Intact);
    let Event::Judgement(mut judged) = world.judgement("PE-1", LegalState::IntactWaste) else {
        unreachable!()
    };
    judged.decided_on = Some(date(2016, 11, 25));
    world.must(Event::Judgement(judged));
    let entry = world.next() - 1;
    assert_eq!(world.state.cells["PE-1"].discarded_on(), Some(date(2016, 11, 25)));
    world.must(strike(entry, "judgement", "PE-1"));
    let again = world.judgement("PE-1", LegalState::IntactWaste);
    world.must(again);
    assert_eq!(world.state.cells["PE-1"].discarded_on(), Some(TODAY));
}
