//! A container leaves the workshop, and a used cell gets its record.

use super::custody::Calm;
use super::*;
use crate::shipments::ShipmentView;
use crate::used_records::ForUse;
use celltriage_custody::draft::Request;
use celltriage_custody::event::{
    CellPlaced, HandedOver, LifetimeRecord, Mode, Purpose, ReceiverAgreed, ShipmentWithdrawn,
};
use celltriage_custody::state::Progress;
use celltriage_custody::units::Milligrams;
use celltriage_custody::used::RecallCheck;
use celltriage_verdict::Source;

fn request(name: &str) -> Request {
    Request {
        shipment: name.to_owned(),
        container: "BOX".to_owned(),
        more: Vec::new(),
        mode: Mode::Road,
        purpose: Purpose::Recycling,
        receiver: "Gull Point Recycling".to_owned(),
        planned_on: TODAY,
        gross: Milligrams::kilograms(12),
    }
}

fn handed_over(name: &str) -> HandedOver {
    HandedOver {
        shipment: name.to_owned(),
        document: "D-2026-0017".to_owned(),
        received_by: "driver Okoro".to_owned(),
        checked_by: "Ines Harrow".to_owned(),
        training: "dangerous goods, 3 March 2026".to_owned(),
        waste_code: None,
    }
}

/// A container with one cell that is judged intact waste.
fn packed(shop: &mut Workshop<'_>, rules: &PackRules, place: &str) {
    assessed(shop, "PE-1", Fate::Recycle, CellState::Intact);
    let new = judgement(shop, "PE-1", LegalState::IntactWaste);
    shop.judge(&signer(), rules, &new, &mut Calm).unwrap();
    shop.open_container(&signer(), rules, container("BOX", ContainerKind::Intact, place)).unwrap();
    let (cell, container) = ("PE-1".to_owned(), "BOX".to_owned());
    shop.place(&signer(), rules, CellPlaced { cell, container, inner: None, weighed: None }).unwrap();
}

#[test]
fn a_container_leaves_once_its_receiver_has_agreed_with_the_only_code_of_the_day() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    packed(&mut shop, rules, "GB");
    let by_air = shop.draft_shipment(&signer, rules, &Request { mode: Mode::Air, ..request("S-1") });
    assert!(matches!(refusal(by_air), Refusal::Air(_)));
    let drafted = shop.draft_shipment(&signer, rules, &request("S-1")).unwrap();
    let view = ShipmentView::of(&drafted.state, "S-1").unwrap();
    assert_eq!((view.shipment.draft.contents.len(), view.simulated), (1, false));
    let [only] = view.shipment.draft.waste_codes.as_slice() else { panic!("one code of the day") };
    let early = shop.hand_over(&signer, rules, &handed_over("S-1"));
    assert!(matches!(refusal(early), Refusal::NotAgreed(_)));
    let agreed = ReceiverAgreed { shipment: "S-1".to_owned(), reference: "letter 17".to_owned() };
    shop.receiver_agrees(&signer, rules, agreed).unwrap();
    shop.hand_over(&signer, rules, &handed_over("S-1")).unwrap();
    let left = shop.shipment("S-1").unwrap().shipment;
    assert_eq!(left.progress, Progress::HandedOver { on: TODAY });
    assert_eq!(left.handed_over.unwrap().waste_code.as_ref(), Some(&only.code));
    let weighed = celltriage_custody::event::CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams(1) };
    assert!(matches!(refusal(shop.weigh(&signer, rules, weighed)), Refusal::CellGone { .. }));
}

