//! What leaves, comes back, follows a shipment, and what happened against the rules, as calls.

use super::custody::Calm;
use super::*;
use crate::as_it_was::{Happened, Remark};
use crate::leaving::Thing;
use celltriage_custody::event::{CellPlaced, FollowUp, Named, WayBack, WayOut};
use celltriage_custody::refusal_of_irregular::RefusalOfIrregular;
use celltriage_custody::refusal_on_leaving::RefusalOnLeaving;
use celltriage_custody::test_support::{arrival, departure};

fn placed(cell: &str, container: &str) -> CellPlaced {
    let (cell, container) = (cell.to_owned(), container.to_owned());
    CellPlaced { cell, container, inner: None, weighed: None }
}

/// A box for intact cells, and a damaged cell that lies loose.
fn begun(shop: &mut Workshop<'_>, rules: &PackRules) {
    assessed(shop, "PE-1", Fate::Quarantine, CellState::DamagedOrDefective);
    let new = judgement(shop, "PE-1", LegalState::DamagedOrDefective);
    shop.judge(&signer(), rules, &new, &mut Calm).unwrap();
    shop.open_container(&signer(), rules, container("BOX", ContainerKind::Intact, "US")).unwrap();
}

#[test]
fn what_leaves_is_assessed_by_nobody_before_it_is_back() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    begun(&mut shop, rules);
    let cell = Thing::Cell("PE-1".to_owned());
    shop.leave(&signer, rules, &cell, &departure(WayOut::Lost)).unwrap();
    assert!(matches!(shop.known_before("PE-1", false), Err(Fault::Gone(_))));
    assert!(shop.due(rules, None).unwrap().items.iter().all(|item| item.subject != "PE-1"));
    let back = shop.come_back(&signer, rules, &cell, &arrival(WayBack::Found)).unwrap();
    assert!(back.state.cells["PE-1"].to_screen().is_some());
    shop.known_before("PE-1", false).unwrap();
    let again = shop.come_back(&signer, rules, &cell, &arrival(WayBack::Found));
    assert!(matches!(refusal(again), Refusal::OnLeaving(RefusalOnLeaving::IsHere(_))));
    let boxed = Thing::Container("BOX".to_owned());
    shop.leave(&signer, rules, &boxed, &departure(WayOut::Stolen)).unwrap();
    assert!(!shop.container("BOX", rules).unwrap().container.is_here());
    shop.come_back(&signer, rules, &boxed, &arrival(WayBack::Found)).unwrap();
    let early = shop.follow_up(&signer, rules, "S-1", &FollowUp::Settled { because: "x".to_owned() });
    assert!(matches!(refusal(early), Refusal::UnknownShipment(_)));
}

#[test]
fn what_the_rules_refuse_is_written_as_it_was_and_put_right() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    begun(&mut shop, rules);
    let refused = shop.place(&signer, rules, placed("PE-1", "BOX"));
    let words = refusal(refused).to_string();
    let happened = Happened::Placed(placed("PE-1", "BOX"));
    let written = shop.write_as_it_was(&signer, rules, &happened, "taken out").unwrap();
    let entry = written.entry.number;
    assert_eq!(written.state.cells["PE-1"].container(), Some("BOX"));
    let open = shop.irregularities(false).unwrap();
    assert_eq!((open.len(), open[0].0, &open[0].1.told.breaks), (1, entry, &vec![words]));
    let charge = shop.charge_permit("PE-1", &decided("PE-1", |_| {}).0.nameplate).unwrap();
    assert!(matches!(charge, crate::charge_permit::ChargePermit::Refused { .. }), "{charge:?}");
    shop.put_right(&signer, rules, entry, "in the drum now").unwrap();
    assert!(shop.irregularities(false).unwrap().is_empty());
    assert_eq!(shop.irregularities(true).unwrap().len(), 1);
    let wrong = shop.put_right(&signer, rules, entry - 1, "x");
    assert!(matches!(refusal(wrong), Refusal::OfIrregular(RefusalOfIrregular::NoIrregularity(_))));
    let remark = Remark {
        about: Named::Container,
        name: "BOX".to_owned(),
        happened: "stood open".to_owned(),
        breaks: "closed at all times".to_owned(),
        action: "closed".to_owned(),
    };
    shop.remark_irregular(&signer, rules, &remark).unwrap();
    assert_eq!(shop.irregularities(false).unwrap().len(), 1);
}
