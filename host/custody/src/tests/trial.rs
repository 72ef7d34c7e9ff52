//! Cells in devices: in which state one may be fitted, come out and have an incident, and what counts afterwards.

use super::*;
use crate::cell::Whereabouts;
use crate::due::{Urgency, due};
use crate::facts::Facts;
use celltriage_verdict::{CameAs, PastEvent, Source};
use jiff::ToSpan;

/// How a cell is before something is tried with it.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Stands {
    Unknown,
    Undecided,
    Reuse,
    JudgedNotWaste,
    Recycle,
    JudgedWaste,
    Quarantine,
    Damaged,
    Critical,
    Watched,
    Boxed,
    ForTrial,
    ToStay,
    TakenOut,
    TakenOutAndScreened,
    Shorted,
    Fallen,
    Gone,
}

fn world(stands: Stands) -> World {
    let mut world = World::new();
    let mut assess = |fate, condition| world.assess("PE-1", fate, condition);
    match stands {
        Stands::Unknown => {}
        Stands::Undecided => assess(Fate::Undecided, CellState::Intact),
        Stands::Recycle => assess(Fate::Recycle, CellState::Intact),
        Stands::Quarantine => assess(Fate::Quarantine, CellState::Unknown),
        _ => assess(Fate::Reuse, CellState::Intact),
    }
    let judged = |world: &mut World, state| world.must(world.judgement("PE-1", state));
    match stands {
        Stands::JudgedNotWaste => judged(&mut world, LegalState::NotWaste),
        Stands::JudgedWaste => judged(&mut world, LegalState::IntactWaste),
        Stands::Damaged => judged(&mut world, LegalState::DamagedOrDefective),
        Stands::Critical => world.must(escalation("PE-1")),
        Stands::Watched => world.must(hold("PE-1", TODAY)),
        Stands::Boxed | Stands::Gone => {
            judged(&mut world, LegalState::IntactWaste);
            world.open("BOX", ContainerKind::Intact, "US");
            world.must(placed("BOX", "PE-1", None));
        }
        Stands::ForTrial | Stands::TakenOut | Stands::TakenOutAndScreened => {
            world.must(fitted("PE-1", false))
        }
        Stands::ToStay => world.must(fitted("PE-1", true)),
        Stands::Shorted => world.must(incident("PE-1", LifeEvent::ShortCircuit)),
        Stands::Fallen => world.must(incident("PE-1", LifeEvent::Dropped)),
        _ => {}
    }
    if matches!(stands, Stands::TakenOut | Stands::TakenOutAndScreened) {
        world.must(out_of_device("PE-1"));
    }
    if stands == Stands::TakenOutAndScreened {
        world.assess("PE-1", Fate::Reuse, CellState::Intact);
    }
    if stands == Stands::Gone {
        world.draft(&world.request("S", "BOX")).unwrap();
        world.must(agreed("S"));
        world.hand_over("S", None).unwrap();
    }
    world
}

/// What is refused, by the name of the refusal; "-" is done.
fn tried(stands: Stands, event: Event) -> String {
    match world(stands).attempt(event) {
        Ok(()) => "-".to_owned(),
        Err(refusal) => format!("{refusal:?}")
            .split(|one: char| !one.is_alphanumeric())
            .next()
            .unwrap_or_default()
            .to_owned(),
    }
}

