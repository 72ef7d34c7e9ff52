//! The papers: figures and words against their sources, in every place, and no promise anywhere.

use super::*;
use crate::local_rules::LocalRules;
use crate::need::Need;
use crate::papers::{Consignment, Papers};
use celltriage_rules::{PlaceCode, promise_in};

fn consignment(place: &PlaceCode, damaged: bool) -> Consignment<'_> {
    Consignment {
        goods: [true, false, false],
        containers: 1,
        place,
        date: TODAY,
        mode: Mode::Road,
        purpose: Purpose::Recycling,
        state: if damaged { LegalState::DamagedOrDefective } else { LegalState::IntactWaste },
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
        assert!(marks(&damaged).contains(&("DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES", Some(12))), "{place}");
        // Within the limits of SP 636 there is no other mark; beyond them the number stands beside it.
        assert_eq!(
            marks(&papers(place, false, |_| {})),
            [("LITHIUM BATTERIES FOR RECYCLING", Some(12))],
            "{place}"
        );
        let heavy = papers(place, false, |one| one.gross = Milligrams::kilograms(31));
        let of_heavy = [("LITHIUM BATTERIES FOR RECYCLING", Some(12)), ("UN 3480", Some(12))];
        assert_eq!(marks(&heavy), of_heavy, "{place}");
        // ADR 5.2.1.1: 6 mm are enough for the number up to 30 kg; words of a special provision have no smaller height.
        let light = papers(place, true, |one| one.gross = Milligrams::kilograms(30));
        assert!(marks(&light).contains(&("UN 3480", Some(6))), "{place}");
        assert!(marks(&light).contains(&("DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES", Some(12))), "{place}");
        let disposal = papers(place, false, |one| one.purpose = Purpose::Disposal);
        assert_eq!(marks(&disposal), [("LITHIUM BATTERIES FOR DISPOSAL", Some(12))], "{place}");
    }
    // TDG special provision 137, either language.
    let canada = papers("CA-ON", true, |_| {});
    assert!(marks(&canada).contains(&("Damaged/Defective Lithium Ion Batteries", None)));
    let own = canada.marks.iter().find(|mark| mark.rule == "ca.mark.damaged").unwrap();
    assert_eq!(own.or, ["piles au lithium ionique endommagées/défectueuses"]);
    assert!(canada.marks.iter().all(|mark| mark.rule != "un.mark.damaged"), "the nearer words stand alone");
    // California accepts one phrase, Washington three.
    let phrases = |place: &str| {
        let told = papers(place, false, |_| {});
        let found: Vec<_> = told.marks.into_iter().filter(|mark| mark.on_cell_or_container).collect();
        assert_eq!(found.len(), 1, "{place}: one rule speaks, not two");
        (found[0].words.clone(), found[0].or.len())
    };
    assert_eq!(phrases("US-CA"), ("Universal Waste—Battery(ies)".to_owned(), 0));
    assert_eq!(phrases("US-WA"), ("Universal Waste—Battery(ies)".to_owned(), 2));
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
        papers("DE", damaged, change).under.contains(&"SP 636".to_owned())
    };
    assert!(easy(false, |_| {}));
    assert!(!easy(true, |_| {}));
    assert!(!easy(false, |one| one.heaviest = Milligrams(500_001)));
    assert!(!easy(false, |one| one.largest = MilliwattHours(20_001)));
    assert!(!easy(false, |one| one.gross = Milligrams(30_000_001)));
    assert!(!easy(false, |one| one.net = Milligrams(333_000_001)));
    assert!(!easy(false, |one| one.mode = Mode::Rail), "SP 636 is a rule of the road");
}

/// Source: 49 CFR 173.185(c)(3) and (d). A package of smaller cells on the road bears the lithium battery mark in place of
/// number, label and shipping paper; beyond any of its limits, and by rail and sea, all three are back.
#[test]
fn a_small_package_in_the_united_states_bears_the_battery_mark_in_place_of_number_label_and_paper() {
    let told = |change: fn(&mut Consignment<'_>)| {
        let told = papers("US", false, |one| {
            (one.largest, one.net, one.gross) =
                (MilliwattHours::watt_hours(11), Milligrams::grams(1_900), Milligrams::kilograms(2));
            change(one);
        });
        let number = marks(&told).iter().any(|(words, _)| *words == "UN3480");
        let says = |needs: &[Need], words: &str| needs.iter().any(|need| need.text.contains(words));
        let mark = says(&told.labels, "lithium battery mark");
        let label = says(&told.labels, "Class 9 lithium battery label");
        let paper = says(&told.documents, "Shipping paper");
        assert_ne!(paper, says(&told.documents, "No shipping paper"), "one of the two is said");
        (mark, number, label, paper)
    };
    let (small, full) = ((true, false, false, false), (false, true, true, true));
    assert_eq!(told(|_| {}), small);
    assert_eq!(told(|one| one.gross = Milligrams::kilograms(30)), small);
    assert_eq!(told(|one| one.gross = Milligrams(30_000_001)), full);
    assert_eq!(told(|one| one.largest = MilliwattHours::watt_hours(60)), small);
    assert_eq!(told(|one| one.largest = MilliwattHours(60_001)), full);
    let damaged = papers("US", true, |one| one.gross = Milligrams::kilograms(2));
    assert!(damaged.labels.iter().all(|need| need.rule == "us.hazard_label"), "{:?}", damaged.labels);
    assert!(
        marks(&damaged).contains(&("UN3480", Some(6)))
            && damaged.documents.iter().any(|need| need.text.contains("Full shipping paper"))
    );
    for mode in [Mode::Rail, Mode::Sea] {
        let told = papers("US", false, |one| (one.mode, one.gross) = (mode, Milligrams::kilograms(2)));
        assert!(marks(&told).contains(&("UN3480", Some(6))), "{mode:?}");
        assert!(told.labels.iter().all(|need| need.rule == "us.hazard_label.full"), "{mode:?}");
    }
}

