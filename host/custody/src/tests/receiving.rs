//! What comes in without a test: held, judged, boxed, counted and sent from the first minute, and never milder than what is known.

use super::*;
use crate::counters::of_container;
use crate::due::due;
use celltriage_measure::observation::Sign;
use celltriage_verdict::KnownKind;

fn damaged_judgement(world: &World, cell: &str) -> Event {
    world.judgement(cell, LegalState::DamagedOrDefective)
}

fn symptom(sign: Sign, told: Symptom) -> impl FnOnce(&mut Received) {
    move |received| {
        received.signs.insert(sign, told);
    }
}

#[test]
fn it_is_held_judged_boxed_counted_and_due_without_an_assessment() {
    let mut world = World::new();
    world.must(received("DEV-1", ReceivedAs::DeviceWithin, |_| {}));
    let told = |world: &World| {
        due(&world.state, &world.circumstances()).into_iter().map(|due| due.what).collect::<Vec<_>>()
    };
    assert!(
        told(&world).iter().any(|what| what.starts_with("judge it, and put it into a container")),
        "{:?}",
        told(&world)
    );
    assert_eq!(world.state.cells["DEV-1"].legal(), LegalState::Unknown, "nobody has measured it");
    world.open("IN", ContainerKind::Intact, "US");
    world.open("DD", ContainerKind::Damaged, "US");
    let wrong = world.attempt(placed("IN", "DEV-1", None)).unwrap_err();
    assert!(matches!(wrong, Refusal::WrongMix { .. }), "{wrong}");
    world.must(placed("DD", "DEV-1", Some("a")));
    assert_eq!(world.state.mass_in("DD"), Milligrams::grams(310));
    assert_eq!(world.state.energy_in("DD"), MilliwattHours::watt_hours(15));
    assert!(world.state.is_estimated_in("DD"), "its energy is only estimated");
    let counters = of_container(&world.state, "DD", &world.circumstances());
    assert!(counters.iter().any(|counter| counter.until.is_some()), "the clock runs: {counters:?}");
    world.must(taken_out("DEV-1"));
    let judged = world.judgement("DEV-1", LegalState::IntactWaste);
    world.must(judged);
    world.must(placed("IN", "DEV-1", None));
    // Under watch it lies in the wrong box, and is told to be taken out.
    world.must(hold("DEV-1", TODAY));
    assert!(world.state.watched.contains("DEV-1"));
    assert!(told(&world).iter().any(|what| what.starts_with("take it out of its container")));
    assert_eq!(world.replayed(), world.state);
}

#[test]
fn a_sign_stands_in_the_table_until_it_is_struck_and_decides_the_proposal() {
    for sign in Sign::ALL {
        let mut world = World::new();
        world.must(received("PE-1", ReceivedAs::Cell, symptom(sign, Symptom::Yes)));
        let cell = &world.state.cells["PE-1"];
        let wanted = match sign {
            Sign::ActiveNow => LegalState::Critical,
            Sign::CasingBreached => LegalState::CasingBreached,
            _ => LegalState::DamagedOrDefective,
        };
        assert_eq!((cell.proposal(), cell.legal()), (wanted, wanted), "{sign:?}");
        let kinds: Vec<KnownKind> = cell.standing().map(|found| found.kind).collect();
        assert_eq!(kinds.len(), 1, "{sign:?}");
        assert_eq!(kinds[0].row().release, celltriage_verdict::Release::Striking, "{sign:?}");
        let milder = world.judgement("PE-1", LegalState::IntactWaste);
        assert!(world.attempt(milder).is_err(), "{sign:?}");
        // Looked at again without it: what was found stays found.
        world.must(added("PE-1", symptom(sign, Symptom::No)));
        assert_eq!(world.state.cells["PE-1"].proposal(), wanted, "{sign:?}");
    }
}

#[test]
fn what_was_seen_is_struck_and_what_it_is_stays() {
    let mut world = World::new();
    let entry = world.next();
    world.must(received("PE-1", ReceivedAs::Cell, symptom(Sign::Swollen, Symptom::Yes)));
    world.open("DD", ContainerKind::Damaged, "US");
    world.must(placed("DD", "PE-1", Some("a")));
    let (of, subject, because) = ("received".to_owned(), "PE-1".to_owned(), "another one".to_owned());
    world.must(Event::Correction(Correction { entry, of, subject, because, strike: true }));
    let cell = &world.state.cells["PE-1"];
    assert_eq!((cell.standing().count(), cell.legal()), (0, LegalState::Unknown));
    assert_eq!((cell.mass(), cell.is_as()), (Milligrams::grams(310), Some(ReceivedAs::Cell)));
    // It is not lost: it can be taken out, and judged again.
    world.must(taken_out("PE-1"));
    assert_eq!(world.replayed(), world.state);
}

