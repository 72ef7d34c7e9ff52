//! The papers: figures and words against their sources, in every place, and no promise anywhere.

use super::*;
use crate::custody::local_rules::{LocalRules, Region};
use crate::custody::papers::{Consignment, Papers};
use crate::custody::state::{Progress, Shipment};
use crate::rules::{PlaceCode, promise_in};

fn consignment(place: &PlaceCode, damaged: bool) -> Consignment<'_> {
    Consignment {
        place,
        date: TODAY,
        mode: Mode::Road,
        purpose: Purpose::Recycling,
        damaged,
        cells: 3,
        heaviest: Milligrams::grams(500),
        largest: MilliwattHours::watt_hours(20),
        net: Milligrams::kilograms(333),
        gross: Milligrams::kilograms(30),
    }
}

fn papers(place: &str, damaged: bool, change: impl FnOnce(&mut Consignment<'_>)) -> Papers {
    let rules = PackRules::new(Packs::built_in().unwrap());
    let place: PlaceCode = place.parse().unwrap();
    let mut consignment = consignment(&place, damaged);
    change(&mut consignment);
    rules.papers(&consignment)
}

fn marks(papers: &Papers) -> Vec<(&str, Option<u32>)> {
    papers.marks.iter().map(|mark| (mark.words.as_str(), mark.letter_height_mm)).collect()
}

#[test]
fn marks_are_worded_as_their_sources_word_them() {
    // 49 CFR 173.185(f)(4) and 40 CFR 273.14(a), with the long dash of the official text.
    let us = papers("US", true, |_| {});
    assert!(marks(&us).contains(&("Damaged/defective lithium ion battery", Some(12))));
    assert!(marks(&us).contains(&("Universal Waste—Battery(ies)", None)));
    assert!(marks(&papers("US", false, |_| {})).contains(&("Universal Waste—Battery(ies)", None)));
    // ADR SP 376 and SP 377.
    for place in ["DE", "FR", "GB"] {
        let damaged = papers(place, true, |_| {});
        assert!(marks(&damaged).contains(&("DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES", None)), "{place}");
        assert_eq!(
            marks(&papers(place, false, |_| {})),
            [("LITHIUM BATTERIES FOR RECYCLING", None)],
            "{place}"
        );
        let disposal = papers(place, false, |one| one.purpose = Purpose::Disposal);
        assert_eq!(marks(&disposal), [("LITHIUM BATTERIES FOR DISPOSAL", None)], "{place}");
    }
    // TDG special provision 137, either language.
    let canada = papers("CA-ON", true, |_| {});
    assert!(marks(&canada).contains(&("Damaged/Defective Lithium Ion Batteries", None)));
    assert!(marks(&canada).contains(&("piles au lithium ionique endommagées/défectueuses", None)));
}

#[test]
fn the_forbidden_mark_is_for_cells_above_20_and_up_to_60_watt_hours_not_by_sea() {
    let forbidden = "LITHIUM BATTERIES—FORBIDDEN FOR TRANSPORT ABOARD AIRCRAFT AND VESSEL.";
    for (energy, mode, expected) in [
        (20_000, Mode::Road, false),
        (20_001, Mode::Road, true),
        (60_000, Mode::Rail, true),
        (60_001, Mode::Road, false),
        (40_000, Mode::Sea, false),
    ] {
        let told = papers("US", false, |one| {
            one.largest = MilliwattHours(energy);
            one.mode = mode;
        });
        assert_eq!(told.marks.iter().any(|mark| mark.words == forbidden), expected, "{energy} {mode:?}");
    }
}

#[test]
fn the_easy_road_rule_ends_at_each_of_its_limits_and_never_takes_damaged_cells() {
    let easy = |damaged, change: fn(&mut Consignment<'_>)| {
        papers("DE", damaged, change).provision.citation == "ADR 2025 SP 636"
    };
    assert!(easy(false, |_| {}));
    assert!(!easy(true, |_| {}));
    assert!(!easy(false, |one| one.heaviest = Milligrams(500_001)));
    assert!(!easy(false, |one| one.largest = MilliwattHours(20_001)));
    assert!(!easy(false, |one| one.gross = Milligrams(30_000_001)));
    assert!(!easy(false, |one| one.net = Milligrams(333_000_001)));
    assert!(!easy(false, |one| one.mode = Mode::Rail), "SP 636 is a rule of the road");
}

#[test]
fn damaged_cells_have_their_own_packing_and_in_the_united_states_one_package_each() {
    assert_eq!(papers("US", true, |_| {}).packages, 3);
    assert!(papers("US", true, |_| {}).packing.text.contains("packing-group-I"));
    assert!(papers("DE", true, |_| {}).packing.text.contains("P908"));
    assert!(papers("DE", false, |_| {}).packing.text.contains("P909"));
}

#[test]
fn every_part_has_a_source_and_what_is_not_known_of_a_place_is_to_be_verified() {
    let mut regions = Vec::new();
    for place in ["US", "US-CA", "DE", "FR", "GB", "CA", "AU", "IN", "JP", "SG", "BR"] {
        for damaged in [false, true] {
            for mode in [Mode::Road, Mode::Rail, Mode::Sea] {
                let told = papers(place, damaged, |one| one.mode = mode);
                assert_eq!(told.un_number, "UN 3480");
                let needs = [&told.provision, &told.packing].into_iter();
                let needs = needs.chain(&told.documents).chain(&told.training).chain(&told.approval);
                for need in needs {
                    assert!(
                        !need.citation.is_empty() && promise_in(&need.text).is_none(),
                        "{place}: {need:?}"
                    );
                    assert!(
                        need.verify || !["CA", "AU", "IN", "JP", "SG", "BR"].contains(&place),
                        "{need:?}"
                    );
                }
                assert!(!told.marks.is_empty() && !told.documents.is_empty() && !told.training.is_empty());
                assert!(!told.approval.is_empty() && !told.doubts.is_empty(), "{place}");
                assert!(told.doubts.iter().all(|doubt| promise_in(doubt).is_none()));
            }
        }
        regions.push(PackRules::new(Packs::built_in().unwrap()).region(&place.parse().unwrap()));
    }
    assert!(Region::ALL.iter().all(|region| regions.contains(region)));
}

#[test]
fn the_page_says_that_it_is_a_draft_and_promises_nothing() {
    for (place, kind) in [
        ("US", ContainerKind::Intact),
        ("US", ContainerKind::Damaged),
        ("DE", ContainerKind::Damaged),
        ("JP", ContainerKind::Intact),
    ] {
        let mut world = World::new();
        if kind == ContainerKind::Intact {
            world.intact("PE-1")
        } else {
            world.damaged("PE-1")
        }
        world.open("BOX", kind, place);
        world.must(placed("BOX", "PE-1", Some("a")));
        let request = world.request("S1", "BOX");
        let draft = draft::build(&world.state, &request, &world.circumstances()).unwrap();
        let shipment = Shipment {
            draft,
            drafted_on: TODAY,
            drafted_by: "Ines Harrow".to_owned(),
            agreed: None,
            handed_over: None,
            progress: Progress::Drafted,
        };
        let page = draft::text(&shipment);
        assert!(page.starts_with("DRAFT, TO BE CHECKED BY A TRAINED PERSON"), "{page}");
        assert!(
            page.trim_end()
                .ends_with("draft, to be checked by a trained person: name, training, date, signature")
        );
        assert!(page.contains("PE-1") && page.contains("UN 3480") && page.contains("NOT YET"));
        assert_eq!(promise_in(&page), None, "{page}");
        for mark in &shipment.draft.papers.marks {
            assert!(page.contains(&format!("\"{}\"", mark.words)));
        }
    }
}
