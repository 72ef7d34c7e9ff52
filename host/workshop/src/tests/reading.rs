//! Reading the book: entries, stories, decisions made again, models, files.

use super::custody::Calm;
use super::*;
use crate::decisions::{Comparison, Recomputed};
use crate::entries::Content;
use celltriage_assessment::case::{Origin, attachment};
use celltriage_custody::event::Escalation;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::SensedAt;

#[test]
fn entries_are_listed_oldest_first_and_shown_with_what_was_found_since() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    let first = assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    assessed(&mut shop, "PE-2", Fate::Reuse, CellState::Intact);
    let new = judgement(&shop, "PE-1", LegalState::DamagedOrDefective);
    shop.judge(&signer(), rules, &new, &mut Calm).unwrap();
    let numbers = |fate, most| {
        shop.entries(fate, most).unwrap().entries.iter().map(|entry| entry.number).collect::<Vec<_>>()
    };
    assert_eq!((numbers(None, 2), numbers(Some("reuse"), 50)), (vec![2, 3], vec![2]));
    assert_eq!(shop.find("PE-2").unwrap().len(), 1);
    let view = shop.entry_in_full(first.into()).unwrap();
    assert!(matches!(view.content, Content::Decision(_)) && view.struck.is_none());
    assert_eq!(view.now.known.iter().map(|found| found.entry).collect::<Vec<_>>(), [3]);
    let judged = shop.entry_in_full(3).unwrap();
    assert!(matches!(&judged.content, Content::Custody(told) if told.kind == "judgement"));
    assert!(judged.now.known.is_empty(), "it says that itself");
    for number in [9, u64::MAX] {
        assert!(
            matches!(shop.entry(number).unwrap_err(), Fault::NoSuchEntry { number: n, .. } if n == number)
        );
    }
    let told = shop.story("PE-1", rules).unwrap();
    assert_eq!(told.happened.iter().map(|one| one.entry).collect::<Vec<_>>(), [1, 3]);
    assert!(shop.story("PE-7", rules).unwrap_err().to_string().ends_with("knows no cell PE-7"));
    assert!(shop.kept_with(first).unwrap().attachments.iter().any(|kept| kept.name == "policy.toml"));
}

#[test]
fn a_decision_is_explained_below_what_is_known_now() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    let first = assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    let second = assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    assert!(shop.decision(first).unwrap().explained().known.is_empty());
    let escalation = Escalation { cell: "PE-1".to_owned(), because: "hisses".to_owned() };
    shop.escalate(&signer(), rules, &escalation, &mut Deaf).unwrap();
    let newest = shop.newest_decision("PE-1").unwrap();
    assert_eq!((newest.entry, newest.explained().known.len()), (second, 1));
    assert!(matches!(shop.newest_decision("PE-2").unwrap_err(), Fault::NoDecision { .. }));
    assert!(matches!(shop.decision(3).unwrap_err(), Fault::NotAnAssessment(_)));
}

/// Lets everything pass.
struct Deaf;

impl celltriage_link::Attendant<crate::event::WorkEvent> for Deaf {
    fn sees(&mut self, _: &crate::event::WorkEvent) {}

    fn stop_wanted(&self) -> bool {
        false
    }
}

#[test]
fn a_decision_made_again_is_the_same_and_an_altered_one_is_found() {
    let place = Place::new();
    let mut shop = place.shop();
    let (case, _) = decided("PE-1", |_| {});
    let kept_off = shop.keep_off(&case, "nobody wants it measured", false).unwrap();
    let again = shop.recompute(kept_off.entry().unwrap().into()).unwrap();
    assert_eq!((again.comparison(), again.different.len()), (Comparison::Same, 0));
    let mut altered = case.judge(None, Origin::none("nobody wants it measured"));
    assert_ne!(altered.verdict.fate, Fate::Reuse);
    altered.verdict.fate = Fate::Reuse;
    let entry = shop.write_graded(&case, altered, Evidence::Nothing).unwrap().entry().unwrap();
    let again = shop.recompute(entry.into()).unwrap();
    assert_eq!(again.comparison(), Comparison::Wrong);
    assert!(again.different.iter().any(|one| one.what == "fate" && one.stored == "reuse"));
    let other = Recomputed { method: again.method + 1, ..again };
    assert_eq!(other.comparison(), Comparison::OtherMethod);
}

#[test]
fn no_file_goes_outside_the_folder_that_was_asked_for() {
    let place = Place::new();
    let mut shop = place.shop();
    let (mut case, assessment) = decided("PE-1", |_| {});
    case.files.push(attachment("../../outside.toml", "application/toml", b"label".to_vec()));
    let entry = shop.write_graded(&case, assessment, Evidence::Nothing).unwrap().entry().unwrap();
    let files = shop.export(entry.into()).unwrap();
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(names, ["outside.toml", "policy.toml", "assessment.json"]);
    let result: serde_json::Value = serde_json::from_slice(&files[2].bytes).unwrap();
    assert_eq!(result, shop.entry(entry.into()).unwrap().result);
}

#[test]
fn resistances_with_and_without_the_protection_in_the_path_are_never_in_one_spread() {
    let place = Place::new();
    let mut shop = place.shop();
    // Five bare cells of which nobody said so, then seven at the connector, of twice the resistance.
    for index in 0..12 {
        let is_at_connector = index >= 5;
        let (case, assessment) = decided(&format!("PE-{index}"), |subject| {
            subject.nameplate.model = Some("LAMP-3".to_owned());
            let estimate = subject.estimates.measured.get_mut(&Quantity::Resistance25Celsius).unwrap();
            if is_at_connector {
                estimate.value *= 2.0;
                estimate.conditions.sensed_at = Some(SensedAt::Connector);
            }
        });
        shop.write_graded(&case, assessment, Evidence::Nothing).unwrap();
        let found = shop.model("LAMP-3").unwrap().resistance_25c();
        let counted = match index {
            0..=3 => continue,
            4..=9 => 5,
            more => more - 4,
        };
        assert_eq!(found.unwrap().cells, counted, "after {index}");
    }
}

#[test]
fn the_cells_of_a_model_are_counted_and_new_ones_are_left_out_of_the_spread() {
    let place = Place::new();
    let mut shop = place.shop();
    for index in 0..6 {
        let name = format!("PE-{index}");
        let (case, assessment) = decided(&name, |subject| {
            subject.nameplate.model = Some("LAMP-3".to_owned());
            subject.observations.new_cell = index == 5;
        });
        shop.write_graded(&case, assessment, Evidence::Nothing).unwrap();
    }
    assert_eq!(shop.models().unwrap().get("LAMP-3"), Some(&6));
    let model = shop.model("LAMP-3").unwrap();
    assert_eq!((model.cells.len(), model.simulated), (6, false));
    let capacity = model.capacity_fraction().unwrap();
    assert_eq!(capacity.cells, 5);
    assert!(model.resistance_25c().is_some());
    assert!(matches!(shop.model("LAMP-4").unwrap_err(), Fault::NoSuchModel { .. }));
}