#[test]
fn what_may_be_done_with_a_cell_and_a_device_in_each_state() {
    use Stands::*;
    let rows = [
        (Unknown, "-", "NotProven", "NotFitted", "-"),
        (Undecided, "-", "NotProven", "NotFitted", "-"),
        (Reuse, "-", "-", "NotFitted", "-"),
        (JudgedNotWaste, "-", "-", "NotFitted", "-"),
        (Recycle, "NotToBeFitted", "NotToBeFitted", "NotFitted", "-"),
        (JudgedWaste, "NotToBeFitted", "NotToBeFitted", "NotFitted", "-"),
        (Quarantine, "NotToBeFitted", "NotToBeFitted", "NotFitted", "-"),
        (Damaged, "NotToBeFitted", "NotToBeFitted", "NotFitted", "-"),
        (Critical, "Critical", "Critical", "NotFitted", "-"),
        (Watched, "UnderWatch", "UnderWatch", "NotFitted", "-"),
        (Boxed, "ElsewhereAlready", "ElsewhereAlready", "NotFitted", "-"),
        (ForTrial, "IsFitted", "IsFitted", "-", "-"),
        (ToStay, "IsFitted", "IsFitted", "-", "-"),
        (TakenOut, "-", "NotProven", "NotFitted", "-"),
        (TakenOutAndScreened, "-", "-", "NotFitted", "-"),
        (Shorted, "NotToBeFitted", "NotToBeFitted", "NotFitted", "-"),
        (Fallen, "-", "NotProven", "NotFitted", "-"),
        (Gone, "CellGone", "CellGone", "CellGone", "CellGone"),
    ];
    for (stands, for_trial, to_stay, out, happens) in rows {
        let told = [
            tried(stands, fitted("PE-1", false)),
            tried(stands, fitted("PE-1", true)),
            tried(stands, out_of_device("PE-1")),
            tried(stands, incident("PE-1", LifeEvent::Wetted)),
        ];
        assert_eq!(told, [for_trial, to_stay, out, happens], "{stands:?}");
    }
}

#[test]
fn a_fitted_cell_goes_into_no_container_and_a_critical_one_stays_where_it_is() {
    let mut world = world(Stands::ForTrial);
    world.open("DD", ContainerKind::Damaged, "US");
    let refused = world.attempt(placed("DD", "PE-1", Some("a")));
    assert!(matches!(refused, Err(Refusal::IsFitted { .. })), "{refused:?}");
    assert!(matches!(&world.state.cells["PE-1"].whereabouts, Whereabouts::Fitted { stays: false, .. }));
    world.must(escalation("PE-1"));
    assert_eq!(world.attempt(out_of_device("PE-1")), Err(Refusal::Critical("PE-1".to_owned())));
}

#[test]
fn what_was_assessed_before_a_trial_does_not_count_after_it() {
    let mut world = world(Stands::JudgedNotWaste);
    assert!(world.state.cells["PE-1"].is_for_reuse());
    world.must(fitted("PE-1", false));
    world.must(out_of_device("PE-1"));
    let cell = &world.state.cells["PE-1"];
    assert!(!cell.is_for_reuse() && cell.standing_judgement().is_none());
    assert_eq!(cell.legal(), LegalState::Unknown);
    let refused = world.attempt(world.judgement("PE-1", LegalState::NotWaste));
    let Err(Refusal::BadJudgement(why)) = refused else { panic!("{refused:?}") };
    assert!(why.contains("was taken out of the device of job 118"), "{why}");
    // A trace from a file may be older than the trial.
    let facts = world.state.cells["PE-1"].facts.clone().unwrap();
    let number = world.next();
    let from_file = Facts { assessment: number, from_file: true, ..facts.clone() };
    world.state.assessed(number, "PE-1", from_file);
    assert!(!world.state.cells["PE-1"].is_for_reuse());
    // So may what another bench wrote, unless it was on a later day.
    for (days, counts) in [(0, false), (1, true)] {
        let mut later = world.state.clone();
        let on = TODAY.saturating_add(days.days());
        let merged = Facts { assessment: number, on, from_another_bench: true, ..facts.clone() };
        later.assessed(number + 1, "PE-1", merged);
        assert_eq!(later.cells["PE-1"].is_for_reuse(), counts, "{days}");
    }
    world.assess("PE-1", Fate::Reuse, CellState::Intact);
    assert!(world.state.cells["PE-1"].is_for_reuse());
}

#[test]
fn a_struck_screening_is_none() {
    let mut world = world(Stands::TakenOutAndScreened);
    let entry = world.state.cells["PE-1"].facts.as_ref().unwrap().assessment;
    let (of, subject) = ("assessment".to_owned(), "PE-1".to_owned());
    let because = "another cell's tag".to_owned();
    world.must(Event::Correction(Correction { entry, of, subject, because, strike: true }));
    let cell = &world.state.cells["PE-1"];
    assert!(cell.to_screen().is_some() && !cell.is_for_reuse());
    assert!(matches!(world.attempt(fitted("PE-1", true)), Err(Refusal::NotProven { .. })));
}

