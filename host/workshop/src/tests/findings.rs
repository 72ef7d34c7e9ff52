//! The table of what can be known against a cell, at the calls of the workshop: load, discharge and charge, and the case file.

use super::*;
use crate::admission::must_not_be_loaded;
use crate::assess::Assessed;
use crate::charge_permit::{ChargePermit, permit};
use crate::findings::NewLook;
use crate::trace_file::GivenTrace;
use celltriage_custody::State;
use celltriage_custody::test_support::found;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::{Finding, KNOWN_TABLE, KnownKind, Reason, RunOutcome};
use std::path::Path;

#[test]
fn a_load_is_barred_as_the_table_says() {
    for row in KNOWN_TABLE {
        let (mut case, _) = decided("PE-1", |_| {});
        case.history.known = vec![found(1, row.found)];
        // A screen and a discharge for the capacity go through the same door.
        let barred = must_not_be_loaded(&case).is_some();
        assert_eq!((barred, barred), (row.bars.load, row.bars.discharge), "{row:?}");
    }
}

#[test]
fn a_charge_is_refused_or_stays_open_as_the_table_says() {
    let place = Place::new();
    let mut shop = place.shop();
    assessed(&mut shop, "PE-1", Fate::Undecided, CellState::Intact);
    let label = decided("PE-1", |_| {}).0.nameplate;
    let with = |kind: Option<KnownKind>| {
        let mut state = State::about(shop.book(), &["PE-1"]).unwrap();
        let cell = state.cells.get_mut("PE-1").unwrap();
        cell.found = kind.into_iter().map(|kind| found(1, kind)).collect();
        permit(shop.book(), &state, "PE-1", &label, shop.now()).unwrap()
    };
    assert_eq!(with(None), ChargePermit::Given);
    for row in KNOWN_TABLE {
        let told = with(Some(row.found));
        match row.bars.load {
            true => assert!(matches!(told, ChargePermit::Refused { .. }), "{row:?}: {told:?}"),
            false => assert!(matches!(told, ChargePermit::Open { .. }), "{row:?}: {told:?}"),
        }
        assert!(row.bars.charge, "{row:?}");
    }
}

#[test]
fn each_sign_and_each_way_a_test_ends_is_the_row_that_it_should_be() {
    let place = Place::new();
    let mut shop = place.shop();
    let mut kinds = |change: &dyn Fn(&mut Subject)| -> Vec<KnownKind> {
        let number = shop.book().last_number().unwrap() + 1;
        let name = format!("PE-{number}");
        let (case, assessment) = decided(&name, change);
        shop.write_graded(&case, assessment, Evidence::Nothing).unwrap();
        shop.case_file(&name).unwrap().standing.iter().map(|found| found.kind).collect()
    };
    let signs = [
        (Sign::ActiveNow, KnownKind::Reacting),
        (Sign::Leaked, KnownKind::Leaked),
        (Sign::CasingBreached, KnownKind::CasingOpen),
        (Sign::Swollen, KnownKind::Swollen),
        (Sign::Deformed, KnownKind::Deformed),
        (Sign::Discoloured, KnownKind::Discoloured),
        (Sign::Misused, KnownKind::Misused),
        (Sign::ProtectionDamaged, KnownKind::Unprotected),
        (Sign::Recalled, KnownKind::Recalled),
    ];
    for (sign, kind) in signs {
        assert_eq!(kinds(&|subject| subject.observations.set(sign, Answer::Yes)), [kind]);
    }
    let measured = [
        (Quantity::RestTemperatureRise, 3.0, KnownKind::WarmAtRest),
        (Quantity::TemperatureRise, 30.0, KnownKind::WarmUnderLoad),
        (Quantity::ThicknessGrowth, 0.3, KnownKind::Swollen),
        (Quantity::RestVoltage, 4.6, KnownKind::OverCharged),
        (Quantity::RestVoltage, 1.0, KnownKind::DischargedTooFar),
    ];
    for (quantity, value, kind) in measured {
        let told = kinds(&|subject| {
            let mut estimate = celltriage_measure::estimate::Estimate::new(quantity, value, 0.0, "test");
            estimate.conditions.temperature_c = Some(23.0);
            subject.estimates.put(quantity, Ok(estimate));
        });
        assert!(told.contains(&kind), "{quantity:?} {value}: {told:?}");
    }
    let unfinished = RunOutcome::Unfinished { why: "stopped by a person".to_owned() };
    assert_eq!(kinds(&|subject| subject.circumstances.run = unfinished.clone()), [KnownKind::UnfinishedTest]);
    assert_eq!(kinds(&|_| {}), []);
}

