//! Lots, and batteries in or with equipment: counted, limited and sent as what they are.

use super::*;
use celltriage_measure::observation::Sign;

#[test]
fn a_lot_counts_as_its_cells_and_a_damaged_one_is_not_sent_as_one() {
    let mut world = World::new();
    let missing = received("LOT-1", ReceivedAs::Lot, |told| told.count = None);
    assert!(matches!(world.attempt(missing), Err(Refusal::BadReceipt { .. })));
    let guessed = received("LOT-1", ReceivedAs::Lot, |told| {
        told.mass = Some(Stated { value: Milligrams::kilograms(8), rests_on: RestsOn::Estimated });
    });
    assert!(matches!(world.attempt(guessed), Err(Refusal::BadReceipt { .. })), "a lot is weighed");
    world.must(received("LOT-1", ReceivedAs::Lot, |_| {}));
    world.must(Event::ContainerOpened(ContainerOpened { most_cells: Some(10), ..opened_of("IN") }));
    let judged = world.judgement("LOT-1", LegalState::IntactWaste);
    world.must(judged);
    world.must(placed("IN", "LOT-1", None));
    assert_eq!((world.state.count_in("IN"), world.state.mass_in("IN")), (7, Milligrams::grams(310)));
    world.intact("PE-1");
    world.must(placed("IN", "PE-1", None));
    world.must(received("LOT-2", ReceivedAs::Lot, |told| told.count = Some(3)));
    let judged = world.judgement("LOT-2", LegalState::IntactWaste);
    world.must(judged);
    let full = world.attempt(placed("IN", "LOT-2", None)).unwrap_err();
    assert!(matches!(full, Refusal::ContainerFull { .. }), "8 and 3 are more than 10: {full}");
    world.draft(&world.request("S-1", "IN")).unwrap();
    let draft = &world.state.shipments["S-1"].draft;
    assert_eq!(draft.cells(), 8);
    let heaviest = crate::draft::consignment(draft, TODAY).heaviest;
    assert_eq!(heaviest, Milligrams::grams(48), "the heaviest cell, not the bucket");

    let mut world = World::new();
    world.open("DD", ContainerKind::Damaged, "US");
    world.must(received("LOT-3", ReceivedAs::Lot, |told| {
        told.signs.insert(Sign::Leaked, Symptom::Yes);
    }));
    let judged = world.judgement("LOT-3", LegalState::DamagedOrDefective);
    world.must(judged);
    world.must(placed("DD", "LOT-3", Some("a")));
    let refused = world.draft(&world.request("S-1", "DD")).unwrap_err();
    assert_eq!(refused, Refusal::LotOfDamaged { lot: "LOT-3".to_owned(), cells: 7 });
}

fn opened_of(name: &str) -> ContainerOpened {
    let Event::ContainerOpened(opened) = opened(name, ContainerKind::Intact, "US") else { unreachable!() };
    opened
}

#[test]
fn batteries_in_and_with_equipment_go_under_their_own_number() {
    for (place, in_it) in [("US", "UN3481"), ("DE", "UN 3481"), ("ZZ", "UN 3481")] {
        let mut world = World::new();
        world.open("IN", ContainerKind::Intact, place);
        for (cell, is) in
            [("A", ReceivedAs::DeviceWithin), ("B", ReceivedAs::DeviceBeside), ("C", ReceivedAs::Pack)]
        {
            world.must(received(cell, is, |_| {}));
            let judged = world.judgement(cell, LegalState::IntactWaste);
            world.must(judged);
        }
        let papers = |world: &mut World, shipment: &str| {
            world.draft(&world.request(shipment, "IN")).unwrap();
            let papers = world.state.shipments[shipment].draft.papers.clone();
            world.must(withdrawn(shipment));
            papers
        };
        let alone = in_it.replace("3481", "3480");
        world.must(placed("IN", "A", None));
        let told = papers(&mut world, "S-1");
        assert_eq!(told.un_number, in_it, "{place}");
        assert!(
            told.shipping_name.to_lowercase().ends_with("contained in equipment"),
            "{}",
            told.shipping_name
        );
        assert!(
            told.besides.is_empty() && told.under.iter().all(|name| !name.contains("636")),
            "{place} {told:?}"
        );
        assert!(told.marks.iter().any(|mark| mark.words == in_it), "{place}");
        assert!(!told.marks.iter().any(|mark| mark.words == alone), "{place}");
        world.must(placed("IN", "B", None));
        world.must(placed("IN", "C", None));
        let told = papers(&mut world, "S-2");
        assert_eq!(told.un_number, alone, "{place}: the pack by itself");
        let names: Vec<String> = told.besides.iter().map(|one| one.shipping_name.to_lowercase()).collect();
        assert!(
            names[0].ends_with("contained in equipment") && names[1].ends_with("packed with equipment"),
            "{names:?}"
        );
        assert_eq!(told.substances().len(), 3);
        for mark in [in_it, alone.as_str()] {
            assert_eq!(told.marks.iter().filter(|one| one.words == mark).count(), 1, "{place} {mark}");
        }
        assert!(!told.counted.iter().any(|count| count.under.is_some()), "no relief is counted: {place}");
    }
}
