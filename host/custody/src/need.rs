//! One thing that a paper or a record needs, with its source.

use celltriage_rules::Fact;
use serde::{Deserialize, Serialize};

/// One thing that is needed, with its source.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Need {
    /// What is needed.
    pub text: String,
    /// Where it comes from.
    pub citation: String,
    /// Whether it must be verified before it is relied on.
    pub verify: bool,
    /// Whom to verify it with.
    #[serde(default)]
    pub verify_with: String,
    /// What is doubtful about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<String>,
    /// Name of the rule in its pack.
    #[serde(default)]
    pub rule: String,
}

impl Need {
    /// Makes it from a fact of the packs.
    pub fn of(fact: &Fact) -> Self {
        Self {
            text: fact.text.clone(),
            citation: fact.source.clone(),
            verify: fact.verify,
            verify_with: fact.verify_with.clone(),
            doubt: fact.doubt.clone(),
            rule: fact.rule.clone(),
        }
    }
}