#[test]
fn an_incident_stands_against_the_cell_until_it_is_screened_or_its_entry_is_struck() {
    for (what, stands) in [
        (LifeEvent::ShortCircuit, true),
        (LifeEvent::Overheated, true),
        (LifeEvent::Wetted, true),
        (LifeEvent::Dropped, false),
        (LifeEvent::Other, false),
    ] {
        let mut world = world(Stands::ForTrial);
        let entry = world.next();
        world.must(incident("PE-1", what));
        world.must(out_of_device("PE-1"));
        // A test at which nobody looked is no screening.
        world.assess("PE-1", Fate::Undecided, CellState::Unknown);
        let cell = &world.state.cells["PE-1"];
        assert_eq!((cell.standing().next().is_some(), cell.is_for_reuse()), (stands, false), "{what:?}");
        assert_eq!(cell.lifetime().events.len(), 1);
        world.assess("PE-1", Fate::Reuse, CellState::Intact);
        let cell = &world.state.cells["PE-1"];
        assert!(cell.standing().next().is_none() && cell.is_for_reuse(), "{what:?}");
        let (of, subject) = ("incident".to_owned(), "PE-1".to_owned());
        let because = "it was the cell beside it".to_owned();
        world.must(Event::Correction(Correction { entry, of, subject, because, strike: true }));
        let cell = &world.state.cells["PE-1"];
        assert!(
            cell.found.is_empty() && cell.is_for_reuse() && cell.lifetime().events.is_empty(),
            "{what:?}"
        );
    }
}

#[test]
fn cells_to_screen_and_long_trials_are_due() {
    let told = |stands: Stands, days: i64| {
        let mut world = world(stands);
        world.today = TODAY.saturating_add(days.days());
        let items = due(&world.state, &world.circumstances());
        items.into_iter().map(|item| (item.urgency, item.days_left, item.what)).collect::<Vec<_>>()
    };
    let [(Urgency::Now, 0, what)] = &told(Stands::TakenOut, 0)[..] else {
        panic!("{:?}", told(Stands::TakenOut, 0))
    };
    assert!(what.starts_with("screen it again before it counts as stock: it was taken out of"), "{what}");
    let [(Urgency::Open, 0, what)] = &told(Stands::TakenOutAndScreened, 0)[..] else {
        panic!("nobody has judged it")
    };
    assert!(what.starts_with("judge it: graded for reuse"), "{what}");
    let [(Urgency::Dated, -1, what)] = &told(Stands::ForTrial, 15)[..] else { panic!("a trial of 15 days") };
    assert!(what.starts_with("take it out of the device of job 118"), "{what}");
    assert_eq!(told(Stands::ToStay, 400), []);
    let [(Urgency::Now, 0, what)] = &told(Stands::Shorted, 0)[..] else { panic!("a shorted cell") };
    assert!(what.contains("test it again: "), "{what}");
}

#[test]
fn records_of_a_life_add_up_and_correct_each_other() {
    let mut world = World::new();
    let spare =
        LifetimeRecord { came_as: Some(CameAs::NewSpare), ..LifetimeRecord::of("PE-9", Source::Workshop) };
    world.must(Event::LifetimeRecord(Box::new(spare)));
    assert_eq!(world.state.cells["PE-9"].lifetime().words(), "new spare, unknown worth (entry 1)");
    world.must(lifetime("PE-9", 214));
    let Some(Written::Event(_, signed)) = world.log.last() else { panic!("an event") };
    let line = crate::summary::summary(signed);
    assert!(line.contains("214 cycles by the device's gauge on 2026-11-25"), "{line}");
    world.must(lifetime("PE-9", 216));
    let told = world.state.cells["PE-9"].lifetime();
    assert_eq!((told.cycles.clone().unwrap().value, told.cycles.unwrap().entry), (216, 3));
    let (of, subject) = ("lifetime-record".to_owned(), "PE-9".to_owned());
    let because = "read from another tablet".to_owned();
    world.must(Event::Correction(Correction { entry: 3, of, subject, because, strike: true }));
    let told = world.state.cells["PE-9"].lifetime();
    assert_eq!((told.cycles.clone().unwrap().value, told.cycles.unwrap().entry), (214, 2));
    let wet = PastEvent { what: LifeEvent::Wetted, note: None };
    let wetted = LifetimeRecord { events: vec![wet], ..LifetimeRecord::of("PE-9", Source::Customer) };
    world.must(Event::LifetimeRecord(Box::new(wetted)));
    let found = world.state.cells["PE-9"].known();
    assert_eq!(
        found.iter().map(|one| one.what.as_str()).collect::<Vec<_>>(),
        ["wetted by the customer's word"]
    );
}