/// Source: ADR 2025 SP 636 frees from the transport document; beyond it SP 377 stands with all of its papers.
#[test]
fn a_relief_takes_papers_away_and_beyond_it_they_are_back() {
    let texts = |told: &Papers| -> String {
        told.documents.iter().chain(&told.labels).map(|need| format!("{}\n", need.text)).collect()
    };
    let easy = texts(&papers("DE", false, |_| {}));
    assert!(easy.contains("asks for no transport document") && !easy.contains("Label 9A"), "{easy}");
    let full = papers("DE", false, |one| one.largest = MilliwattHours(20_001));
    let told = texts(&full);
    assert!(!told.contains("asks for no transport document") && told.contains("Label 9A"), "{told}");
    assert!(told.contains("\"UN 3480 WASTE LITHIUM ION BATTERIES, 9, (E)\""), "{told}");
    assert!(
        full.counted
            .iter()
            .any(|count| count.passed && count.under.as_deref() == Some("easy road rule SP 636"))
    );
    assert!(full.under.contains(&"SP 377".to_owned()), "{:?}", full.under);
}

#[test]
fn damaged_cells_have_their_own_packing_and_in_the_united_states_one_package_each() {
    let packing = |place, damaged| papers(place, damaged, |_| {}).packed_after;
    assert_eq!(papers("US", true, |_| {}).packages, 3);
    assert_eq!((papers("US", false, |_| {}).packages, papers("DE", true, |_| {}).packages), (1, 1));
    assert!(packing("US", true).contains(&"packing group I".to_owned()));
    assert_eq!(packing("DE", true), ["P908", "LP904"]);
    assert_eq!(packing("DE", false), ["P909"]);
    assert_eq!(packing("JP", true), ["P908", "LP904"], "the pattern of the UN Model Regulations");
}

#[test]
fn every_part_has_a_source_and_what_is_not_known_of_a_place_is_to_be_verified() {
    for place in
        ["US", "US-CA", "US-WA", "DE", "FR", "GB", "NO", "UK", "CA", "CA-ON", "AU", "IN", "JP", "SG", "BR"]
    {
        for damaged in [false, true] {
            for mode in [Mode::Road, Mode::Rail, Mode::Sea] {
                let told = papers(place, damaged, |one| one.mode = mode);
                let at = format!("{place} {damaged} {mode:?}");
                assert_eq!(told.un_number.replace(' ', ""), "UN3480", "{at}");
                assert!(!told.shipping_name.is_empty() && told.class == "9", "{at}");
                let carriage = told.provision.iter().chain(&told.packing).chain(&told.labels);
                let others = told.documents.iter().chain(&told.training).chain(&told.approval);
                for need in carriage.clone().chain(others) {
                    assert!(!need.citation.is_empty() && !need.rule.is_empty(), "{at}: {need:?}");
                    assert!(!need.verify || !need.verify_with.is_empty(), "{at}: {need:?}");
                    assert_eq!(promise_in(&need.text), None, "{at}: {need:?}");
                }
                let unread = ["CA", "CA-ON", "AU", "IN", "JP", "SG", "BR"].contains(&place);
                for need in carriage.filter(|need| unread && !need.rule.starts_with("ca.")) {
                    assert!(need.verify, "{at}: {need:?}");
                }
                assert!(!told.provision.is_empty() && !told.packing.is_empty(), "{at}: {told:?}");
                assert!(!told.marks.is_empty() && !told.documents.is_empty(), "{at}");
                assert!(!told.training.is_empty() && !told.approval.is_empty(), "{at}");
                assert!(!told.doubts.is_empty() || !unread, "{at}");
                assert!(told.doubts.iter().all(|doubt| promise_in(doubt).is_none()));
                let rules: Vec<&str> = told.marks.iter().map(|mark| mark.rule.as_str()).collect();
                let pattern = rules.iter().any(|rule| rule.starts_with("un."));
                assert_eq!(pattern, unread, "{at}: {rules:?}");
                // Nobody reads a pattern as the law of the place, not even in the words at the head.
                assert_eq!(told.unchecked, unread, "{at}");
            }
        }
    }
}

/// Drafts that stand in books since before lists of provisions and whom to ask were stored are still read.
#[test]
fn papers_of_the_first_form_are_still_read() {
    let need = r#"{"text":"SP 377","citation":"ADR","verify":true}"#;
    let stored = format!(
        r#"{{"un_number":"UN 3480","shipping_name":"X","class":"9","provision":{need},"packing":{need},"packages":1,
            "marks":[{{"words":"W","letter_height_mm":12,"citation":"c","verify":false}}],"labels":[],
            "documents":[{need}],"training":[],"approval":[],"doubts":[]}}"#
    );
    let read: Papers = serde_json::from_str(&stored).unwrap();
    assert_eq!((read.provision.len(), read.packing[0].text.as_str()), (1, "SP 377"));
    assert_eq!(read.marks[0].letter_height_mm, Some(12));
    let again: Papers = serde_json::from_str(&serde_json::to_string(&read).unwrap()).unwrap();
    assert_eq!(again, read);
}
