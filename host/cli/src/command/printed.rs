//! An assessment as it is printed for machines: the record, and beside it what the record does not hold.
//!
//! The sealed record keeps the bytes it was written with; what is added here is added for the reader alone.

use celltriage_assessment::Assessment;
use celltriage_verdict::KnownFinding;
use serde::Serialize;
use serde_json::Value;

/// The record and what stands beside it.
#[derive(Debug, Serialize)]
pub(super) struct Printed<'a> {
    #[serde(flatten)]
    assessment: &'a Assessment,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    simulated: bool,
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    known_since: &'a [KnownFinding],
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<&'a Value>,
}

impl<'a> Printed<'a> {
    /// Puts beside an assessment whether it is of a simulated cell, and what was found of that cell since.
    pub(super) fn of(assessment: &'a Assessment, since: &'a [KnownFinding]) -> Self {
        Self { assessment, simulated: assessment.conditions.is_simulated(), known_since: since, from: None }
    }

    /// Puts beside it the bench that its entry comes from, where that is another one.
    pub(super) const fn come_from(self, from: Option<&'a Value>) -> Self {
        Self { from, ..self }
    }
}
