//! Nothing in a pack is dead: every rule, blank and tag comes to light somewhere.

use super::*;
use crate::rule_file::BLANKS;
use celltriage_measure::observation::{Answer, Observations, Sign};
use std::collections::BTreeSet;

fn day_of(rule: &Rule) -> Date {
    rule.effective_to.or(rule.effective_from).unwrap_or(TODAY)
}

/// Places whose layers hold a pack.
fn places_of(pack: &Pack) -> Vec<Option<PlaceCode>> {
    let all = PLACES.into_iter().map(|code| code.map(place));
    all.filter(|place| packs().layers(place.as_ref()).iter().any(|layer| layer.name() == pack.name()))
        .collect()
}

#[test]
fn every_pack_is_a_layer_of_some_place_and_every_id_is_its_own() {
    let mut ids = BTreeSet::new();
    for pack in packs().all() {
        assert!(!places_of(pack).is_empty(), "{}", pack.name());
        assert!(pack.rules.iter().all(|rule| ids.insert(rule.id.as_str())), "{}", pack.name());
        let prefix = if pack.name() == "*" { "any".to_owned() } else { pack.name().to_lowercase() };
        let foreign = pack.rules.iter().find(|rule| !rule.id.starts_with(&format!("{prefix}.")));
        assert_eq!(foreign.map(|rule| rule.id.as_str()), None, "ids of {} begin with {prefix}.", pack.name());
    }
    assert_eq!(packs().all().len(), BUILT_IN.len());
}

#[test]
fn every_blank_is_used() {
    let texts: Vec<_> =
        packs().all().iter().flat_map(|pack| &pack.rules).map(|rule| rule.text.as_str()).collect();
    for blank in BLANKS {
        assert!(texts.iter().any(|text| text.contains(blank)), "{blank}");
    }
}

#[test]
fn every_rule_is_a_fact_for_some_state() {
    for pack in packs().all() {
        for rule in &pack.rules {
            let told = places_of(pack).iter().any(|place| {
                LegalState::ALL.into_iter().any(|state| {
                    packs().facts(place.as_ref(), day_of(rule), state).iter().any(|fact| fact.rule == rule.id)
                })
            });
            assert!(told, "{}", rule.id);
        }
    }
}

/// A rule of the page may be left out only where a nearer one forbids the same.
#[test]
fn every_rule_of_the_page_is_printed_for_some_cell() {
    for pack in packs().all() {
        for rule in pack.rules.iter().filter(|rule| rule.on_page && rule.kind != Kind::Sign) {
            let hazards = HAZARDS.into_iter().map(Some).chain([None]);
            let mut cells = hazards.flat_map(|hazard| {
                Fate::ALL.into_iter().flat_map(move |fate| {
                    CellState::ALL.into_iter().map(move |condition| verdict(fate, condition, hazard))
                })
            });
            let places = places_of(pack);
            let printed = cells.any(|cell| {
                places.iter().any(|place| {
                    let place = place.as_ref().map(PlaceCode::as_str);
                    shown(&cell, place, day_of(rule)).iter().any(|caution| caution.rule == rule.id)
                })
            });
            assert!(printed, "{} is never printed", rule.id);
        }
    }
}

#[test]
fn every_action_of_a_rule_shows_it_in_the_table_of_cautions() {
    for pack in packs().all() {
        for rule in &pack.rules {
            for action in &rule.actions {
                let shown = places_of(pack).iter().any(|place| {
                    Presents::ALL.into_iter().any(|presents| {
                        cautions_for(presents, *action, place.as_ref(), day_of(rule), packs())
                            .iter()
                            .any(|caution| caution.rule == rule.id)
                    })
                });
                assert!(shown, "{} is never shown for {}", rule.id, action.word());
            }
        }
    }
}

#[test]
fn every_sign_of_the_law_is_a_ground_for_some_cell() {
    for pack in packs().all() {
        for rule in pack.rules.iter().filter(|rule| rule.kind == Kind::Sign) {
            let hazards = HAZARDS.into_iter().map(Some).chain([None]);
            let mut cells = hazards.flat_map(|hazard| {
                CellState::ALL.into_iter().map(move |condition| verdict(Fate::Quarantine, condition, hazard))
            });
            let mut seen = Observations::no_signs();
            rule.signs.iter().for_each(|sign| seen.set(*sign, Answer::Yes));
            let places = places_of(pack);
            let ground = cells.any(|cell| {
                places.iter().any(|place| {
                    let proposal = propose(&cell, &seen, place.as_ref(), day_of(rule), packs());
                    proposal.grounds.iter().any(|fact| fact.rule == rule.id)
                })
            });
            assert!(ground && rule.proposes.is_some(), "{}", rule.id);
        }
    }
    // Each sign of the checklist is named by the law of at least one place.
    for sign in Sign::ALL {
        let named = packs().all().iter().flat_map(|pack| &pack.rules).any(|rule| rule.signs.contains(&sign));
        assert!(named, "{}", sign.key());
    }
}

