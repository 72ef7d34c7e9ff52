//! The legal state that is proposed, its grounds, and what is left to a person.

use super::*;
use celltriage_measure::observation::{Answer, Observations, Sign};

fn with_sign(sign: Sign) -> Observations {
    let mut seen = Observations::no_signs();
    seen.set(sign, Answer::Yes);
    seen
}

fn swollen() -> Verdict {
    let mut swollen = verdict(Fate::Quarantine, CellState::DamagedOrDefective, Some(Hazard::Swollen));
    swollen.reasons[0].sign = Some(Sign::Swollen);
    swollen.reasons[0].text = "The cell is swollen.".to_owned();
    swollen
}

fn proposed(verdict: &Verdict, seen: &Observations, code: &str) -> Proposal {
    propose(verdict, seen, code.parse().ok().as_ref(), TODAY, packs())
}

#[test]
fn swelling_is_a_ground_by_the_text_of_the_united_states_and_elsewhere_by_policy() {
    let (verdict, seen) = (swollen(), with_sign(Sign::Swollen));
    let in_us = proposed(&verdict, &seen, "US-CA");
    let grounds: Vec<_> = in_us.grounds.iter().map(|fact| fact.rule.as_str()).collect();
    assert_eq!(grounds, ["us.sign.swelling"]);
    assert!(in_us.by_policy_alone.is_empty());
    let in_de = proposed(&verdict, &seen, "DE");
    assert!(in_de.grounds.is_empty());
    assert_eq!(in_de.by_policy_alone, ["The cell is swollen. [test]"]);
    assert_eq!((in_us.state, in_de.state), (LegalState::DamagedOrDefective, LegalState::DamagedOrDefective));
}

#[test]
fn a_sign_raises_the_state_and_never_lowers_it() {
    let mild = verdict(Fate::Recycle, CellState::Intact, None);
    for (sign, least) in [
        (Sign::ActiveNow, LegalState::Critical),
        (Sign::Leaked, LegalState::DamagedOrDefective),
        (Sign::CasingBreached, LegalState::CasingBreached),
        (Sign::Deformed, LegalState::DamagedOrDefective),
        (Sign::Discoloured, LegalState::DamagedOrDefective),
        (Sign::Misused, LegalState::DamagedOrDefective),
        (Sign::ProtectionDamaged, LegalState::DamagedOrDefective),
        (Sign::Recalled, LegalState::DamagedOrDefective),
    ] {
        for code in ["US", "DE", "JP", "ZZ"] {
            assert_eq!(proposed(&mild, &with_sign(sign), code).state, least, "{} {code}", sign.key());
        }
    }
    for condition in CellState::ALL {
        for hazard in HAZARDS.into_iter().map(Some).chain([None]) {
            let cell = verdict(Fate::Quarantine, condition, hazard);
            let state = proposed(&cell, &Observations::no_signs(), "US").state;
            assert!(state >= LegalState::of(Fate::Quarantine, condition), "{condition:?} {hazard:?}");
        }
    }
}

#[test]
fn an_undiagnosed_cell_is_unknown_and_that_counts_as_damaged() {
    let unfinished = verdict(Fate::Quarantine, CellState::Unknown, None);
    let proposal = proposed(&unfinished, &Observations::default(), "GB");
    assert_eq!(proposal.state, LegalState::Unknown);
    assert!(proposal.grounds.iter().any(|fact| fact.rule == "any.sign.undiagnosed"));
    assert!(proposal.to_judge[0].starts_with("not checked for: active now"));
    assert!(proposal.to_judge.iter().any(|point| point.contains("expert")));
    assert!(proposal.to_sign.iter().any(|item| item.contains("qualification")));
}

#[test]
fn a_person_always_has_something_to_judge_or_sign_and_nothing_is_promised() {
    for fate in Fate::ALL {
        for condition in CellState::ALL {
            for seen in [Observations::no_signs(), Observations::default()] {
                let proposal = proposed(&verdict(fate, condition, None), &seen, "US");
                assert!(proposal.to_sign.iter().any(|item| item.contains("name of the person")));
                assert_eq!(
                    proposal.state.counts_as_damaged(),
                    proposal.to_judge.iter().any(|one| one.contains("critical"))
                );
                for words in proposal.to_judge.iter().chain(&proposal.to_sign) {
                    assert_eq!(promise_in(words), None, "{words}");
                }
            }
        }
    }
}

#[test]
fn what_nobody_has_measured_is_unknown_at_the_mildest_and_as_bad_as_what_was_seen() {
    let us = place("US");
    let seen = |signs: &[Sign]| {
        let mut observed = Observations::no_signs();
        signs.iter().for_each(|sign| observed.set(*sign, Answer::Yes));
        propose_as_seen(&observed, Some(&us), TODAY, packs())
    };
    assert_eq!(seen(&[]).state, LegalState::Unknown);
    assert!(seen(&[]).to_judge[0].contains("nobody has measured it"));
    for sign in Sign::ALL {
        let proposal = seen(&[sign]);
        let wanted = match sign {
            Sign::ActiveNow => LegalState::Critical,
            Sign::CasingBreached => LegalState::CasingBreached,
            _ => LegalState::DamagedOrDefective,
        };
        assert_eq!(proposal.state, wanted, "{sign:?}");
    }
    assert!(seen(&[Sign::Swollen]).grounds.iter().any(|fact| fact.rule == "us.sign.swelling"));
    let nobody = propose_as_seen(&Observations::default(), None, TODAY, packs());
    assert!(nobody.to_judge.iter().any(|point| point.starts_with("not checked for: active now")));
}
