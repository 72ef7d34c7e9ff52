//! What a verdict is: a fate, one sentence, and a reason for every criterion that was looked at.
//!
//! The names in JSON are part of the contract in `host/JSON.md` and never change.

use crate::conformity::Conformity;
use crate::step::Act;
use crate::types::{CellState, Fate, Hazard};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::Sign;
use celltriage_measure::uncertainty::Contribution;
use serde::{Deserialize, Serialize};

/// What became of one criterion.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Finding {
    /// Within the limit, also with the doubt of the measurement.
    Pass,
    /// Beyond the limit, also with the doubt of the measurement.
    Fail,
    /// Too close to the limit to tell.
    Inconclusive,
    /// Not measured, not looked for.
    #[default]
    Missing,
}

impl Finding {
    /// Returns the name in JSON and on the page.
    pub const fn key(self) -> &'static str {
        match self {
            Finding::Pass => "pass",
            Finding::Fail => "fail",
            Finding::Inconclusive => "inconclusive",
            Finding::Missing => "missing",
        }
    }
}

/// On which side of a limit a value must lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Relation {
    /// Not above it.
    AtMost,
    /// Not below it.
    AtLeast,
}

/// A value or limit: a number in the reason's unit where it is numeric, else words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Value {
    /// A number in the reason's unit.
    Number(f64),
    /// Words.
    Text(String),
}

/// One criterion and what became of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// Name of the criterion in the policy.
    pub criterion: String,
    /// A few words for people.
    pub title: String,
    /// What became of it.
    pub finding: Finding,
    /// What was found; absent where it is missing.
    pub value: Option<Value>,
    /// What the policy asks for.
    pub limit: Option<Value>,
    /// On which side of a numeric limit the value must lie.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub relation: Option<Relation>,
    /// One standard deviation of the value, in `unit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_uncertainty: Option<f64>,
    /// Probability of conformity, guard band, zones of acceptance and rejection, where value and limit are numbers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conformity: Option<Conformity>,
    /// Unit of value and limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Where the limit comes from, in a few words.
    pub source: String,
    /// What is to be known of the limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The finding in one sentence.
    pub text: String,
    /// Whether `reuse` needs it to pass.
    pub mandatory: bool,
    /// What a failure leads to.
    pub on_fail: Fate,
    /// What a failure points to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hazard: Option<Hazard>,
    /// The point of the checklist, where it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign: Option<Sign>,
    /// The measured quantity, where it is one of the estimates.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<Quantity>,
    /// The estimate that the number was made from, if it is not an estimate itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_from: Option<Quantity>,
    /// Where the doubt of such a number comes from, where that estimate's own budget does not say it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub budget: Vec<Contribution>,
    /// What would settle it, where it is open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub settle: Option<String>,
}

impl Reason {
    /// Returns whether its value is a lower bound: the truth is this or more.
    pub fn is_lower_bound(&self) -> bool {
        self.quantity.is_some_and(Quantity::is_lower_bound)
    }
}

/// Which policy decided.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PolicyMark {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Digest of its text, so that a changed file shows.
    pub sha256: String,
}

/// What becomes of a cell, and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// What becomes of it.
    pub fate: Fate,
    /// How the law may look at it, for the assessor to judge.
    pub condition: CellState,
    /// The decision in one plain sentence.
    pub statement: String,
    /// Every criterion; what decided stands first.
    pub reasons: Vec<Reason>,
    /// What to do to know more, or to put right.
    pub next_steps: Vec<String>,
    /// What nobody may be told to do with the cell; records of older versions lack it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forbids: Option<Vec<Act>>,
    /// Which policy decided.
    pub policy: PolicyMark,
}

impl Verdict {
    /// Returns whether a failed criterion points to this danger.
    pub fn points_to(&self, hazard: Hazard) -> bool {
        self.reasons.iter().any(|reason| reason.finding == Finding::Fail && reason.hazard == Some(hazard))
    }

    /// Returns whether the cell was reported to be reacting now.
    pub fn active_now(&self) -> bool {
        self.points_to(Hazard::ActiveNow)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_not_looked_at_is_missing() {
        assert_eq!(Finding::default(), Finding::Missing);
    }

    #[test]
    fn a_value_is_a_bare_number_or_bare_words_in_json() {
        assert_eq!(serde_json::to_string(&Value::Number(3.5)).unwrap(), "3.5");
        assert_eq!(serde_json::to_string(&Value::Text("no".to_owned())).unwrap(), "\"no\"");
    }
}
