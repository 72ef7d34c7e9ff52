//! Why a decision came out as it did, number by number, for somebody who was not there.
//!
//! Takes an assessment; gives for each criterion the value with its doubt, the limit, the guard band, the probability,
//! the source, and what would settle it where it is open. Everything is taken from the assessment as it was decided;
//! nothing is judged again.

use crate::Assessment;
use celltriage_measure::estimate::{Conditions, Quantity, unfolded};
use celltriage_measure::uncertainty::Contribution;
use celltriage_verdict::{
    CellState, Fate, Finding, KnownFinding, Needed, PolicyMark, Reason, limit_figure, needed,
    probability_figure,
};
use jiff::civil::Date;
use serde::Serialize;

/// What the record says it is.
pub const SCHEMA: &str = "celltriage.explanation/1";

/// The explanation of one assessment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Explanation {
    /// Always [`SCHEMA`].
    pub schema: &'static str,
    /// Whether it is about a cell of the simulated bench.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub simulated: bool,
    /// The shop's name for the cell.
    pub cell: Option<String>,
    /// Day of the decision.
    pub date: Date,
    /// What was decided.
    pub fate: Fate,
    /// How the law may look at the cell.
    pub condition: CellState,
    /// The decision in one sentence.
    pub statement: String,
    /// Every criterion, what decided first.
    pub criteria: Vec<Criterion>,
    /// What to do next.
    pub next_steps: Vec<String>,
    /// Which policy decided.
    pub policy: PolicyMark,
    /// What stands against the cell, whatever was decided: as the record has it, until whoever has a book puts in what that
    /// book knows now.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub known: Vec<KnownFinding>,
}

/// One criterion, explained.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Criterion {
    /// The reason as it stands in the assessment.
    #[serde(flatten)]
    pub reason: Reason,
    /// What the probability means, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probability_in_words: Option<String>,
    /// Largest standard uncertainty with which the same value would pass or fail, where it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settled_with: Option<Needed>,
    /// Where its uncertainty comes from, the largest share first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub budget: Vec<Contribution>,
    /// How the number was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// Under what circumstances.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conditions: Option<Conditions>,
    /// What the reader must know of the number.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<String>,
}

impl Explanation {
    /// Explains an assessment.
    pub fn of(assessment: &Assessment) -> Self {
        let verdict = &assessment.verdict;
        let criteria = verdict.reasons.iter().map(|reason| Criterion::of(reason, assessment)).collect();
        Self {
            schema: SCHEMA,
            simulated: assessment.conditions.is_simulated(),
            cell: assessment.cell.id.clone(),
            date: assessment.conditions.date,
            fate: verdict.fate,
            condition: verdict.condition,
            statement: verdict.statement.clone(),
            criteria,
            next_steps: verdict.next_steps.clone(),
            policy: verdict.policy.clone(),
            known: assessment.known.clone(),
        }
    }

    /// Keeps only the criterion with this name; gives the names there are where it is none of them.
    pub fn only(&mut self, id: &str) -> Result<(), String> {
        let known: Vec<&str> = self.criteria.iter().map(|one| one.reason.criterion.as_str()).collect();
        if !known.contains(&id) {
            return Err(format!(
                "there is no criterion `{id}` in this decision; there are {}",
                known.join(", ")
            ));
        }
        self.criteria.retain(|one| one.reason.criterion == id);
        Ok(())
    }
}

impl Criterion {
    fn of(reason: &Reason, assessment: &Assessment) -> Self {
        // Records of older versions do not tell what a number was made from: it was the resistance at 25 °C.
        let of_old = || reason.conformity.as_ref().map(|_| Quantity::Resistance25Celsius);
        let source = reason.quantity.or(reason.made_from).or_else(of_old);
        let estimate = source.and_then(|quantity| assessment.estimates.get(&quantity));
        let own = estimate.filter(|_| reason.budget.is_empty()).map(|estimate| &estimate.budget);
        let mut budget = unfolded(own.unwrap_or(&reason.budget), &assessment.estimates);
        budget.sort_by(|a, b| b.share.total_cmp(&a.share));
        Self {
            budget,
            reason: reason.clone(),
            probability_in_words: probability_in_words(reason),
            settled_with: needed(reason),
            method: estimate.map(|estimate| estimate.method.clone()),
            conditions: estimate.map(|estimate| estimate.conditions.clone()),
            warnings: estimate.map(|estimate| estimate.warnings.clone()).unwrap_or_default(),
        }
    }
}

