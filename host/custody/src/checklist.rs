//! The questions that a person answers before a cell's legal state is judged.
//!
//! Takes what the bench recorded; gives questions, and the mildest state that the answers leave open. Sources: UN Model
//! Regulations and ADR 2025, special provision 376 with its note (defective, leaked or vented, not to be diagnosed,
//! mechanical damage; acute hazard, use or misuse, physical damage, protection against short circuit, safety features,
//! internal safety components); swelling from the DDR guide of the United States' DOT; open casing: 40 CFR 273.13(a)(2).

use celltriage_assessment::Assessment;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_rules::LegalState;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One question; "yes" is always the bad answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Criterion {
    /// Gas, fire, heat or escaping electrolyte now.
    AcuteHazard,
    /// The casing is open.
    CasingOpen,
    /// Named defective by its maker, or recalled.
    IdentifiedDefective,
    /// Leaked or vented.
    LeakedOrVented,
    /// Cannot be diagnosed before it is carried.
    CannotBeDiagnosed,
    /// Bent, dented, cut.
    MechanicalDamage,
    /// Thicker than it was made.
    Swollen,
    /// Colours on the casing.
    Discoloured,
    /// A history that harms cells.
    Misuse,
    /// Voltage or insulation out of limits.
    ShortCircuitProtection,
    /// Vent, fuse or separator features not in order.
    SafetyFeatures,
    /// Board or other internal safety part damaged.
    InternalSafetyComponents,
}

/// The answers; what is not in the map was not looked at.
pub type Answers = BTreeMap<Criterion, Answer>;

impl Criterion {
    /// All questions, what endangers people first.
    pub const ALL: [Criterion; 12] = [
        Criterion::AcuteHazard,
        Criterion::CasingOpen,
        Criterion::IdentifiedDefective,
        Criterion::LeakedOrVented,
        Criterion::CannotBeDiagnosed,
        Criterion::MechanicalDamage,
        Criterion::Swollen,
        Criterion::Discoloured,
        Criterion::Misuse,
        Criterion::ShortCircuitProtection,
        Criterion::SafetyFeatures,
        Criterion::InternalSafetyComponents,
    ];

    /// Returns the name in events and JSON.
    pub const fn key(self) -> &'static str {
        self.told().0
    }

    /// Returns the name that people see and type: one that reads as it means, since "yes" is always the bad answer. The name in
    /// events and JSON is understood as well.
    pub const fn name(self) -> &'static str {
        match self {
            Criterion::ShortCircuitProtection => "short_circuit_unprotected",
            Criterion::SafetyFeatures => "safety_feature_damaged",
            Criterion::InternalSafetyComponents => "internal_part_damaged",
            other => other.key(),
        }
    }

    /// Returns the question.
    pub const fn question(self) -> &'static str {
        self.told().1
    }

    /// Returns where the question comes from.
    pub const fn source(self) -> &'static str {
        self.told().2
    }

    /// Returns the question with this name.
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|criterion| [criterion.key(), criterion.name()].contains(&key))
    }

    const fn told(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Criterion::AcuteHazard => {
                ("acute_hazard", "Gas, smoke, fire, heat or escaping electrolyte now?", "SP 376 note (a)")
            }
            Criterion::CasingOpen => ("casing_open", "Is the cell's casing open?", "40 CFR 273.13(a)(2)"),
            Criterion::IdentifiedDefective => {
                ("identified_defective", "Recalled, or named defective by its maker?", "SP 376 (1)")
            }
            Criterion::LeakedOrVented => ("leaked_or_vented", "Has it leaked or vented?", "SP 376 (2)"),
            Criterion::CannotBeDiagnosed => {
                ("cannot_be_diagnosed", "Could it not be diagnosed, or not to the end?", "SP 376 (3)")
            }
            Criterion::MechanicalDamage => {
                ("mechanical_damage", "Dented, bent, cut, or a tab torn?", "SP 376 (4), note (c)")
            }
            Criterion::Swollen => {
                ("swollen", "Thicker than in its original state?", "US DOT guide on damaged batteries")
            }
            Criterion::Discoloured => {
                ("discoloured", "Colours, burns, corrosion on the casing?", "SP 376 note (c)")
            }
            Criterion::Misuse => (
                "misuse",
                "Known drop, water, over-charge, deep discharge, wrong charger?",
                "SP 376 note (b)",
            ),
            Criterion::ShortCircuitProtection => {
                ("short_circuit_protection", "Voltage or insulation out of limits?", "SP 376 note (d)")
            }
            Criterion::SafetyFeatures => {
                ("safety_features", "Is a safety feature (vent, fuse) not in order?", "SP 376 note (e)")
            }
            Criterion::InternalSafetyComponents => (
                "internal_safety_components",
                "Is the protection board or another internal safety part damaged or missing?",
                "SP 376 note (f)",
            ),
        }
    }

    /// Returns the sign of the bench's checklist that asks the same.
    pub(crate) const fn sign(self) -> Option<Sign> {
        match self {
            Criterion::AcuteHazard => Some(Sign::ActiveNow),
            Criterion::CasingOpen => Some(Sign::CasingBreached),
            Criterion::IdentifiedDefective => Some(Sign::Recalled),
            Criterion::LeakedOrVented => Some(Sign::Leaked),
            Criterion::MechanicalDamage => Some(Sign::Deformed),
            Criterion::Swollen => Some(Sign::Swollen),
            Criterion::Discoloured => Some(Sign::Discoloured),
            Criterion::Misuse => Some(Sign::Misused),
            Criterion::InternalSafetyComponents => Some(Sign::ProtectionDamaged),
            Criterion::CannotBeDiagnosed | Criterion::ShortCircuitProtection | Criterion::SafetyFeatures => {
                None
            }
        }
    }
}

