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

#[test]
fn every_entry_has_the_emergency_first_then_by_gravity_and_something_about_the_action() {
    for (presents, action, place, found) in all() {
        let told = format!("{presents:?} {action:?} {place:?}");
        assert_eq!(found[0].kind, Kind::Emergency, "{told}");
        let critical = presents == Presents::ActiveNow;
        assert_eq!(found[0].severity, if critical { Severity::Danger } else { Severity::Warning }, "{told}");
        // The number of the place follows the general words where a cell reacts; nothing else is an emergency.
        let emergency: Vec<_> = found.iter().filter(|one| one.kind == Kind::Emergency).collect();
        let numbers = emergency.iter().skip(1).filter(|one| one.text.starts_with("Emergency number here: "));
        assert_eq!(
            (emergency.len() - 1, numbers.clone().count()),
            (numbers.count(), emergency.len() - 1),
            "{told}"
        );
        assert!(emergency.len() == 1 || critical && place.is_some() && emergency.len() == 2, "{told}");
        assert!(found[1..].windows(2).all(|pair| pair[0].severity >= pair[1].severity), "{told}");
        assert!(found[1..].iter().any(|one| matches!(one.kind, Kind::Handling | Kind::Block)), "{told}");
        assert!(found.iter().all(|one| !one.source.is_empty() && !one.text.contains(['{', '}'])), "{told}");
    }
}

#[test]
fn no_entry_promises_anything() {
    for (_, _, _, found) in all() {
        for caution in found {
            assert_eq!(promise_in(&caution.text), None, "{}", caution.text);
        }
    }
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
        (Presents::DeeplyDischarged, "any.deeply_discharged"),
        (Presents::OverCharged, "any.over_charged"),
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
