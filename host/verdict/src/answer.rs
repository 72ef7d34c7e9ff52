//! What a verdict on a discharge under way says of going on.

use crate::label::LABEL;
use crate::reason::{Finding, Verdict};
use celltriage_measure::estimate::Quantity;

/// Whether going on can still change the answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Nothing that is still to come can change it.
    Settled,
    /// Going on may settle it.
    Open,
    /// Going on to the end may settle it, and nothing less.
    NeedsTheWhole,
}

impl Answer {
    /// Reads it from a verdict. A cell against which something was found is not for reuse, whatever it still gives. Else the capacity is
    /// what a discharge is for; what is open beside it stays open however long it lasts, but a doubt of the label, which a whole count
    /// may end.
    pub fn of(verdict: &Verdict) -> Self {
        let reasons = |finding| verdict.reasons.iter().filter(move |reason| reason.finding == finding);
        if reasons(Finding::Fail).next().is_some() {
            return Self::Settled;
        }
        let whole = Some(Quantity::CapacityFraction);
        let by_bound = reasons(Finding::Pass).any(|reason| reason.is_lower_bound());
        let passes = by_bound || reasons(Finding::Pass).any(|reason| reason.quantity == whole);
        let label_is_open = reasons(Finding::Inconclusive).any(|reason| reason.criterion == LABEL);
        match (passes, label_is_open && by_bound) {
            (false, _) => Self::Open,
            (true, true) => Self::NeedsTheWhole,
            // Where a whole discharge was counted, no more of it says more of the label.
            (true, false) => Self::Settled,
        }
    }
}
