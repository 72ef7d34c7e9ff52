//! The container that is proposed for a cell is one that takes it, by the check of its placing.

use super::custody::Calm;
use super::*;

#[test]
fn the_container_that_takes_a_cell_is_proposed_and_the_others_say_why_not() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    for (name, kind, at) in [
        ("IN-1", ContainerKind::Intact, "US"),
        ("IN-2", ContainerKind::Intact, "DE"),
        ("DD-1", ContainerKind::Damaged, "US"),
        ("QU-1", ContainerKind::Quarantine, "US"),
    ] {
        shop.open_container(&signer, rules, container(name, kind, at)).unwrap();
    }
    let names = |shop: &Workshop<'_>, cell: &str| -> Vec<(String, Option<String>)> {
        let takers = shop.takers_of(cell, rules).unwrap();
        takers.fit.into_iter().map(|taker| (taker.name, taker.inner)).collect()
    };
    let own = |name: &str| (name.to_owned(), Some("PE-1".to_owned()));
    // Nobody has judged it: it counts as damaged.
    assert_eq!(names(&shop, "PE-1"), [own("DD-1"), own("QU-1")]);
    let refused = shop.takers_of("PE-1", rules).unwrap().refused;
    assert!(refused.iter().all(|(_, refusal)| matches!(refusal, Refusal::WrongMix { .. })), "{refused:?}");
    assert_eq!(shop.last_qualification("Ines Harrow").unwrap(), None);
    let new = judgement(&shop, "PE-1", LegalState::IntactWaste);
    shop.judge(&signer, rules, &new, &mut Calm).unwrap();
    // Of its own place first.
    assert_eq!(names(&shop, "PE-1"), [("IN-1".to_owned(), None), ("IN-2".to_owned(), None)]);
    assert_eq!(shop.last_qualification("Ines Harrow").unwrap(), Some(new.qualification));
    assert_eq!(shop.last_qualification("Tom Weller").unwrap(), None);
    // What is proposed is taken.
    let taker = shop.takers_of("PE-1", rules).unwrap().fit.remove(0);
    let placed = celltriage_custody::event::CellPlaced {
        cell: "PE-1".to_owned(),
        container: taker.name,
        inner: taker.inner,
        weighed: None,
    };
    shop.place(&signer, rules, placed).unwrap();
    assert_eq!(names(&shop, "PE-1"), [], "it lies in one already");
    assert_eq!(names(&shop, "PE-404"), [], "nobody knows it");
}
