//! A step that a decision asks a person to take, with what it does to the cell.
//!
//! A step says its acts beside its words, so that a decision can withhold it by what it is and not by how it is put.

use serde::{Deserialize, Serialize};

/// What a step does to the cell, as far as a decision can forbid it. A step without any waits, calls, or sends away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// Goes near it, looks at it, measures it without a load.
    Look,
    /// Puts a load on it: a test, a resistance, a discharge.
    Load,
    /// Brings it back slowly from below its lowest voltage, by a trained person.
    PreCharge,
    /// Charges it.
    Charge,
}

impl Act {
    /// All acts.
    pub const ALL: [Act; 4] = [Act::Look, Act::Load, Act::PreCharge, Act::Charge];
}

/// A step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The words for people.
    pub text: String,
    /// What it does to the cell.
    pub acts: Vec<Act>,
}

impl Step {
    /// Makes a step of known acts.
    pub fn new(text: impl Into<String>, acts: &[Act]) -> Self {
        Self { text: text.into(), acts: acts.to_vec() }
    }

    /// Makes a step of a policy. Where the policy does not say what it does, its words are taken at their worst: whoever
    /// writes of charging may ask for it.
    pub fn of_policy(text: String, acts: Option<Vec<Act>>) -> Self {
        let acts = acts.unwrap_or_else(|| worst_by_words(&text));
        Self { text, acts }
    }
}

fn worst_by_words(text: &str) -> Vec<Act> {
    let text = text.to_lowercase();
    let mentions = |words: &[&str]| words.iter().any(|word| text.contains(word));
    let mut acts = Vec::new();
    if mentions(&["measur", "look", "clean", "thermometer", "gauge"]) {
        acts.push(Act::Look);
    }
    if mentions(&["discharg", "load", "test", "assess", "puls", "resistance", "current"]) {
        acts.push(Act::Load);
    }
    // "charge" stands within "discharge": what is taken away here was counted above.
    let rest = text.replace("discharg", "");
    if text.contains("{full_discharge}") || rest.contains("charg") {
        acts.extend([Act::PreCharge, Act::Charge]);
    }
    acts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_that_does_not_say_what_it_does_is_taken_at_its_worst() {
        let acts = |text: &str| Step::of_policy(text.to_owned(), None).acts;
        assert_eq!(acts("Keep it apart."), []);
        assert_eq!(acts("Test it again."), [Act::Load]);
        assert_eq!(acts("Pre-charge it slowly."), [Act::PreCharge, Act::Charge]);
        assert_eq!(acts("Discharge it."), [Act::Load]);
        assert_eq!(acts("Measure the rest voltage at its own tabs."), [Act::Look]);
        assert_eq!(acts("{full_discharge}"), [Act::Load, Act::PreCharge, Act::Charge]);
        let said = Step::of_policy("Check the charge limit.".to_owned(), Some(vec![Act::Look]));
        assert_eq!(said.acts, [Act::Look]);
    }
}
