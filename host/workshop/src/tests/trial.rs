//! A cell's life is recorded, it is fitted and comes out again: the calls, and what they leave for the next decision.

use super::custody::Calm;
use super::*;
use crate::charge_permit::ChargePermit;
use crate::trial::ToFit;
use crate::used_records::ForUse;
use celltriage_custody::event::{Incident, LifetimeRecord, TakenOutOfDevice};
use celltriage_custody::used::RecallCheck;
use celltriage_verdict::{CameAs, LIFETIME_RECORD, LifeEvent, Source};

fn to_fit(cell: &str, stays: bool) -> ToFit {
    ToFit { cell: cell.to_owned(), device: None, job: Some("118".to_owned()), stays }
}

fn taken(cell: &str) -> TakenOutOfDevice {
    TakenOutOfDevice { cell: cell.to_owned(), because: Some("the tablet starts".to_owned()) }
}

fn for_use() -> ForUse {
    let looked_in = "the authority's list".to_owned();
    ForUse {
        item: "tablet cell".to_owned(),
        production_year: None,
        company: "Port Ellery Workshop".to_owned(),
        address: "Quay 4".to_owned(),
        recall: RecallCheck { on: TODAY, looked_in, listed: false },
        contract: None,
    }
}

#[test]
fn a_spare_of_unknown_worth_has_a_story_from_its_first_scan() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let spare =
        LifetimeRecord { came_as: Some(CameAs::NewSpare), ..LifetimeRecord::of("PE-9", Source::Workshop) };
    assert_eq!(shop.record_lifetime(&signer, rules, spare).unwrap().entry.number, 1);
    let fitted = shop.fit(&signer, rules, &to_fit("PE-9", false)).unwrap();
    assert!(fitted.entry.summary.contains("NOT PROVEN: nobody has assessed it"), "{}", fitted.entry.summary);
    let [one] = &shop.in_service().unwrap()[..] else { panic!("one cell is in a device") };
    assert_eq!((one.cell.as_str(), one.to_screen.as_deref()), ("PE-9", None));
    // Neither onto the fixture nor to the charger before it is out.
    assert!(matches!(shop.known_before("PE-9", false).unwrap_err(), Fault::Fitted(_)));
    let label = decided("PE-9", |_| {}).0.nameplate;
    assert!(matches!(shop.charge_permit("PE-9", &label).unwrap(), ChargePermit::Refused { .. }));
    shop.take_out_of_device(&signer, rules, taken("PE-9")).unwrap();
    let ChargePermit::Open { why } = shop.charge_permit("PE-9", &label).unwrap() else { panic!("open") };
    assert!(why.contains("was taken out of the device of job 118"), "{why}");
    let story = shop.story("PE-9", rules).unwrap();
    assert_eq!(story.happened.len(), 3);
    let now = |name: &str| story.now.iter().find(|(row, _)| row == name).map(|(_, value)| value.as_str());
    assert_eq!(now("lifetime"), Some("new spare, unknown worth (entry 1)"));
    assert!(now("not screened").is_some() && now("where") == Some("in the shop, in no container"));
}

#[test]
fn a_trial_ends_what_was_proven_until_the_cell_is_assessed_again() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let judged = |shop: &mut Workshop<'_>| {
        let new = judgement(shop, "PE-1", LegalState::NotWaste);
        shop.judge(&super::signer(), &place.rules, &new, &mut Calm)
    };
    assessed(&mut shop, "PE-1", Fate::Reuse, CellState::Intact);
    judged(&mut shop).unwrap();
    let tested = shop.tested("PE-1").unwrap();
    shop.make_used_record(&signer, rules, &tested, for_use()).unwrap();
    let fitted = shop.fit(&signer, rules, &to_fit("PE-1", false)).unwrap();
    assert!(!fitted.entry.summary.contains("NOT PROVEN"), "{}", fitted.entry.summary);
    shop.take_out_of_device(&signer, rules, taken("PE-1")).unwrap();
    assert!(matches!(refusal(judged(&mut shop)), Refusal::BadJudgement(_)));
    let again = shop.make_used_record(&signer, rules, &tested, for_use());
    assert!(matches!(refusal(again), Refusal::NoUsedRecord { .. }));
    assert!(matches!(refusal(shop.fit(&signer, rules, &to_fit("PE-1", true))), Refusal::NotProven { .. }));
    let due = shop.due(rules, None).unwrap().items;
    assert!(due.iter().any(|item| item.subject == "PE-1" && item.what.starts_with("screen it again")));
    assessed(&mut shop, "PE-1", Fate::Reuse, CellState::Intact);
    judged(&mut shop).unwrap();
    shop.fit(&signer, rules, &to_fit("PE-1", true)).unwrap();
    assert!(shop.due(rules, None).unwrap().items.iter().all(|item| item.subject != "PE-1"));
}

#[test]
fn an_incident_is_known_to_the_next_decision() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assessed(&mut shop, "PE-2", Fate::Reuse, CellState::Intact);
    shop.fit(&signer, rules, &to_fit("PE-2", true)).unwrap();
    let wet = Incident { cell: "PE-2".to_owned(), happened: LifeEvent::Wetted, note: None };
    shop.record_incident(&signer, rules, wet).unwrap();
    shop.take_out_of_device(&signer, rules, taken("PE-2")).unwrap();
    let (case, _) = decided("PE-2", |_| {});
    let (case, _) = shop.with_what_is_known(&case, false).unwrap();
    let found: Vec<&str> = case.history.known.iter().map(|found| found.what.as_str()).collect();
    assert_eq!(found, ["wetted"]);
    // It may be screened; neither charged nor used before.
    assert_eq!(crate::admission::must_not_be_loaded(&case), None);
    let permit = shop.charge_permit("PE-2", &case.nameplate).unwrap();
    assert!(matches!(permit, crate::charge_permit::ChargePermit::Open { .. }), "{permit:?}");
}

#[test]
fn what_is_recorded_goes_into_the_decision_and_is_kept_with_it() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let record = LifetimeRecord {
        job: Some("118".to_owned()),
        cycles: Some(214),
        ..LifetimeRecord::of("PE-3", Source::Gauge)
    };
    shop.record_lifetime(&signer, rules, record).unwrap();
    let (case, _) = decided("PE-3", |_| {});
    let (case, _) = shop.with_what_is_known(&case, false).unwrap();
    let lifetime = case.history.lifetime.clone().unwrap();
    let (_, assessment) = decided("PE-3", |subject| subject.lifetime = case.history.lifetime.clone());
    let said = assessment.verdict.reasons.iter().find(|one| one.criterion == LIFETIME_RECORD).unwrap();
    assert!(said.text.contains("214 cycles") && said.text.contains("(entry 1)"), "{}", said.text);
    assert_eq!((assessment.verdict.fate, &assessment.lifetime), (Fate::Reuse, &Some(lifetime)));
}
