//! What the decision rule says of one number: the probability that it keeps its limit, and the zones around the limit.
//!
//! The names in JSON are part of the contract in `host/JSON.md` and never change.

use serde::{Deserialize, Serialize};

/// How a value stands to its limit, in the value's own unit. A pair holds the lower and the upper bound; `None` is open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conformity {
    /// Probability that the true value keeps the limit (JCGM 106:2012, clause 7).
    pub probability: f64,
    /// Probability that it lies on the passing side of the policy's doubtful range, where there is one: what a pass rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability_clear: Option<f64>,
    /// Stated risk of a wrong pass and of a wrong fail, one-sided.
    pub risk: f64,
    /// Standard uncertainties of guard that follow from the risk.
    pub coverage_factor: f64,
    /// Effective degrees of freedom of the value's uncertainty, where they are few: Student's t is used then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<f64>,
    /// Distance from the limit (or from the doubtful range) within which a value cannot pass.
    pub guard_band: f64,
    /// A value passes within these.
    pub accept: [Option<f64>; 2],
    /// A value fails beyond these.
    pub reject: [Option<f64>; 2],
    /// From here up to the limit the policy says nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubtful: Option<f64>,
    /// Holds the true value with 95 %.
    pub interval: [f64; 2],
}
