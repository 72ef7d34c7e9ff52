//! The built-in packs as a whole: complete for every cell, dated, and without promises.

mod conflict;
mod figures;
mod goods;
mod labels;
mod law;
mod matrix;
mod proposal;
mod reach;
mod words;

use super::*;
use crate::library::BUILT_IN;
use crate::test_support::PLACES;
use celltriage_verdict::{CellState, Fate, Finding, Hazard, PolicyMark, Reason, Verdict};
use jiff::civil::{Date, date};
use std::sync::LazyLock;

const HAZARDS: [Hazard; 14] = [
    Hazard::ActiveNow,
    Hazard::Leaking,
    Hazard::CasingOpen,
    Hazard::Swollen,
    Hazard::Deformed,
    Hazard::Misused,
    Hazard::Unprotected,
    Hazard::Recalled,
    Hazard::OverCharged,
    Hazard::DeeplyDischarged,
    Hazard::VoltageHidden,
    Hazard::Warming,
    Hazard::InternalShort,
    Hazard::Fixture,
];

fn packs() -> &'static Packs {
    static PACKS: LazyLock<Packs> = LazyLock::new(|| Packs::built_in().unwrap());
    &PACKS
}

fn verdict(fate: Fate, condition: CellState, hazard: Option<Hazard>) -> Verdict {
    let reason = Reason {
        criterion: "test".to_owned(),
        title: "test".to_owned(),
        finding: Finding::Fail,
        value: None,
        limit: None,
        relation: None,
        standard_uncertainty: None,
        conformity: None,
        unit: None,
        source: "test".to_owned(),
        note: None,
        text: "Test.".to_owned(),
        mandatory: true,
        on_fail: Fate::Quarantine,
        hazard,
        sign: None,
        quantity: None,
        made_from: None,
        budget: Vec::new(),
        settle: None,
    };
    Verdict {
        fate,
        condition,
        statement: "Test.".to_owned(),
        reasons: vec![reason],
        next_steps: Vec::new(),
        forbids: None,
        policy: PolicyMark { name: "test".to_owned(), version: "1".to_owned(), sha256: String::new() },
    }
}

fn shown(verdict: &Verdict, place: Option<&str>, date: Date) -> Vec<Caution> {
    let place = place.map(|code| code.parse::<PlaceCode>().unwrap());
    let situation = Situation { verdict, charge_limit_v: 4.35, place: place.as_ref(), date };
    cautions(&situation, packs())
}

fn rules(fate: Fate, condition: CellState, place: &str, date: Date) -> Vec<String> {
    shown(&verdict(fate, condition, None), Some(place), date)
        .into_iter()
        .map(|caution| caution.rule)
        .collect()
}

const TODAY: Date = date(2026, 11, 25);
/// Both sides of every date on which something begins or ends in the built-in packs, and days long before and after.
const DAYS: [Date; 8] = [
    date(2020, 2, 29),
    date(2025, 8, 18),
    TODAY,
    date(2026, 12, 8),
    date(2026, 12, 9),
    date(2027, 1, 1),
    date(2028, 2, 29),
    date(2040, 1, 1),
];

fn place(code: &str) -> PlaceCode {
    code.parse().unwrap()
}

#[test]
fn every_fate_state_and_place_gets_the_emergency_first_and_a_sourced_caution() {
    for fate in Fate::ALL {
        for condition in CellState::ALL {
            for (place, day) in PLACES.into_iter().flat_map(|place| DAYS.map(|day| (place, day))) {
                let found = shown(&verdict(fate, condition, None), place, day);
                let told = format!("{fate} {condition:?} {place:?} {day}");
                assert_eq!(found[0].kind, Kind::Emergency, "{told}");
                assert!(found[0].text.contains("fire service"), "{told}");
                let others = found.iter().filter(|caution| caution.kind != Kind::Emergency);
                assert!(
                    others.clone().any(|caution| caution.kind == Kind::Handling),
                    "{told}: how to handle it"
                );
                assert!(others.clone().all(|caution| !caution.source.is_empty()), "{told}");
                assert!(found.iter().any(|caution| caution.kind == Kind::Defer), "{told}: who decides");
                let gravity: Vec<_> = others.map(|caution| caution.severity).collect();
                assert!(gravity.windows(2).all(|pair| pair[0] >= pair[1]), "{told}: {gravity:?}");
                assert!(found.iter().all(|caution| !caution.text.contains(['{', '}'])), "{told}");
            }
        }
    }
}

#[test]
fn every_hazard_that_needs_a_word_of_its_own_has_one() {
    let without_one =
        [Hazard::ActiveNow, Hazard::Deformed, Hazard::Misused, Hazard::Unprotected, Hazard::Recalled];
    for hazard in HAZARDS {
        let quarantine =
            |hazard| shown(&verdict(Fate::Quarantine, CellState::DamagedOrDefective, hazard), None, TODAY);
        let own = quarantine(Some(hazard)).len() - quarantine(None).len();
        assert_eq!(own == 0, without_one.contains(&hazard), "{hazard:?}");
    }
}