#[test]
fn nothing_is_judged_not_waste_or_sold_without_an_assessment() {
    let mut world = World::new();
    world.must(received("PE-1", ReceivedAs::Cell, |_| {}));
    let judged = world.judgement("PE-1", LegalState::NotWaste);
    let told = world.attempt(judged).unwrap_err().to_string();
    assert!(told.contains("without an assessment nothing is judged as not waste"), "{told}");
    let told = world.attempt(world.left("PE-1", departure(WayOut::Sold))).unwrap_err().to_string();
    assert!(told.contains("nobody has assessed it"), "{told}");
    let without = world.used("PE-1");
    assert!(world.attempt(without).is_err());
    // Judged without a reason it is milder than unknown.
    let Event::Judgement(judged) = world.judgement("PE-1", LegalState::IntactWaste) else { unreachable!() };
    let bare = Judgement { because: None, ..judged };
    assert!(matches!(world.attempt(Event::Judgement(bare)), Err(Refusal::Milder { .. })));
}

#[test]
fn what_is_somebody_else_s_is_kept_apart_and_discarded_only_by_consent() {
    let mut world = World::new();
    world.open("DD", ContainerKind::Damaged, "US");
    world.open("IN", ContainerKind::Intact, "US");
    world.must(received_of_somebody("PE-1", ReceivedAs::Cell));
    let lacks = |refused: Result<(), Refusal>| matches!(refused, Err(Refusal::NoConsent { .. }));
    let intact = world.judgement("PE-1", LegalState::IntactWaste);
    assert!(lacks(world.attempt(intact.clone())));
    let Event::Judgement(mut damaged) = damaged_judgement(&world, "PE-1") else { unreachable!() };
    damaged.decided_on = Some(TODAY);
    assert!(lacks(world.attempt(Event::Judgement(damaged))), "damaged, and to be discarded");
    let kept = damaged_judgement(&world, "PE-1");
    world.must(kept);
    world.must(placed("DD", "PE-1", Some("a")));
    assert_eq!(world.state.cells["PE-1"].discarded_on(), None, "it lies there, and nobody has discarded it");
    let asked = |world: &World| {
        due(&world.state, &world.circumstances())
            .iter()
            .any(|due| due.what.starts_with("ask whether it may be discarded"))
    };
    assert!(asked(&world));
    let request = world.request("S-1", "DD");
    assert!(lacks(world.draft(&request)));
    for told in [Consent::Refused, Consent::NotAsked] {
        world.must(consented("PE-1", told));
        assert!(lacks(world.draft(&request)), "{told:?}");
    }
    world.must(consented("PE-1", Consent::Given));
    assert_eq!(world.state.cells["PE-1"].discarded_on(), Some(TODAY), "from the day on which it may be");
    assert!(!asked(&world));
    world.draft(&request).unwrap();
    world.must(agreed("S-1"));
    // Withdrawn on the kerb: refused, and written down as it was where it has left already.
    world.must(consented("PE-1", Consent::Refused));
    let left = handed_over("S-1", None);
    assert!(lacks(world.attempt(left.clone())));
    let irregular = world.irregular(left, "called its owner").unwrap();
    world.must(irregular);
    assert!(world.state.cells["PE-1"].whereabouts.is_gone());
    assert_eq!(world.replayed(), world.state);
}

#[test]
fn nobody_said_whose_it_is_counts_as_somebody_else_s() {
    let mut world = World::new();
    world.must(received("PE-1", ReceivedAs::Cell, |told| told.whose = None));
    let intact = world.judgement("PE-1", LegalState::IntactWaste);
    assert!(matches!(world.attempt(intact.clone()), Err(Refusal::NoConsent { .. })));
    let gone = world.left("PE-1", departure(WayOut::Refurbisher));
    assert!(matches!(world.attempt(gone), Err(Refusal::NoConsent { .. })));
    let back = world.left("PE-1", departure(WayOut::HandedBack));
    world.must(back);
    assert!(world.state.cells["PE-1"].whereabouts.is_gone());
}

