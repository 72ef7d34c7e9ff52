//! A cell is judged, placed, watched, corrected.

use super::*;
use crate::corrections::NewCorrection;
use crate::event::WorkEvent;
use crate::judging::{is_urgent, next_question};
use crate::quarantine::NewWatch;
use celltriage_custody::Scope;
use celltriage_custody::checklist::Criterion;
use celltriage_custody::event::{CellPlaced, CellTakenOut, CellWeighed, Inspection, Look, Release};
use celltriage_custody::units::Milligrams;
use celltriage_link::Attendant;
use celltriage_measure::observation::Answer;
use jiff::ToSpan;

/// Sees nothing that would be worth a word.
pub struct Calm;

impl Attendant<WorkEvent> for Calm {
    fn sees(&mut self, event: &WorkEvent) {
        panic!("nothing was to be seen: {event:?}");
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

fn placed(cell: &str, weighed: Option<Milligrams>) -> CellPlaced {
    CellPlaced { cell: cell.to_owned(), container: "BOX".to_owned(), inner: None, weighed }
}

#[test]
fn a_cell_is_judged_placed_and_taken_out_again() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    let to_judge = shop.to_judge("PE-1").unwrap();
    assert_eq!(to_judge.recorded.get(&Criterion::Swollen), Some(&Answer::No));
    assert_eq!(shop.proposal(&to_judge, None, rules).unwrap().state, to_judge.cell.proposal());
    let new = judgement(&shop, "PE-1", LegalState::IntactWaste);
    let entered = shop.judge(&signer, rules, &new, &mut Calm).unwrap();
    assert_eq!((entered.entry.number, entered.entry.kind.as_str()), (2, "judgement"));
    // Discarded on the day on which it was graded for recycling.
    assert_eq!(entered.state.cells["PE-1"].discarded_on(), Some(TODAY));
    shop.open_container(&signer, rules, container("BOX", ContainerKind::Intact, "DE")).unwrap();
    let done = shop.place(&signer, rules, placed("PE-1", None)).unwrap();
    assert_eq!((done.counted_as, done.passed.len()), (None, 0));
    let view = shop.container("BOX", rules).unwrap();
    assert_eq!((view.state.cells_in("BOX").count(), view.earliest), (1, Some(TODAY)));
    assert!(!view.counters.is_empty());
    assert_eq!(shop.place_of("PE-1").unwrap().as_str(), "DE", "where its container stands");
    let taken = CellTakenOut { cell: "PE-1".to_owned(), because: "wrong box".to_owned() };
    shop.take_out(&signer, rules, taken).unwrap();
    assert_eq!(shop.container("BOX", rules).unwrap().state.cells_in("BOX").count(), 0);
    assert_eq!(shop.place_of("PE-1").unwrap().as_str(), "US", "where it was assessed");
    assert!(shop.verify().unwrap().passed());
}

#[test]
fn what_is_refused_leaves_the_book_as_it_was() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assert!(matches!(refusal(shop.to_judge("PE-1")), Refusal::UnknownCell(_)));
    assessed(&mut shop, "PE-1", Fate::Quarantine, CellState::DamagedOrDefective);
    shop.open_container(&signer, rules, container("BOX", ContainerKind::Intact, "DE")).unwrap();
    let refused = shop.place(&signer, rules, placed("PE-1", None));
    assert!(matches!(refusal(refused), Refusal::WrongMix { .. }));
    assert!(matches!(shop.container("CASK", rules).unwrap_err(), Fault::Unknown(_)));
    assert_eq!(shop.state(Scope::All).unwrap().read_to, 2);
}

#[test]
fn a_cell_of_unknown_mass_counts_with_the_worst_case_until_it_is_weighed() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let (case, mut assessment) = decided("PE-2", |subject| subject.nameplate.mass_g = None);
    assessment.verdict.fate = Fate::Recycle;
    shop.write_graded(&case, assessment, Evidence::Nothing).unwrap();
    assert!(shop.mass_is_missing("PE-2").unwrap());
    let new = judgement(&shop, "PE-2", LegalState::IntactWaste);
    shop.judge(&signer, rules, &new, &mut Calm).unwrap();
    let small =
        ContainerOpened { most_mass: Some(Milligrams(1)), ..container("BOX", ContainerKind::Intact, "DE") };
    shop.open_container(&signer, rules, small).unwrap();
    let full = shop.place(&signer, rules, placed("PE-2", None));
    assert!(matches!(refusal(full), Refusal::ContainerFull { .. }));
    shop.open_container(&signer, rules, container("VAT", ContainerKind::Intact, "DE")).unwrap();
    let into_vat = CellPlaced { container: "VAT".to_owned(), ..placed("PE-2", None) };
    assert!(shop.place(&signer, rules, into_vat).unwrap().counted_as.is_some());
    let weighed = CellWeighed { cell: "PE-2".to_owned(), mass: Milligrams(45_200) };
    shop.weigh(&signer, rules, weighed).unwrap();
    assert!(!shop.mass_is_missing("PE-2").unwrap());
}

