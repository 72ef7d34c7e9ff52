//! A criterion that has been judged: its reason, and what a failure of it means for the rest of the decision.

use crate::criterion::Consequence;
use crate::reason::{Finding, Reason};
use crate::step::{Act, Step};
use crate::types::CellState;

/// A reason with what its failure means for law and next steps.
pub(super) struct Judged<'a> {
    pub reason: Reason,
    pub condition: Option<CellState>,
    pub advice: Option<&'a Step>,
    /// What the step does that would settle it.
    pub settle_acts: Vec<Act>,
}

/// Makes the reason of a criterion that nothing is known of yet.
pub(super) fn blank(id: &str, title: &str, consequence: &Consequence, mandatory: bool) -> Reason {
    Reason {
        criterion: id.to_owned(),
        title: title.to_owned(),
        finding: Finding::Missing,
        value: None,
        limit: None,
        relation: None,
        standard_uncertainty: None,
        conformity: None,
        unit: None,
        source: consequence.source.clone(),
        note: consequence.note.clone(),
        text: String::new(),
        mandatory,
        on_fail: consequence.fate,
        hazard: consequence.hazard,
        sign: None,
        quantity: None,
        made_from: None,
        budget: Vec::new(),
        settle: None,
    }
}