#[test]
fn of_several_codes_of_a_day_a_person_names_one() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    packed(&mut shop, rules, "DE");
    shop.draft_shipment(&signer, rules, &request("S-1")).unwrap();
    let agreed = ReceiverAgreed { shipment: "S-1".to_owned(), reference: "letter 17".to_owned() };
    shop.receiver_agrees(&signer, rules, agreed).unwrap();
    let without = shop.hand_over(&signer, rules, &handed_over("S-1"));
    assert!(matches!(refusal(without), Refusal::WasteCode { .. }));
    let codes = shop.shipment("S-1").unwrap().shipment.draft.waste_codes;
    assert!(codes.len() > 1, "{codes:?}");
    let waste_code = codes.first().map(|code| code.code.clone());
    shop.hand_over(&signer, rules, &HandedOver { waste_code, ..handed_over("S-1") }).unwrap();
}

#[test]
fn a_draft_is_withdrawn_and_its_name_is_not_used_again() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    packed(&mut shop, rules, "GB");
    shop.draft_shipment(&signer, rules, &request("S-1")).unwrap();
    let withdrawn = ShipmentWithdrawn { shipment: "S-1".to_owned(), because: "lorry broke down".to_owned() };
    shop.withdraw(&signer, rules, withdrawn).unwrap();
    assert_eq!(shop.shipment("S-1").unwrap().shipment.progress, Progress::Withdrawn);
    let again = shop.draft_shipment(&signer, rules, &request("S-1"));
    assert!(matches!(refusal(again), Refusal::NameTaken { .. }));
    assert!(matches!(shop.shipment("S-2").unwrap_err(), Fault::Unknown(_)));
}

#[test]
fn what_falls_due_is_the_hand_over_of_what_was_discarded() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    assessed(&mut shop, "PE-2", Fate::Recycle, CellState::Intact);
    let list = shop.due(rules, None).unwrap();
    assert_eq!((list.today, list.items.len(), list.site.len()), (TODAY, 1, 0));
    assert!(list.items[0].what.starts_with("put it into a container"), "{:?}", list.items);
    packed(&mut shop, rules, "US");
    let all = shop.due(rules, None).unwrap();
    let hand_over = all.items.iter().find(|item| item.what.starts_with("hand over")).unwrap();
    assert_eq!(hand_over.subject, "BOX");
    let days = u32::try_from(hand_over.days_left).unwrap();
    let within = |days| shop.due(rules, Some(days)).unwrap().items.contains(hand_over);
    assert!(within(days) && !within(days - 1));
}

#[test]
fn a_used_cell_gets_a_record_of_its_tests() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let entry = assessed(&mut shop, "PE-3", Fate::Reuse, CellState::Intact);
    let tested = shop.tested("PE-3").unwrap();
    assert_eq!((tested.entry, tested.on), (entry, TODAY));
    let given = |listed| ForUse {
        item: "lamp battery".to_owned(),
        production_year: Some(2021),
        company: "Harrow Cells".to_owned(),
        address: "4 Quay Lane, Port Ellery".to_owned(),
        recall: RecallCheck { on: TODAY, looked_in: "the maker's list".to_owned(), listed },
        contract: None,
    };
    assert!(matches!(
        refusal(shop.make_used_record(&signer, rules, &tested, given(true))),
        Refusal::NoUsedRecord { .. }
    ));
    let new = judgement(&shop, "PE-3", LegalState::NotWaste);
    shop.judge(&signer, rules, &new, &mut Calm).unwrap();
    let made = shop.make_used_record(&signer, rules, &tested, given(false)).unwrap();
    assert_eq!((made.on, made.record.assessment), (TODAY, entry));
    assert!(made.record.results.iter().any(|result| result.quantity == "capacity_ah"));
    assert!(!made.needed.is_empty());
    // Whoever gets the cell reads what is recorded of its life, or that nothing is.
    assert_eq!(made.record.life, None);
    let gauge = LifetimeRecord { cycles: Some(214), ..LifetimeRecord::of("PE-3", Source::Gauge) };
    shop.record_lifetime(&signer, rules, gauge).unwrap();
    let tested = shop.tested("PE-3").unwrap();
    let made = shop.make_used_record(&signer, rules, &tested, given(false)).unwrap();
    assert!(made.record.life.is_some_and(|life| life.contains("214 cycles")));
}
