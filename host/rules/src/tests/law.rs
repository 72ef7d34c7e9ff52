//! What the texts say, typed from them a second time: a fact whose words are changed alone shows.
//!
//! Beside each row stands how the text was seen: read (the text itself or an authority's own page), told (a text that
//! restates it), or from memory. The tag in the pack must say no more than that.

use super::figures::{all_rules, rule};
use super::*;

use Seen::{Memory, Official, Secondary};

/// Rule, words that its text must hold, how its source was seen, and the source.
type Row = (&'static str, &'static [&'static str], Seen, &'static str);

const ROWS: [Row; 46] = [
    // 40 CFR 273.13(a)(1) foresees a battery that shows leakage in a closed container; (a)(2) is about the casing. Read.
    (
        "us.leaking",
        &["casing of the cell itself is open", "may stay universal waste", "closed, sound container"],
        Official,
        "40 CFR 273.13(a)(1)",
    ),
    ("us.breached", &["open cell casing is not universal waste"], Official, "40 CFR 273.13(a)(2)"),
    // 49 CFR 173.185(c)(3) and (d): the mark in place of label, number and paper. Told by a trade text; letters' questions read.
    (
        "us.small.mark.waste",
        &["lithium battery mark with UN3480", "in place of class 9 label, number and shipping paper"],
        Secondary,
        "173.185(c)(3), (d)",
    ),
    (
        "us.paper.small",
        &["No shipping paper of part 172", "within the limits of 173.185(c)(1)-(3)"],
        Secondary,
        "PHMSA 15-0163",
    ),
    ("us.paper.intact", &["Shipping paper", "beyond the limits"], Memory, "part 172"),
    ("us.mark.number", &["12 mm high (6 mm up to 30 kg)"], Memory, "172.301"),
    // ADR 3.3.1: read in the ADR 2017. 5.4.1.1.1 (c): "9" for lithium batteries, read there too; WASTE told; (E) from memory.
    ("adr.mark.damaged", &["letters at least 12 mm high"], Secondary, "3.3.1"),
    (
        "adr.document.intact",
        &[
            "\"UN 3480 WASTE LITHIUM ION BATTERIES, 9, (E)\"",
            "number and kind of packages",
            "names and addresses",
        ],
        Secondary,
        "5.4.1.1.3",
    ),
    (
        "adr.document.damaged",
        &["UN 3480 WASTE LITHIUM ION BATTERIES", "\"TRANSPORT UNDER SPECIAL PROVISION 376\""],
        Memory,
        "SP 376",
    ),
    (
        "adr.document.damaged.equipment",
        &["\"UN 3481 WASTE\"", "\"TRANSPORT UNDER SPECIAL PROVISION 376\""],
        Memory,
        "SP 376",
    ),
    (
        "adr.document.intact.equipment",
        &["\"UN 3481 WASTE\"", "number and kind of packages"],
        Secondary,
        "5.4.1.1.1",
    ),
    (
        "adr.equipment.no_easy_rule",
        &["for cells by themselves alone", "private households"],
        Secondary,
        "SP 670",
    ),
    // 49 CFR 172.101, read: UN3481 is lithium ion batteries contained in, or packed with, equipment. The other lists from memory.
    ("us.number.in_equipment", &["contained in equipment: UN3481, class 9"], Official, "172.101"),
    ("us.number.with_equipment", &["packed with equipment: UN3481, class 9"], Official, "172.101"),
    ("adr.number.in_equipment", &["contained in equipment: UN 3481, class 9"], Memory, "chapter 3.2"),
    ("adr.number.with_equipment", &["packed with equipment: UN 3481, class 9"], Memory, "chapter 3.2"),
    (
        "un.number.in_equipment",
        &["contained in equipment: UN 3481, class 9"],
        Secondary,
        "dangerous goods list",
    ),
    ("adr.critical.category", &["transport category 0", "\"TRANSPORT CATEGORY 0\""], Memory, "SP 677"),
    // SP 376 of the ADR 2025 (read in German) names 3551 and 3552 beside the numbers of lithium.
    ("adr.sodium", &["UN 3551", "UN 3552"], Secondary, "SP 376"),
    ("un.mark.damaged", &["letters at least 12 mm high"], Secondary, "3.3.1"),
    // Bavarian Environment Agency, questions on the waste code of lithium batteries: read.
    (
        "de.code.before",
        &[
            "classed as hazardous already",
            "16 02 15* from devices",
            "16 01 21* from vehicles only",
            "16 06 05* once the waste authority has raised it",
        ],
        Official,
        "Bavarian Environment Agency",
    ),
    // BGBl. 2025 I no. 233: in force 7 October 2025, told by a chamber of commerce and by trade press.
    ("de.collection", &["only through collection points"], Official, "7 October 2025"),
    // Tokyo, Aichi, Matsuyama: pages on rechargeable batteries from businesses, read.
    (
        "jp.industrial",
        &["industrial waste", "licensed", "told that lithium-ion is among it", "once you are registered"],
        Official,
        "Aichi Prefecture",
    ),
    (
        "jp.boxes",
        &["boxes of cities are for households", "a business puts nothing in"],
        Official,
        "Matsuyama",
    ),
    ("jp.collection", &["members alone", "telephones among them"], Official, "27 March 2013"),
    ("jp.products", &["1 April 2026", "mobile phones"], Secondary, "press reports"),
    ("jp.damaged", &["usually refused", "licensed contractor"], Memory, "common practice"),
    // Airlines' and makers' texts on packing instructions 965 and 966: told.
    ("air.charge.loose", &["cargo aircraft only", "30 %"], Secondary, "packing instruction 965"),
    ("air.charge.packed", &["only section II", "2.7 Wh"], Secondary, "packing instruction 966"),
    // Regulation (EU) 2024/1157: told.
    ("eu.code.consequence", &["Across a border: prior written notification"], Secondary, "2024/1157"),
    ("eu.code.after", &["16 06 07*", "20 01 43*"], Secondary, "2025/934"),
    // Texts that restate S.O. 958(E): amendments of 14 March, 20 June, 3 December 2024 and 24 February 2025.
    (
        "in.rules",
        &["every chemistry"],
        Official,
        "14 March, 20 June and 3 December 2024 and by S.O. 958(E) of 24 February 2025",
    ),
    // Transport Canada's bulletin: read, its passage on the provision in a copy of it.
    ("ca.pack.damaged", &["special provision 137"], Secondary, "Transport Canada bulletin"),
    ("ca.mark.damaged", &["piles au lithium ionique"], Secondary, "Transport Canada bulletin"),
    // Directive (EU) 2024/2853: told by several.
    ("eu.reuse.liability", &["after 9 December 2026", "substantially"], Secondary, "2024/2853"),
    ("eu.reuse.removable", &["removed and replaced by the end user"], Memory, "article 11"),
    ("eu.reuse.producer", &["may be their producer", "ask the register"], Memory, "article 3"),
    ("eu.reuse.product_safety", &["used and repaired goods"], Memory, "2023/988"),
    // basel.int, questions and answers on the e-waste amendments: read.
    ("eu.devices.border", &["A1181", "Y49", "prior informed consent"], Official, "Basel Convention"),
    ("eu.due_diligence", &["18 August 2027", "larger companies alone"], Secondary, "July 2025"),
    // What the law leaves alone, and what a nearer rule must not soften.
    ("us-ca.records", &["Every handler keeps records", "3 years"], Memory, "66273.39"),
    ("us-ca.clock", &["One year"], Official, "66273.35"),
    ("us-wa.clock", &["One year"], Official, "WAC 173-303-573"),
    ("jp.carriage", &["special provisions 376 and 377"], Memory, "no source read"),
    ("sg.carriage", &["special provisions 376 and 377"], Memory, "no source read"),
    ("in.carriage", &["special provisions 376 and 377"], Memory, "no source read"),
];

#[test]
fn facts_say_what_the_texts_say_and_how_those_were_seen() {
    for (id, words, seen, cite) in ROWS {
        let rule = rule(id);
        for word in words {
            assert!(rule.text.contains(word), "{id}: \"{word}\" is not in: {}", rule.text);
        }
        assert_eq!(rule.seen, seen, "{id}");
        assert!(rule.cite.contains(cite), "{id}: {}", rule.cite);
    }
}

/// What the law of a place replaces: the wider fact is gone from everything that is shown or printed there.
#[test]
fn the_nearer_law_stands_alone() {
    for (code, state, gone, stays) in [
        ("US-CA", LegalState::IntactWaste, "us.records", "us-ca.records"),
        ("US-CA", LegalState::IntactWaste, "us.clock", "us-ca.clock"),
        ("US-CA", LegalState::DamagedOrDefective, "us.handler.size", "us-ca.size"),
        ("US-WA", LegalState::Unknown, "us.clock", "us-wa.clock"),
        ("DE", LegalState::IntactWaste, "eu.code.before", "de.code.before"),
        ("DE-BY", LegalState::DamagedOrDefective, "eu.code.before", "de.code.before"),
        ("US", LegalState::NotWaste, "air.charge.loose", "us.air.charge"),
    ] {
        let told = packs().facts(Some(&place(code)), TODAY, state);
        let has = |id: &str| told.iter().any(|fact| fact.rule == id);
        assert!(!has(gone) && has(stays), "{code} {state}");
    }
    // On the page of a German decision no code says that lithium were anything but hazardous.
    for fate in [Fate::Recycle, Fate::Quarantine] {
        let page = shown(&verdict(fate, CellState::Intact, None), Some("DE"), TODAY);
        let codes: Vec<_> = page.iter().filter(|one| one.kind == Kind::WasteCode).collect();
        assert!(codes.len() == 1 && codes[0].rule == "de.code.before", "{codes:?}");
    }
}

/// A leaking cell has one answer on the page and on the container: the label, and the question whether its casing is open.
#[test]
fn leaking_is_not_breached_and_the_page_agrees_with_the_container() {
    for fate in [Fate::Recycle, Fate::Quarantine] {
        let leaking = verdict(fate, CellState::DamagedOrDefective, Some(Hazard::Leaking));
        let page = shown(&leaking, Some("US"), TODAY);
        assert!(page.iter().any(|one| one.rule == "us.leaking"), "{fate}");
        assert!(page.iter().all(|one| one.rule != "us.breached"), "{fate}");
        assert!(
            page.iter().any(|one| one.text.contains("\"Universal Waste\u{2014}Battery(ies)\"")),
            "{fate}"
        );
    }
    let state = LegalState::of(Fate::Recycle, CellState::DamagedOrDefective);
    let words = packs().labels(Some(&place("US")), TODAY, state);
    assert!(words.iter().any(|told| told.what.on == MarkOn::CellOrContainer));
    let open = shown(
        &verdict(Fate::Quarantine, CellState::CasingBreached, Some(Hazard::CasingOpen)),
        Some("US"),
        TODAY,
    );
    assert!(
        open.iter().any(|one| one.rule == "us.breached") && open.iter().all(|one| one.rule != "us.leaking")
    );
}

/// Parties of the agreement as the United Kingdom's list of the treaty has them (read 2026-11-30), some under the letters
/// that people write.
#[test]
fn parties_to_the_agreement_on_carriage_by_road_have_its_law_and_no_others() {
    for code in
        ["NO", "CH", "IS", "LI", "TR", "UA", "MA", "AL", "BA", "MD", "KZ", "TN", "GB", "UK", "GR", "EL", "FR"]
    {
        let layers: Vec<_> = packs().layers(Some(&place(code))).iter().map(|pack| pack.name()).collect();
        assert!(layers.contains(&"adr") && !layers.contains(&"un"), "{code}: {layers:?}");
    }
    for code in ["JP", "SG", "IN", "AU", "CA", "BR", "MN", "ZZ"] {
        let layers: Vec<_> = packs().layers(Some(&place(code))).iter().map(|pack| pack.name()).collect();
        assert!(layers.contains(&"un") && !layers.contains(&"adr"), "{code}: {layers:?}");
    }
    assert_eq!(place("uk").as_str(), "GB");
}

/// The pattern of the UN is never shown without its doubt, and never where the law of carriage itself is known.
#[test]
fn the_pattern_of_the_un_shows_its_doubt_wherever_it_holds() {
    let pattern = all_rules().into_iter().filter(|rule| rule.id.starts_with("un."));
    for rule in pattern {
        let doubt = rule.doubt.as_deref().unwrap_or_default();
        assert!(doubt.contains("was not checked"), "{}", rule.id);
        assert!(rule.needs_verifying(TODAY), "{}", rule.id);
    }
    for code in ["JP", "SG", "IN"] {
        let told = packs().in_papers(Some(&place(code)), TODAY, LegalState::IntactWaste);
        let own = told.iter().find(|told| told.fact.rule.ends_with(".carriage")).unwrap();
        assert!(own.fact.doubt.as_ref().is_some_and(|doubt| doubt.contains("road")), "{code}");
        assert!(told.iter().any(|told| told.fact.rule == "un.pack.intact"), "{code}");
    }
}