#[test]
fn what_is_assessed_later_goes_on_and_is_a_cell_from_then_on() {
    let mut world = World::new();
    world.must(received("DEV-1", ReceivedAs::DeviceWithin, symptom(Sign::Swollen, Symptom::Yes)));
    let judged = damaged_judgement(&world, "DEV-1");
    world.must(judged);
    assert_eq!(world.state.cells["DEV-1"].goods(), celltriage_rules::Goods::InEquipment);
    world.assess("DEV-1", Fate::Quarantine, CellState::DamagedOrDefective);
    let cell = &world.state.cells["DEV-1"];
    assert_eq!((cell.is_as(), cell.goods()), (Some(ReceivedAs::Cell), celltriage_rules::Goods::Alone));
    assert_eq!(cell.mass(), Milligrams(45_000), "of the cell, not of the device");
    assert!(cell.standing_judgement().is_none(), "the judgement was about the receipt");
    assert!(cell.standing().any(|found| found.kind == KnownKind::Swollen), "what was seen stands");
    // A pack and a lot stay what they are.
    world.must(received("PACK-1", ReceivedAs::Pack, |_| {}));
    world.assess("PACK-1", Fate::Undecided, CellState::Intact);
    assert_eq!(world.state.cells["PACK-1"].is_as(), Some(ReceivedAs::Pack));
    let lot = received("DEV-1", ReceivedAs::Lot, |_| {});
    assert!(matches!(world.attempt(lot), Err(Refusal::BadReceipt { .. })));
    assert_eq!(world.replayed(), world.state);
}

#[test]
fn masses_and_energies_say_what_they_rest_on_and_the_worst_counts_where_none_is_told() {
    let mut world = World::new();
    let unsaid = |told: &mut Received| (told.mass, told.energy) = (None, None);
    for (cell, is, mass, energy) in [
        ("C", ReceivedAs::Cell, 2_000, 227_500),
        ("P", ReceivedAs::Pack, 20_000, 2_275_000),
        ("D", ReceivedAs::DeviceWithin, 20_000, 2_275_000),
    ] {
        world.must(received(cell, is, unsaid));
        let held = &world.state.cells[cell];
        assert_eq!((held.mass(), held.energy()), (Milligrams::grams(mass), MilliwattHours(energy)), "{cell}");
        assert_eq!((held.stated_mass(), held.stated_energy()), (None, None));
    }
    world.must(received("E", ReceivedAs::Pack, |told| {
        told.mass = Some(Stated { value: Milligrams::grams(900), rests_on: RestsOn::Estimated });
        told.energy = Some(Stated { value: MilliwattHours::watt_hours(90), rests_on: RestsOn::Label });
    }));
    let held = &world.state.cells["E"];
    let rests_on = (held.stated_mass().unwrap().rests_on, held.stated_energy().unwrap().rests_on);
    assert_eq!(rests_on, (RestsOn::Estimated, RestsOn::Label));
    world.must(Event::CellWeighed(CellWeighed { cell: "E".to_owned(), mass: Milligrams::grams(870) }));
    let held = &world.state.cells["E"];
    assert_eq!(
        (held.mass(), held.stated_mass().unwrap().rests_on),
        (Milligrams::grams(870), RestsOn::Measured)
    );
    // Later measured on receipt: the last that was measured counts.
    world.must(added("E", |told| {
        told.mass = Some(Stated { value: Milligrams::grams(860), rests_on: RestsOn::Measured });
    }));
    assert_eq!(world.state.cells["E"].mass(), Milligrams::grams(860));
}

