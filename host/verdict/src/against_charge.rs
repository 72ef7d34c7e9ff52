//! What a decision says against charging the cell: the same for the page, for explanations and for a guided run.
//!
//! Input: fate, condition and reasons; output: the reason that rules a charge out. Nobody may be told to charge a cell that
//! is kept apart or sent for recycling, nor one whose voltage or warmth is, or may be, on the wrong side of a limit.

use crate::reason::{Finding, Reason};
use crate::types::{CellState, Fate, Hazard};

/// Dangers that a charge makes worse. Where a measurement leaves open on which side of its limit one of them lies, it is
/// taken to be the wrong one.
const MADE_WORSE: [Hazard; 4] =
    [Hazard::DeeplyDischarged, Hazard::VoltageHidden, Hazard::OverCharged, Hazard::Warming];

/// Returns the reason that rules out a charge; `reasons` come as a verdict has them, the one that decided first.
pub fn against_charge<'a>(
    fate: Fate,
    condition: CellState,
    reasons: impl IntoIterator<Item = &'a Reason>,
) -> Option<&'a Reason> {
    let kept_away = fate >= Fate::Recycle || condition >= CellState::DamagedOrDefective;
    reasons.into_iter().find(|reason| {
        let shown = matches!(reason.finding, Finding::Fail | Finding::Inconclusive);
        kept_away || shown && reason.hazard.is_some_and(|hazard| MADE_WORSE.contains(&hazard))
    })
}