#[test]
fn the_emergency_stands_before_a_graver_caution() {
    let open = verdict(Fate::Quarantine, CellState::CasingBreached, Some(Hazard::CasingOpen));
    let found = shown(&open, Some("US"), TODAY);
    assert_eq!((found[0].kind, found[0].severity), (Kind::Emergency, Severity::Warning));
    assert_eq!((found[1].rule.as_str(), found[1].severity), ("any.casing_open", Severity::Danger));
}

#[test]
fn a_reacting_cell_gets_the_whole_emergency_text() {
    let found =
        shown(&verdict(Fate::Quarantine, CellState::Critical, Some(Hazard::ActiveNow)), Some("US"), TODAY);
    assert_eq!((found[0].severity, found[0].rule.as_str()), (Severity::Danger, "any.emergency.now"));
    assert!(found[0].text.starts_with("STOP"));
    let blocked = found.iter().filter(|caution| caution.kind == Kind::Block).count();
    assert!(blocked >= 2, "by air and while it may react");
    assert!(
        found.iter().all(|caution| caution.kind != Kind::Label),
        "a critical cell is not labelled for shipping"
    );
}

#[test]
fn damaged_or_unknown_never_flies_and_never_takes_the_easy_packing() {
    for condition in
        [CellState::Unknown, CellState::DamagedOrDefective, CellState::CasingBreached, CellState::Critical]
    {
        for (place, air, easy) in [
            ("US", "us.air", "us.relief.intact"),
            ("DE", "air.damaged", "adr.mark.recycling"),
            ("SG", "air.damaged", "adr.mark.recycling"),
            ("ZZ", "air.damaged", "adr.mark.recycling"),
        ] {
            for fate in Fate::ALL {
                let found = rules(fate, condition, place, TODAY);
                assert!(found.iter().any(|rule| rule == air), "{condition:?} {place} {fate}");
                assert!(!found.iter().any(|rule| rule == easy), "{condition:?} {place} {fate}");
            }
        }
    }
}

#[test]
fn a_breached_casing_gets_no_universal_waste_label() {
    for fate in [Fate::Recycle, Fate::Quarantine] {
        let breached = verdict(fate, CellState::CasingBreached, Some(Hazard::CasingOpen));
        let found = shown(&breached, Some("US"), TODAY);
        assert!(found.iter().any(|caution| caution.rule == "us.breached"));
        assert!(found.iter().all(|caution| !caution.text.contains("Universal Waste—")), "{fate}");
    }
}

#[test]
fn the_waste_code_changes_between_8_and_9_december_2026() {
    for (day, code, other) in [
        (date(2026, 12, 8), "eu.code.before", "eu.code.after"),
        (date(2026, 12, 9), "eu.code.after", "eu.code.before"),
    ] {
        let found = rules(Fate::Recycle, CellState::Intact, "FR", day);
        assert!(found.iter().any(|rule| rule == code) && !found.iter().any(|rule| rule == other), "{day}");
    }
}

#[test]
fn the_year_runs_from_the_decision_and_ends_a_year_later_also_on_a_leap_day() {
    for (day, end) in
        [(TODAY, "2027-11-25"), (date(2028, 2, 29), "2029-02-28"), (date(2027, 3, 1), "2028-03-01")]
    {
        let found = shown(&verdict(Fate::Recycle, CellState::Intact, None), Some("US"), day);
        let clock = found.iter().find(|caution| caution.rule == "us.clock").unwrap();
        assert!(
            clock.text.contains(&day.to_string()) && clock.text.contains(&format!("by {end}")),
            "{}",
            clock.text
        );
    }
}

#[test]
fn a_cell_for_reuse_has_no_waste_label_and_no_clock() {
    for place in ["US", "EU"] {
        let found = shown(&verdict(Fate::Reuse, CellState::Intact, None), Some(place), TODAY);
        assert!(found.iter().all(|caution| !matches!(caution.kind, Kind::Label | Kind::Counter)));
        let charge = found.iter().find(|caution| caution.rule == "any.reuse.charge").unwrap();
        assert!(charge.text.contains("only to 4.35 V"));
    }
}

#[test]
fn facts_from_memory_and_overdue_ones_say_verify() {
    let damaged = verdict(Fate::Recycle, CellState::DamagedOrDefective, None);
    let by_rule =
        |day, rule: &str| shown(&damaged, Some("US"), day).into_iter().find(|one| one.rule == rule).unwrap();
    assert!(by_rule(TODAY, "us.mark.damaged").verify, "the letter height is from memory");
    assert!(!by_rule(TODAY, "us.label").verify);
    assert!(!by_rule(date(2027, 5, 25), "us.label").verify);
    assert!(by_rule(date(2027, 5, 26), "us.label").verify, "its review is overdue");
}

#[test]
fn an_unknown_place_sends_to_the_authority() {
    for (place, rule) in
        [(None, "no_place"), (Some("ZZ"), "no_pack"), (Some("US-NY"), "no_pack"), (Some("FR"), "no_pack")]
    {
        let found = shown(&verdict(Fate::Recycle, CellState::Intact, None), place, TODAY);
        let own = found.iter().find(|caution| caution.rule == rule).unwrap();
        assert!(own.verify && own.text.contains("waste authority"), "{}", own.text);
    }
    let known = shown(&verdict(Fate::Recycle, CellState::Intact, None), Some("US"), TODAY);
    assert!(known.iter().all(|caution| !caution.rule.starts_with("no_")));
}