#[test]
fn a_reacting_thing_is_taken_in_with_nothing_but_a_name_and_stays_critical() {
    let mut world = World::new();
    let bare = |told: &mut Received| {
        *told = Received::of("DOOR-1");
        told.signs.insert(Sign::ActiveNow, Symptom::Yes);
    };
    world.must(added("DOOR-1", bare));
    assert_eq!(world.state.cells["DOOR-1"].legal(), LegalState::Critical);
    let told = due(&world.state, &world.circumstances());
    assert!(told.iter().any(|due| due.what.starts_with("CRITICAL")), "{told:?}");
    world.open("DD", ContainerKind::Damaged, "US");
    assert!(matches!(world.attempt(placed("DD", "DOOR-1", Some("a"))), Err(Refusal::Critical(_))));
    // A cooler look makes it no milder.
    world.must(added("DOOR-1", |told| {
        told.signs.insert(Sign::ActiveNow, Symptom::No);
    }));
    assert_eq!(world.state.cells["DOOR-1"].legal(), LegalState::Critical);
    let milder = damaged_judgement(&world, "DOOR-1");
    assert!(matches!(world.attempt(milder), Err(Refusal::StillCritical { .. })));
    let quiet = added("DOOR-2", |told| {
        told.signs.insert(Sign::Swollen, Symptom::Yes);
    });
    assert!(
        matches!(world.attempt(quiet), Err(Refusal::BadReceipt { .. })),
        "without haste it is told whole"
    );
}

#[test]
fn what_cannot_be_told_is_open_and_cannot_be_diagnosed() {
    let mut world = World::new();
    world.must(received("PE-1", ReceivedAs::DeviceWithin, |told| {
        told.signs.insert(Sign::Swollen, Symptom::CannotBeTold);
        told.signs.remove(&Sign::Recalled);
    }));
    let recorded = world.state.cells["PE-1"].intake().unwrap().as_recorded();
    assert_eq!(recorded.get(&Criterion::Swollen), Some(&Answer::NotObserved));
    assert_eq!(
        recorded.get(&Criterion::IdentifiedDefective),
        Some(&Answer::NotObserved),
        "nobody has looked"
    );
    assert_eq!(recorded.get(&Criterion::CannotBeDiagnosed), Some(&Answer::Yes));
    assert_eq!(recorded.get(&Criterion::LeakedOrVented), Some(&Answer::No));
    assert_eq!(recorded.get(&Criterion::SafetyFeatures), None, "nobody asks that at the counter");
    assert!(crate::checklist::mildest(&recorded).counts_as_damaged());
}

#[test]
fn what_came_back_is_looked_at_again_and_judged() {
    let mut world = World::new();
    world.must(received("DEV-1", ReceivedAs::DeviceWithin, |_| {}));
    let judged = world.judgement("DEV-1", LegalState::IntactWaste);
    world.must(judged);
    let gone = world.left("DEV-1", departure(WayOut::HandedBack));
    world.must(gone);
    let away = world.attempt(consented("DEV-1", Consent::Given)).unwrap_err();
    assert!(away.to_string().contains("until it is back"), "{away}");
    world.must(back("DEV-1", WayBack::BroughtBack));
    assert!(world.state.cells["DEV-1"].standing_judgement().is_none());
    assert!(world.state.cells["DEV-1"].to_screen().is_some());
    world.must(added("DEV-1", symptom(Sign::Swollen, Symptom::No)));
    assert!(world.state.cells["DEV-1"].to_screen().is_none(), "somebody has looked at it again");
    // An assessed cell is screened by an assessment alone.
    world.assess("PE-1", Fate::Reuse, CellState::Intact);
    world.must(incident("PE-1", LifeEvent::Dropped));
    world.must(added("PE-1", symptom(Sign::Swollen, Symptom::No)));
    assert!(world.state.cells["PE-1"].to_screen().is_some());
}

#[test]
fn a_device_and_a_lot_are_fitted_into_nothing_and_a_lot_stays_one() {
    let mut world = World::new();
    world.must(received("DEV-1", ReceivedAs::DeviceWithin, |_| {}));
    world.must(received("LOT-1", ReceivedAs::Lot, |_| {}));
    for cell in ["DEV-1", "LOT-1"] {
        assert!(matches!(world.attempt(fitted(cell, false)), Err(Refusal::NotToBeFitted { .. })), "{cell}");
    }
    let now = added("LOT-1", |told| told.is = Some(ReceivedAs::Cell));
    assert!(matches!(world.attempt(now), Err(Refusal::BadReceipt { .. })));
    let out = added("DEV-1", |told| told.is = Some(ReceivedAs::Cell));
    world.must(out);
    let cell = &world.state.cells["DEV-1"];
    assert_eq!(
        (cell.stated_mass(), cell.mass()),
        (None, Milligrams::grams(2_000)),
        "the device was weighed, not the cell"
    );
    assert_eq!(world.replayed(), world.state);
}
