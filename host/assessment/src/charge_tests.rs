//! No decision tells anybody to charge what must not be charged.

use crate::Subject;
use crate::test_support::example;
use celltriage_measure::estimate::{Estimate, Quantity};
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_verdict::against_charge;

fn against(change: impl FnOnce(&mut Subject)) -> Option<String> {
    let verdict = example(change).verdict;
    against_charge(verdict.fate, verdict.condition, &verdict.reasons).map(|reason| reason.criterion.clone())
}

fn resting_at(value: f64, doubt: f64) -> impl FnOnce(&mut Subject) {
    move |subject| {
        let estimate = Estimate::new(Quantity::RestVoltage, value, doubt, "typed");
        subject.estimates.put(Quantity::RestVoltage, Ok(estimate));
    }
}

#[test]
fn signs_fates_and_dangers_rule_it_out_and_what_is_open_without_danger_does_not() {
    assert_eq!(against(|_| {}), None);
    assert_eq!(
        against(|subject| subject.observations.set(Sign::Swollen, Answer::Yes)),
        Some("sign_swollen".into())
    );
    assert_eq!(against(resting_at(2.6, 0.001)), Some("deeply_discharged".into()));
    assert_eq!(against(resting_at(1.0, 0.001)), Some("reversed_or_empty".into()));
    assert_eq!(against(resting_at(3.001, 0.01)), Some("deeply_discharged".into()), "it may lie below");
    assert_eq!(against(resting_at(4.399, 0.01)), Some("over_charged".into()), "it may lie above");
    let faded = |subject: &mut Subject| {
        let estimate = Estimate::new(Quantity::CapacityFraction, 0.5, 0.005, "typed");
        subject.estimates.put(Quantity::CapacityFraction, Ok(estimate));
    };
    assert_eq!(against(faded), Some("capacity".into()));
    let unseen = |subject: &mut Subject| subject.observations = Observations::default();
    assert_eq!(against(unseen), None, "whether somebody has looked is asked elsewhere");
}

/// A page that warns of a charge and tells to charge further down contradicts itself where it is most dangerous.
#[test]
fn no_step_of_a_decision_tells_to_charge_what_must_not_be_charged() {
    let told = |change: &dyn Fn(&mut Subject)| {
        let verdict = example(|subject| {
            subject.estimates.measured.remove(&Quantity::Capacity);
            subject.estimates.measured.remove(&Quantity::CapacityFraction);
            change(subject);
        })
        .verdict;
        let settles = verdict.reasons.iter().filter_map(|reason| reason.settle.clone());
        settles.chain(verdict.next_steps.clone()).collect::<Vec<_>>().join("\n")
    };
    let charge = "harge it to its limit";
    let half = |subject: &mut Subject| resting_at(3.9, 0.002)(subject);
    assert!(told(&half).contains(charge));
    assert!(!told(&|subject| resting_at(2.1, 0.002)(subject)).contains(charge));
    for sign in Sign::ALL {
        let seen = |subject: &mut Subject| {
            half(subject);
            subject.observations.set(sign, Answer::Yes);
        };
        assert!(!told(&seen).contains(charge), "{}", sign.key());
    }
    let unseen = |subject: &mut Subject| {
        half(subject);
        subject.observations = Observations::default();
    };
    assert!(told(&unseen).contains("Once every sign was looked for and none found, charge it to its limit"));
}