#[test]
fn every_kind_carries_its_figure() {
    for rule in packs().all().iter().flat_map(|pack| &pack.rules) {
        match rule.kind {
            Kind::Counter => assert!(rule.count.is_some(), "{}", rule.id),
            Kind::Label => assert!(rule.label.is_some(), "{}", rule.id),
            Kind::Block => assert!(rule.blocks.is_some(), "{}", rule.id),
            Kind::WasteCode => assert!(!rule.codes.is_empty(), "{}", rule.id),
            _ => {}
        }
    }
}

/// A rule that replaces another names one of a wider pack, and both speak for the same cells of the place.
#[test]
fn what_stands_in_place_of_another_names_a_wider_rule_for_the_same_cells() {
    let mut replaced = 0;
    for pack in packs().all() {
        for rule in &pack.rules {
            for name in &rule.instead_of {
                let (wider, other) = packs()
                    .all()
                    .iter()
                    .flat_map(|held| held.rules.iter().map(move |other| (held, other)))
                    .find(|(_, other)| other.id == *name)
                    .unwrap_or_else(|| panic!("{}: there is no rule {name}", rule.id));
                assert_ne!(wider.name(), pack.name(), "{}", rule.id);
                assert_eq!(other.kind, rule.kind, "{} and {name}", rule.id);
                assert_eq!(
                    (other.in_papers, other.blocks),
                    (rule.in_papers, rule.blocks),
                    "{} and {name}",
                    rule.id
                );
                for state in LegalState::ALL {
                    assert!(!rule.is_for(state) || other.is_for(state), "{} and {name}: {state}", rule.id);
                }
                let layers = packs().layers(pack.place.as_ref());
                let at = |name: &str| layers.iter().position(|layer| layer.name() == name);
                assert!(at(wider.name()) < at(pack.name()), "{name} is wider than {}", rule.id);
                replaced += 1;
            }
        }
        for name in &pack.instead_of {
            assert!(packs().all().iter().any(|held| held.layer.as_ref() == Some(name)), "{name}");
        }
    }
    assert!(replaced >= 6, "{replaced}");
}

/// Papers are complete wherever waste is sent from: each part is told by some rule, of each state that is sent at all.
#[test]
fn every_part_of_the_papers_is_told_for_every_place_and_means_on_land_and_sea() {
    use crate::{Carriage, Section};
    let parts = [
        Section::Substance,
        Section::Provision,
        Section::Packing,
        Section::HazardLabel,
        Section::Document,
        Section::Training,
        Section::Approval,
    ];
    for place in PLACES.into_iter().map(|code| code.map(place)) {
        for state in [LegalState::IntactWaste, LegalState::DamagedOrDefective, LegalState::CasingBreached] {
            for carriage in [Carriage::Road, Carriage::Rail, Carriage::Sea] {
                for day in DAYS {
                    let told = packs().in_papers(place.as_ref(), day, state);
                    let told: BTreeSet<_> = told
                        .into_iter()
                        .filter(|told| told.fact.holds_by(carriage))
                        .filter_map(|told| told.fact.in_papers)
                        .collect();
                    let missing: Vec<_> = parts.iter().filter(|part| !told.contains(part)).collect();
                    assert!(missing.is_empty(), "{place:?} {state} {carriage:?} {day}: {missing:?}");
                }
            }
        }
    }
}

/// What is from memory in the fact sheet is from memory in the packs, wherever papers print it.
#[test]
fn what_was_not_read_is_printed_with_whom_to_ask() {
    for pack in packs().all() {
        for rule in pack.rules.iter().filter(|rule| rule.in_papers.is_some() || rule.label.is_some()) {
            let weak = rule.seen == Seen::Memory || rule.confidence == Confidence::Low;
            assert_eq!(rule.needs_verifying(TODAY), weak, "{}", rule.id);
            assert!(
                pack.layer.as_deref() != Some("un") || weak,
                "{}: nothing of the pattern was read",
                rule.id
            );
            assert!(!pack.authority.is_empty());
        }
    }
}