#[test]
fn a_case_file_tells_what_stands_first_and_what_else_is_known() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assert!(shop.case_file("PE-1").unwrap().is_empty());
    let (case, assessment) = decided("PE-1", |subject| subject.observations.set(Sign::Swollen, Answer::Yes));
    shop.write_graded(&case, assessment, Evidence::Nothing).unwrap();
    let judged = judgement(&shop, "PE-1", LegalState::DamagedOrDefective);
    shop.judge(&signer, rules, &judged, &mut super::custody::Calm).unwrap();
    shop.open_container(&signer, rules, container("D-1", ContainerKind::Damaged, "DE")).unwrap();
    let placed = celltriage_custody::event::CellPlaced {
        cell: "PE-1".to_owned(),
        container: "D-1".to_owned(),
        inner: Some("bag 1".to_owned()),
        weighed: None,
    };
    shop.place(&signer, rules, placed).unwrap();
    let lines = shop.case_file("PE-1").unwrap().lines();
    let wanted = [
        "swollen, 2026-11-25 (entry 1)",
        "judged damaged or defective, not critical, 2026-11-25 (entry 2, Ines Harrow)",
        "judged damaged or defective, not critical, 2026-11-25 (entry 2, Ines Harrow)",
        "decided QUARANTINE, 2026-11-25 (entry 1)",
        "in container D-1, inner packing bag 1 since 2026-11-25",
    ];
    assert_eq!(lines, wanted);
}

#[test]
fn a_warm_cell_is_released_after_an_hour_by_name_and_reason_and_the_story_keeps_it() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let (case, assessment) = decided("PE-1", |subject| {
        let warm =
            celltriage_measure::estimate::Estimate::new(Quantity::RestTemperatureRise, 3.0, 0.0, "test");
        subject.estimates.put(Quantity::RestTemperatureRise, Ok(warm));
    });
    let mut assessment = assessment;
    // Warm, not reacting.
    for reason in &mut assessment.verdict.reasons {
        reason.finding = if reason.quantity == Some(Quantity::RestTemperatureRise) {
            reason.finding
        } else {
            celltriage_verdict::Finding::Pass
        };
    }
    assessment.verdict.condition = CellState::DamagedOrDefective;
    shop.write_graded(&case, assessment, Evidence::Nothing).unwrap();
    let look = |celsius| NewLook { cell: "PE-1".to_owned(), temperature_c: celsius, air_c: 20.0 };
    shop.look_at_temperature(&signer, rules, &look(20.4)).unwrap();
    let why = refusal(shop.end_finding(&signer, rules, 1, "cold again"));
    assert!(matches!(why, Refusal::NotEnded { .. }), "{why:?}");
    drop(shop);
    let later = HeldClock::at("2026-11-25T13:00:00Z".parse().unwrap());
    let mut shop = place.at(&later);
    shop.look_at_temperature(&signer, rules, &look(20.2)).unwrap();
    shop.end_finding(&signer, rules, 1, "cold again").unwrap();
    let known = shop.case_file("PE-1").unwrap();
    assert!(known.standing.is_empty());
    assert!(known.lines().iter().any(|line| line.ends_with("; ended by entry 4")), "{:?}", known.lines());
}

#[test]
fn a_trace_under_the_name_of_a_held_cell_makes_no_good_cell_of_it_whatever_a_face_hands_over() {
    let place = Place::new();
    let mut shop = place.shop();
    let (swollen, assessment) =
        decided("PE-1", |subject| subject.observations.set(Sign::Swollen, Answer::Yes));
    shop.write_graded(&swollen, assessment, Evidence::Nothing).unwrap();
    let rows: String = (0..120).map(|second| format!("{second},4.1,0\n")).collect();
    let rest = format!("Test Time / s,Voltage / V,Current / A\n{rows}");
    let given = || GivenTrace::read(Path::new("rest.csv"), rest.clone().into_bytes()).unwrap();
    let fails = |assessed: &Assessed| {
        let failed = |reason: &&Reason| reason.finding == Finding::Fail;
        let reasons = assessed.assessment.verdict.reasons.iter().filter(failed);
        reasons.map(|reason| reason.text.clone()).collect::<Vec<_>>()
    };
    // The face has asked nobody: its case knows nothing.
    let (case, _) = decided("PE-1", |_| {});
    let graded = shop.grade(&case, given(), &mut super::custody::Calm).unwrap();
    assert!(fails(&graded).iter().any(|text| text.contains("swollen")), "{:?}", fails(&graded));
    assert_eq!(graded.assessment.verdict.fate, Fate::Quarantine);
    // Another cell has nothing against it.
    let (case, _) = decided("PE-2", |_| {});
    let graded = shop.grade(&case, given(), &mut super::custody::Calm).unwrap();
    assert_eq!((fails(&graded), graded.assessment.verdict.fate), (Vec::new(), Fate::Undecided));
}
