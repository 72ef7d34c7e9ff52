//! The words of labels and the height of their letters, against the texts that they are cited from.
//!
//! Typed from those texts a second time: words in quotation marks in a special provision are at least 12 mm high (ADR
//! 3.3.1, read in the ADR 2017; UN 3.3.1, read in the text of December 2014); UN numbers 12 mm, 6 mm on packages of up to
//! 30 kg or 30 litres (ADR 5.2.1.1 in a trade text that quotes it; 49 CFR 172.301 from memory); no height is known for
//! the label of universal waste.

use super::figures::{all_rules, rule};
use super::*;
use std::collections::BTreeSet;

/// Rule, phrases exactly as the text has them (with its long dash), least letter height in mm, and up to 30 kg, and the
/// cited text.
type Row = (&'static str, &'static [&'static str], Option<f64>, Option<f64>, &'static str);

const LABELS: [Row; 21] = [
    ("adr.mark.damaged", &["DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES"], Some(12.0), None, "SP 376; 3.3.1"),
    ("adr.mark.recycling", &["LITHIUM BATTERIES FOR RECYCLING"], Some(12.0), None, "P909; 3.3.1"),
    ("adr.mark.disposal", &["LITHIUM BATTERIES FOR DISPOSAL"], Some(12.0), None, "P909; 3.3.1"),
    ("adr.mark.number", &["UN 3480"], Some(12.0), Some(6.0), "5.2.1.1"),
    ("adr.mark.number.equipment", &["UN 3481"], Some(12.0), Some(6.0), "5.2.1.1"),
    ("un.mark.damaged", &["DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES"], Some(12.0), None, "3.3.1"),
    ("un.mark.recycling", &["LITHIUM BATTERIES FOR RECYCLING"], Some(12.0), None, "3.3.1"),
    ("un.mark.disposal", &["LITHIUM BATTERIES FOR DISPOSAL"], Some(12.0), None, "3.3.1"),
    ("un.mark.number", &["UN 3480"], Some(12.0), Some(6.0), "chapter 5.2"),
    ("un.mark.number.equipment", &["UN 3481"], Some(12.0), Some(6.0), "chapter 5.2"),
    ("us.mark.number", &["UN3480"], Some(12.0), Some(6.0), "49 CFR 172.101, 172.301"),
    ("us.mark.number.full", &["UN3480"], Some(12.0), Some(6.0), "49 CFR 172.101, 172.301"),
    ("us.mark.number.equipment", &["UN3481"], Some(12.0), Some(6.0), "49 CFR 172.101, 172.301"),
    ("us.mark.number.equipment.full", &["UN3481"], Some(12.0), Some(6.0), "49 CFR 172.101, 172.301"),
    (
        "us.label",
        &["Universal Waste\u{2014}Battery(ies)", "Waste Battery(ies)", "Used Battery(ies)"],
        None,
        None,
        "40 CFR 273.14(a)",
    ),
    ("us.mark.damaged", &["Damaged/defective lithium ion battery"], Some(12.0), None, "49 CFR 173.185(f)(4)"),
    (
        "us.medium.mark",
        &["LITHIUM BATTERIES\u{2014}FORBIDDEN FOR TRANSPORT ABOARD AIRCRAFT AND VESSEL."],
        None,
        None,
        "49 CFR 173.185(c)(1)(iv)",
    ),
    ("us-ca.label", &["Universal Waste\u{2014}Battery(ies)"], None, None, "22 CCR 66273.34"),
    (
        "us-wa.label",
        &["Universal Waste\u{2014}Battery(ies)", "Waste Battery(ies)", "Used Battery(ies)"],
        None,
        None,
        "WAC 173-303-573",
    ),
    (
        "de.mark.damaged",
        &["Beschädigte/Defekte Lithium-Ionen-Batterien zum Recycling"],
        Some(12.0),
        None,
        "SP 377 as practised in Germany; 3.3.1",
    ),
    (
        "ca.mark.damaged",
        &["Damaged/Defective Lithium Ion Batteries", "piles au lithium ionique endommagées/défectueuses"],
        None,
        None,
        "special provision 137",
    ),
];

#[test]
fn words_of_labels_are_those_of_the_cited_texts_and_there_are_no_others() {
    for (id, phrases, letter_mm, light_mm, cite) in LABELS {
        let rule = rule(id);
        let label = rule.label.as_ref().unwrap_or_else(|| panic!("{id} has no label"));
        assert_eq!(label.phrases, phrases, "{id}");
        let on = |kg| label.letter_mm_on(kg);
        assert_eq!((on(None), on(Some(30.001))), (letter_mm, letter_mm), "{id}");
        assert_eq!(on(Some(30.0)), light_mm.or(letter_mm), "{id}");
        assert!(rule.cite.contains(cite), "{id}: {}", rule.cite);
        for height in letter_mm.iter().chain(&light_mm) {
            assert!(rule.text.contains(&format!("{height} mm")), "{id}: {height} is not in: {}", rule.text);
        }
    }
    let labels: BTreeSet<_> =
        all_rules().iter().filter(|rule| rule.label.is_some()).map(|rule| rule.id.as_str()).collect();
    assert_eq!(labels, LABELS.iter().map(|row| row.0).collect());
}

/// Nobody prints letters too small because a pack forgot a height: what stands in quotation marks in a special provision
/// has one everywhere.
#[test]
fn every_mark_of_a_special_provision_of_the_un_pattern_has_its_height() {
    for pack in packs().all().iter().filter(|pack| ["adr", "un"].contains(&pack.name())) {
        for rule in pack.rules.iter().filter(|rule| rule.label.is_some()) {
            assert!(rule.label.as_ref().is_some_and(|label| label.letter_mm == Some(12.0)), "{}", rule.id);
        }
    }
}