/// Returns what the bench recorded, question by question; two of them the bench does not ask.
pub fn as_recorded(assessment: &Assessment) -> Answers {
    let observed = &assessment.cell.observations;
    let diagnosed = if assessment.conditions.run.is_finished() { Answer::No } else { Answer::Yes };
    Criterion::ALL
        .into_iter()
        .filter_map(|criterion| match (criterion, criterion.sign()) {
            (Criterion::CannotBeDiagnosed, _) => Some((criterion, diagnosed)),
            (_, Some(sign)) => Some((criterion, observed.answer(sign))),
            (_, None) => None,
        })
        .collect()
}

/// Returns the mildest state that the answers leave open; with a question open it is unknown, so as damaged.
pub fn mildest(answers: &Answers) -> LegalState {
    let answer = |criterion: Criterion| answers.get(&criterion).copied().unwrap_or_default();
    let any = |wanted: Answer| Criterion::ALL.into_iter().any(|criterion| answer(criterion) == wanted);
    if answer(Criterion::AcuteHazard) == Answer::Yes {
        LegalState::Critical
    } else if answer(Criterion::CasingOpen) == Answer::Yes {
        LegalState::CasingBreached
    } else if any(Answer::Yes) {
        LegalState::DamagedOrDefective
    } else if any(Answer::NotObserved) {
        LegalState::Unknown
    } else {
        LegalState::NotWaste
    }
}

/// Returns the questions with a certain answer, for messages.
pub fn answered(answers: &Answers, wanted: Answer) -> Vec<&'static str> {
    Criterion::ALL
        .into_iter()
        .filter(|criterion| answers.get(criterion).copied().unwrap_or_default() == wanted)
        .map(Criterion::name)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all_no() -> Answers {
        Criterion::ALL.into_iter().map(|criterion| (criterion, Answer::No)).collect()
    }

    #[test]
    fn one_yes_or_one_open_question_makes_it_damaged() {
        assert_eq!(mildest(&all_no()), LegalState::NotWaste);
        for criterion in Criterion::ALL {
            for bad in [Answer::Yes, Answer::NotObserved] {
                let mut answers = all_no();
                answers.insert(criterion, bad);
                assert!(mildest(&answers).counts_as_damaged(), "{criterion:?} {bad:?}");
            }
        }
        assert_eq!(mildest(&Answers::new()), LegalState::Unknown);
    }

    #[test]
    fn an_acute_hazard_is_critical_and_an_open_casing_its_own_state() {
        let mut answers = all_no();
        answers.insert(Criterion::CasingOpen, Answer::Yes);
        assert_eq!(mildest(&answers), LegalState::CasingBreached);
        answers.insert(Criterion::AcuteHazard, Answer::Yes);
        assert_eq!(mildest(&answers), LegalState::Critical);
    }

    #[test]
    fn names_are_found_again_and_are_those_in_json() {
        for criterion in Criterion::ALL {
            assert_eq!(Criterion::from_key(criterion.key()), Some(criterion));
            assert_eq!(Criterion::from_key(criterion.name()), Some(criterion));
            assert_eq!(serde_json::to_value(criterion).unwrap(), criterion.key());
        }
    }
}