#[test]
fn records_that_say_nothing_or_cannot_be_are_refused() {
    let mut world = World::new();
    world.open("BOX", ContainerKind::Intact, "US");
    let mut refused = |change: &dyn Fn(&mut LifetimeRecord)| {
        let mut record = LifetimeRecord::of("PE-9", Source::Workshop);
        change(&mut record);
        world.attempt(Event::LifetimeRecord(Box::new(record))).unwrap_err()
    };
    assert_eq!(refused(&|_| {}), Refusal::EmptyRecord("PE-9".to_owned()));
    assert_eq!(refused(&|one| one.read_on = Some(TODAY)), Refusal::EmptyRecord("PE-9".to_owned()));
    assert_eq!(refused(&|one| one.job = Some(String::new())), Refusal::BadText("job"));
    for health in [f64::NAN, -1.0, 151.0] {
        assert!(matches!(refused(&|one| one.health_percent = Some(health)), Refusal::BadNumber(_)));
    }
    assert!(matches!(refused(&|one| one.cycles = Some(20_001)), Refusal::BadNumber(_)));
    let goes_back = Refusal::BadText("device or job that it goes back into");
    assert_eq!(refused(&|one| one.goes_back = Some(true)), goes_back);
    let other =
        |one: &mut LifetimeRecord| one.events = vec![PastEvent { what: LifeEvent::Other, note: None }];
    assert_eq!(refused(&other), Refusal::BadText("note on what happened"));
    assert_eq!(refused(&|one| one.cell = "BOX".to_owned()), Refusal::UnknownCell("BOX".to_owned()));
    let nowhere = Fitted { cell: "PE-9".to_owned(), device: None, job: None, stays: false, unproven: None };
    assert_eq!(world.attempt(Event::Fitted(nowhere)), Err(Refusal::BadText("device or job")));
}

#[test]
fn a_fitting_of_the_wrong_cell_is_struck_and_it_stands_as_before() {
    let strike = |entry: u32| {
        let (of, subject) = ("fitted".to_owned(), "PE-1".to_owned());
        let because = "the tag of another cell".to_owned();
        Event::Correction(Correction { entry, of, subject, because, strike: true })
    };
    // A cell fit to serve is stock again; one that was to be screened is so again.
    for stands in [Stands::JudgedNotWaste, Stands::TakenOut, Stands::TakenOutAndScreened] {
        let mut world = world(stands);
        let before = world.state.cells["PE-1"].clone();
        let entry = world.next();
        world.must(fitted("PE-1", false));
        world.must(strike(entry));
        assert_eq!(world.state.cells["PE-1"], before, "{stands:?}");
    }
    // What happened to it meanwhile stands, and after it was taken out there is nothing to strike.
    let mut world = world(Stands::JudgedNotWaste);
    let entry = world.next();
    world.must(fitted("PE-1", false));
    world.must(incident("PE-1", LifeEvent::ShortCircuit));
    world.must(strike(entry));
    let cell = &world.state.cells["PE-1"];
    assert!(cell.to_screen().is_some() && cell.whereabouts == Whereabouts::Loose);
    let mut world = self::world(Stands::JudgedNotWaste);
    let entry = world.next();
    world.must(fitted("PE-1", false));
    world.must(out_of_device("PE-1"));
    assert!(matches!(world.attempt(strike(entry)), Err(Refusal::NotCorrectable { .. })));
}