fn probability_in_words(reason: &Reason) -> Option<String> {
    let zones = reason.conformity.as_ref()?;
    let told = probability_figure(zones.probability);
    let (enough, little) = (probability_figure(1.0 - zones.risk), probability_figure(zones.risk));
    let keeps = format!("The true value keeps the limit with a probability of {told}");
    // A pass rests on the bound from which on the policy says nothing, a failure on the limit itself.
    let unit = reason.unit.as_deref().unwrap_or_default();
    let clear = zones.probability_clear.zip(zones.doubtful).map(|(clear, doubtful)| {
        format!(
            "clear of the doubtful range from {} with {}",
            limit_figure(doubtful, unit),
            probability_figure(clear)
        )
    });
    Some(match (reason.finding, clear) {
        (Finding::Pass, None) => format!("{keeps}; to pass, {enough} is asked for."),
        (Finding::Pass, Some(clear)) => {
            format!("{keeps} and lies {clear}; to pass, {enough} is asked for of both.")
        }
        (Finding::Fail, _) => format!("{keeps}; it fails at {little} or less."),
        (_, None) => format!("{keeps}: it would pass at {enough} or more and fail at {little} or less."),
        (_, Some(clear)) => {
            format!(
                "{keeps}: it would fail at {little} or less. It lies {clear}: it would pass at {enough} or more."
            )
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::{example, example_by};
    use celltriage_measure::estimate::Estimate;
    use celltriage_verdict::{POLICY_2, Policy};

    fn capacity(value: f64, doubt: f64) -> Criterion {
        let assessment = example(|subject| {
            let estimate = Estimate::new(Quantity::CapacityFraction, value, doubt, "test");
            subject.estimates.put(Quantity::CapacityFraction, Ok(estimate));
        });
        let mut explained = Explanation::of(&assessment);
        explained.only("capacity").unwrap();
        explained.criteria.remove(0)
    }

    #[test]
    fn an_open_value_tells_how_well_it_must_be_known() {
        let open = capacity(0.81, 0.01);
        let needed = open.settled_with.unwrap();
        assert_eq!(needed.finding, Finding::Pass);
        // With just that uncertainty it passes, with a little more it does not.
        assert_eq!(capacity(0.81, needed.standard_uncertainty * 0.999).reason.finding, Finding::Pass);
        assert_eq!(capacity(0.81, needed.standard_uncertainty * 1.001).reason.finding, Finding::Inconclusive);
        assert_eq!(capacity(0.79, 0.01).settled_with.unwrap().finding, Finding::Fail);
        assert_eq!(capacity(0.93, 0.01).settled_with, None);
    }

    #[test]
    fn what_no_repetition_can_settle_is_told() {
        // U = 0.56 % of the current channel's gain alone; 80.2 % would need to be known to 0.24 %.
        assert!(capacity(0.802, 0.005).reason.settle.unwrap().contains("U = 0.6 %"));
        assert!(capacity(0.81, 0.01).reason.settle.unwrap().starts_with("Charge it"));
    }

    #[test]
    fn the_probability_is_told_in_words_and_in_numbers() {
        let text = |criterion: Criterion| criterion.probability_in_words.unwrap();
        let passed = text(capacity(0.93, 0.005));
        assert!(passed.contains("more than 99.9 %") && passed.contains("95 %"), "{passed}");
        let open = text(capacity(0.805, 0.01));
        assert!(open.contains("69 %") && open.contains("fail at 5 %"), "{open}");
    }

    /// Growth of 5.7 % on 5 to 10 %: nearly certain to keep the limit, and not by far to lie before the doubtful range.
    #[test]
    fn in_a_doubtful_range_the_probability_is_that_of_the_bound_that_decides() {
        // The policy before has such a range.
        let policy = Policy::from_toml(POLICY_2, "version 2").unwrap();
        let grown = |value: f64, doubt: f64| {
            let mut explained = Explanation::of(&example_by(&policy, |subject| {
                let estimate = Estimate::new(Quantity::ThicknessGrowth, value, doubt, "test");
                subject.estimates.put(Quantity::ThicknessGrowth, Ok(estimate));
            }));
            explained.only("thickness_growth").unwrap();
            explained.criteria.remove(0)
        };
        let open = grown(0.057, 0.018);
        let text = open.probability_in_words.unwrap();
        assert!(
            text.contains("99.2 %") && text.contains("from 5 % with 35 %: it would pass at 95 %"),
            "{text}"
        );
        assert_eq!(open.settled_with, None);
        let settle = open.reason.settle.unwrap();
        assert!(
            settle.contains("From 5 to 10 % the policy leaves it open") && settle.contains("new cell"),
            "{settle}"
        );
        let within = grown(0.075, 0.005).reason.settle.unwrap();
        assert!(within.contains("no measurement of it settles that"), "{within}");
        // Outside the range a better measurement settles it, and the policy's own words stand.
        assert!(grown(0.045, 0.01).reason.settle.unwrap().starts_with("Measure the thickness"));
        assert!(grown(0.02, 0.005).probability_in_words.unwrap().contains("of both"));
    }

    #[test]
    fn a_number_made_of_others_tells_their_sources_of_doubt() {
        use celltriage_measure::uncertainty::{Input, Measurand};
        let assessment = example(|subject| {
            let inputs = [Input::new("charge", "Ah", 2.8, 0.01), Input::new("current gain", "1", 0.0, 0.005)];
            let budget = Measurand::new(inputs, |[charge, gain]| charge * (1.0 + gain)).budget();
            let capacity = Estimate::of(Quantity::Capacity, budget, "counted");
            let whole = Input::new("capacity", "Ah", capacity.value, capacity.standard_uncertainty);
            let budget = Measurand::new([whole], |[capacity]| capacity / 3.0).budget();
            subject.estimates.put(Quantity::Capacity, Ok(capacity));
            let share = Estimate::of(Quantity::CapacityFraction, budget, "over the rated one");
            subject.estimates.put(Quantity::CapacityFraction, Ok(share));
            // No thermometer at all: the resistance at 25 °C is missing, the two-level one is judged.
            subject.estimates.measured.remove(&Quantity::Resistance25Celsius);
            subject.estimates.put(Quantity::Resistance25Celsius, Err("no temperature".to_owned()));
            let mut two_level = Estimate::new(Quantity::ResistanceTwoLevel, 0.1, 0.001, "two levels");
            two_level.warnings.push("thin contacts".to_owned());
            subject.estimates.put(Quantity::ResistanceTwoLevel, Ok(two_level));
        });
        let explained = Explanation::of(&assessment);
        let of = |id: &str| explained.criteria.iter().find(|one| one.reason.criterion == id).unwrap();
        let inputs = |id: &str| of(id).budget.iter().map(|line| line.input.clone()).collect::<Vec<_>>();
        assert_eq!(inputs("capacity"), ["current gain", "charge"]);
        assert!(inputs("resistance")[0].contains("not measured"), "{:?}", inputs("resistance"));
        assert_eq!(of("resistance").method.as_deref(), Some("two levels"));
        assert_eq!(of("resistance").warnings, ["thin contacts"]);
    }

    #[test]
    fn an_unknown_criterion_is_told_with_those_there_are() {
        let mut explained = Explanation::of(&example(|_| {}));
        assert!(explained.only("colour").unwrap_err().contains("capacity"));
    }

    #[test]
    fn the_json_holds_the_reason_itself_beside_the_words() {
        let json = serde_json::to_value(Explanation::of(&example(|_| {}))).unwrap();
        assert_eq!(json["schema"], SCHEMA);
        let one =
            json["criteria"].as_array().unwrap().iter().find(|one| one["criterion"] == "capacity").unwrap();
        for key in ["value", "limit", "source", "conformity", "probability_in_words", "method"] {
            assert!(one.get(key).is_some(), "{key} in {one}");
        }
        assert_eq!(one["conformity"]["risk"], 0.05);
    }
}
