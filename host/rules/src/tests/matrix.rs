//! The table of cautions: condition x place x action.

use super::*;

fn all() -> impl Iterator<Item = (Presents, Action, Option<PlaceCode>, Vec<Caution>)> {
    let places = PLACES.into_iter().map(|code| code.map(place));
    places.flat_map(|place| {
        Presents::ALL.into_iter().flat_map(move |presents| {
            let place = place.clone();
            Action::ALL.into_iter().map(move |action| {
                let found = cautions_for(presents, action, place.as_ref(), TODAY, packs());
                (presents, action, place.clone(), found)
            })
        })
    })
}

/// Words by which a line answers to an action.
const fn answers(action: Action) -> &'static [&'static str] {
    match action {
        Action::Touch => &["touch", "hands off", "do not press"],
        Action::Move => &["carry", "lift"],
        Action::Store => &["store"],
        Action::Ship => &["by air", "shipped", "sent"],
        Action::Charge => &["charge it"],
        Action::Discharge => &["discharge it"],
    }
}

/// Complete, sourced, the answer first, and no promise: over every condition, action and place.
#[test]
fn every_entry_answers_the_question_first_and_ends_with_what_to_do_should_it_react() {
    let mut entries = 0;
    for (presents, action, place, found) in all() {
        let told = format!("{presents:?} {action:?} {place:?}");
        entries += 1;
        let critical = presents == Presents::ActiveNow;
        let first = &found[0];
        if critical {
            assert_eq!((first.kind, first.severity), (Kind::Emergency, Severity::Danger), "{told}");
        } else {
            let lead = first.text.split(". ").next().unwrap_or_default().to_lowercase();
            let words = answers(action);
            assert!(words.iter().any(|word| lead.contains(word)), "{told}: {}", first.text);
            let forbids =
                ["do not", "nothing", "never", "not with", "hands off", "only", "look before", "by itself"];
            let danger = presents != Presents::Intact && !matches!(action, Action::Store | Action::Move);
            assert!(!danger || forbids.iter().any(|word| lead.contains(word)), "{told}: {}", first.text);
        }
        // The number of the place follows the general words where a cell reacts; nothing else is an emergency.
        let emergency: Vec<_> = found.iter().filter(|one| one.kind == Kind::Emergency).collect();
        let numbers = emergency.iter().filter(|one| one.text.starts_with("Emergency number here: ")).count();
        assert_eq!(emergency.len() - numbers, 1, "{told}");
        assert_eq!(numbers, usize::from(critical && place.is_some() && numbers > 0), "{told}");
        let general = found.iter().position(|one| one.rule.starts_with("any.emergency.")).unwrap();
        let (before, after) = found.split_at(general);
        assert!(critical || before.iter().all(|one| one.severity > Severity::Notice), "{told}");
        assert!(critical || after[1..].iter().all(|one| one.severity == Severity::Notice), "{told}");
        let others: Vec<_> = found.iter().filter(|one| one.kind != Kind::Emergency).collect();
        assert!(others.windows(2).all(|pair| pair[0].severity >= pair[1].severity), "{told}");
        assert!(others.iter().any(|one| matches!(one.kind, Kind::Handling | Kind::Block)), "{told}");
        for one in &found {
            assert!(!one.source.is_empty() && !one.verify_with.is_empty(), "{told}");
            assert!(!one.text.contains(['{', '}']), "{told}: {}", one.text);
            assert_eq!(promise_in(&one.text), None, "{told}: {}", one.text);
        }
        let rules: std::collections::BTreeSet<_> = found.iter().map(|one| one.rule.as_str()).collect();
        assert_eq!(rules.len(), found.len(), "{told}: nothing twice");
    }
    assert_eq!(entries, Presents::ALL.len() * Action::ALL.len() * PLACES.len());
}

/// Typed a second time: what a person must read first at the cells that most often go wrong.
#[test]
fn the_first_words_are_those_that_keep_a_hand_away() {
    for (presents, action, words) in [
        (Presents::Swollen, Action::Charge, "Do not charge it"),
        (Presents::Swollen, Action::Discharge, "Do not discharge it"),
        (Presents::Swollen, Action::Touch, "Do not press, bend or puncture it"),
        (Presents::Leaking, Action::Charge, "Do not charge it"),
        (Presents::Punctured, Action::Charge, "Do not charge it"),
        (Presents::Punctured, Action::Touch, "Touch and carry nothing of it with bare hands"),
        (Presents::OverCharged, Action::Charge, "Do not charge it"),
        (Presents::Warming, Action::Touch, "Hands off"),
        (Presents::Warming, Action::Charge, "Do not charge it"),
        (Presents::Warming, Action::Store, "Store it only when two looks an hour apart"),
        (Presents::InternalShort, Action::Charge, "Do not charge it"),
        (Presents::DeeplyDischarged, Action::Charge, "Do not charge it until it has been assessed"),
        (Presents::Unknown, Action::Touch, "Look before you touch it"),
        (Presents::Unknown, Action::Charge, "Do not charge it until it has been assessed"),
        (Presents::Intact, Action::Charge, "Charge it only to"),
        (Presents::ActiveNow, Action::Touch, "STOP: hands off"),
        (Presents::ActiveNow, Action::Charge, "STOP: hands off"),
    ] {
        for code in [None, Some("US"), Some("DE"), Some("JP")] {
            let found = cautions_for(presents, action, code.map(place).as_ref(), TODAY, packs());
            assert!(found[0].text.starts_with(words), "{presents:?} {action:?}: {}", found[0].text);
        }
    }
    let open = cautions_for(Presents::Punctured, Action::Touch, None, TODAY, packs());
    assert_eq!(open[0].severity, Severity::Danger);
}