#[test]
fn a_watch_lasts_four_weeks_where_nobody_says_how_long_and_ends_after_a_look() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assessed(&mut shop, "PE-3", Fate::Quarantine, CellState::DamagedOrDefective);
    let watch = NewWatch {
        cell: "PE-3".to_owned(),
        because: "warm in the drawer".to_owned(),
        stands: "sand box, yard".to_owned(),
        until: None,
        every_days: 1,
    };
    let held = shop.hold(&signer, rules, watch).unwrap();
    assert!(!held.end_in_doubt);
    let end = held.entered.state.cells["PE-3"].watch.as_ref().unwrap().hold.until;
    assert_eq!(end, TODAY.saturating_add(28.days()));
    let release = Release { cell: "PE-3".to_owned(), because: "cold for four weeks".to_owned() };
    let early = shop.release(&signer, rules, release.clone());
    assert!(matches!(refusal(early), Refusal::NotReleasable { .. }));
    let look = Inspection {
        cell: "PE-3".to_owned(),
        temperature_c: Some(18.5),
        air_c: Some(18.0),
        look: Look::Unchanged,
        note: None,
    };
    // A day in which nothing is written counts for nothing, so somebody looks each day.
    for day in 1..=28 {
        place.clock.move_to(NOON.parse::<jiff::Timestamp>().unwrap() + (24 * day).hours());
        assert_eq!(shop.inspect(&signer, rules, &look, &mut Calm).unwrap().entry.kind, "inspection");
    }
    let ended = shop.release(&signer, rules, release).unwrap();
    assert!(ended.state.cells["PE-3"].watch.is_none());
}

#[test]
fn an_entry_is_struck_by_a_person_and_one_that_is_not_there_is_not() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let entry = assessed(&mut shop, "PE-4", Fate::Quarantine, CellState::DamagedOrDefective);
    let strike = NewCorrection { entry, because: "another cell's tag".to_owned(), strike: true };
    shop.correct(&signer, rules, &strike).unwrap();
    let struck = shop.entry_in_full(entry.into()).unwrap().struck.unwrap();
    assert_eq!((struck.by.as_str(), struck.entry), ("Ines Harrow", 2));
    let missing = NewCorrection { entry: 99, ..strike };
    assert!(matches!(refusal(shop.correct(&signer, rules, &missing)), Refusal::NoSuchEntry(99)));
}

#[test]
fn nobody_is_kept_beside_a_reacting_cell_by_questions() {
    let none = Answers::new();
    assert_eq!(next_question(&none, LegalState::Critical), Some(Criterion::AcuteHazard));
    let mut answers = Answers::from([(Criterion::AcuteHazard, Answer::No)]);
    assert_eq!(next_question(&answers, LegalState::Critical), None);
    assert_eq!(next_question(&answers, LegalState::IntactWaste), Some(Criterion::CasingOpen));
    answers.insert(Criterion::AcuteHazard, Answer::Yes);
    assert_eq!(next_question(&answers, LegalState::IntactWaste), None);
    assert!(is_urgent(LegalState::IntactWaste, &answers) && is_urgent(LegalState::Critical, &none));
    assert_eq!(next_question(&answers_for(LegalState::IntactWaste), LegalState::IntactWaste), None);
}

#[test]
fn who_finds_a_cell_damaged_is_contradicted_by_striking_and_not_by_a_milder_word() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    shop.open_container(&signer, rules, container("BOX", ContainerKind::Intact, "DE")).unwrap();
    let damaged = judgement(&shop, "PE-1", LegalState::DamagedOrDefective);
    let entry = shop.judge(&signer, rules, &damaged, &mut Calm).unwrap().entry.number;
    // One condition on all screens: what stands is what is proposed.
    assert_eq!(shop.to_judge("PE-1").unwrap().cell.proposal(), LegalState::DamagedOrDefective);
    let milder = judgement(&shop, "PE-1", LegalState::IntactWaste);
    let refused = refusal(shop.judge(&signer, rules, &milder, &mut Calm));
    assert!(matches!(refused, Refusal::CountsAsDamaged { .. }), "{refused}");
    assert!(matches!(refusal(shop.place(&signer, rules, placed("PE-1", None))), Refusal::WrongMix { .. }));
    let strike = NewCorrection { entry, because: "the dent was of the bag".to_owned(), strike: true };
    shop.correct(&signer, rules, &strike).unwrap();
    shop.judge(&signer, rules, &milder, &mut Calm).unwrap();
    shop.place(&signer, rules, placed("PE-1", None)).unwrap();
}