/// What hurts people after the first minute, each with its source: power, gas, first aid, water, charge that stays.
#[test]
fn hazards_that_are_easily_forgotten_are_named_where_they_matter() {
    for (presents, action, rule, words) in [
        (Presents::ActiveNow, Action::Charge, "any.critical.power", "from a distance"),
        (Presents::ActiveNow, Action::Move, "any.critical.gas", "in a closed room it can explode"),
        (Presents::ActiveNow, Action::Touch, "any.critical.apart", "at least 25 m away"),
        (Presents::Warming, Action::Charge, "any.charge.warming", "from a distance"),
        (Presents::Leaking, Action::Touch, "any.first_aid", "at least 15 minutes"),
        (Presents::Punctured, Action::Touch, "any.first_aid", "doctor or the poison centre"),
        (Presents::Leaking, Action::Touch, "any.leaking", "one that heats or smokes is left and not covered"),
        (Presents::Swollen, Action::Touch, "any.swollen", "blunt plastic tool"),
        (Presents::Swollen, Action::Touch, "any.swollen", "a glued one stays in the device"),
        (Presents::Swollen, Action::Store, "any.store.swollen", "no lid that presses"),
        (Presents::Swollen, Action::Store, "any.store.damaged", "not gas-tight"),
        (Presents::Unknown, Action::Move, "any.move.damaged", "not gas-tight"),
        (Presents::Unknown, Action::Charge, "any.wet", "in sea water"),
        (Presents::Punctured, Action::Discharge, "any.stranded", "can still hold charge"),
        (Presents::Swollen, Action::Ship, "un.ship.damaged", "nothing pressing on it"),
    ] {
        let found = cautions_for(presents, action, None, TODAY, packs());
        let one = found.iter().find(|one| one.rule == rule);
        let one = one.unwrap_or_else(|| panic!("{presents:?} {action:?} lacks {rule}"));
        assert!(one.text.contains(words), "{rule}: {}", one.text);
    }
    // A warming cell is not told to be carried at once, whatever holds for other damaged ones.
    let warm = cautions_for(Presents::Warming, Action::Move, None, TODAY, packs());
    assert!(warm.iter().all(|one| one.rule != "any.move.damaged"));
}

#[test]
fn what_is_not_known_to_be_intact_is_never_charged_nor_discharged() {
    for (presents, action, place, found) in all() {
        if matches!(action, Action::Charge | Action::Discharge) {
            let forbidden = found.iter().any(|one| one.rule.starts_with("any.no_electrical_use"));
            assert_eq!(forbidden, presents != Presents::Intact, "{presents:?} {action:?} {place:?}");
        }
        if action == Action::Ship && presents != Presents::Intact {
            let grounded = found.iter().any(|one| one.kind == Kind::Block && one.text.contains("by air"));
            assert!(grounded, "{presents:?} {place:?}");
        }
    }
}

#[test]
fn a_reacting_cell_is_sent_nowhere_from_any_place() {
    for (presents, action, place, found) in all() {
        if presents == Presents::ActiveNow && action == Action::Ship {
            let held = found
                .iter()
                .filter(|one| one.kind == Kind::Block && one.severity == Severity::Danger)
                .count();
            assert_eq!(held, 1, "{place:?}");
            assert!(found.iter().all(|one| !matches!(one.kind, Kind::Label | Kind::Document)), "{place:?}");
        }
    }
}

#[test]
fn each_hazard_speaks_in_the_entry_of_its_condition() {
    for (presents, rule) in [
        (Presents::Swollen, "any.swollen"),
        (Presents::Leaking, "any.leaking"),
        (Presents::Punctured, "any.casing_open"),
        (Presents::Warming, "any.touch.warming"),
        (Presents::InternalShort, "any.internal_short.apart"),
        (Presents::DeeplyDischarged, "any.touch.deeply_discharged"),
        (Presents::OverCharged, "any.touch.over_charged"),
        (Presents::Unknown, "any.touch.look"),
        (Presents::Intact, "any.touch.intact"),
    ] {
        for other in Presents::ALL {
            let found = cautions_for(other, Action::Touch, None, TODAY, packs());
            let told = found.iter().any(|one| one.rule == rule);
            // A deeply discharged cell is one of unknown condition too.
            let also = rule == "any.touch.look" && other == Presents::DeeplyDischarged;
            assert_eq!(told, other == presents || also, "{rule} for {other:?}");
        }
    }
}

#[test]
fn conditions_are_those_of_the_policy() {
    let policy = celltriage_verdict::DEFAULT_POLICY;
    for (sign, presents) in [
        ("active_now", Presents::ActiveNow),
        ("leaked", Presents::Leaking),
        ("casing_breached", Presents::Punctured),
        ("swollen", Presents::Swollen),
    ] {
        let after = policy.split(&format!("sign = \"{sign}\"")).nth(1).unwrap();
        let condition = after.split("condition = \"").nth(1).unwrap().split('"').next().unwrap();
        assert_eq!(serde_json::to_value(presents.condition()).unwrap(), condition, "{sign}");
    }
}
