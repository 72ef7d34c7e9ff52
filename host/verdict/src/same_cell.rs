//! Whether it is the cell that the book knows under this name: what contradicts earlier decisions, as a reason of its own.
//!
//! Input: [`Contradiction`]s (found by comparing measurements) and what a person has answered; output: a reason. Figures that cannot
//! follow from one another belong to two cells, or one of them is wrong: neither proves anything, so without an answer nothing is
//! decided for the cell. The answer names who gave it and why; a person who finds that it is another cell gives it a name of its own.

use crate::contradiction::Contradiction;
use crate::criterion::Consequence;
use crate::judged::{Judged, blank};
use crate::reason::{Finding, Value};
use crate::step::Act;
use celltriage_measure::observation::Observations;

/// Name of the criterion.
pub const SAME_CELL: &str = "same_cell";

/// What settles it.
const SETTLE: &str = "Compare the tag with the cell, and both entries with it. If it is the same cell, assess it again and say why it \
                      is; if it is another, give it a name of its own, and strike the entry that was written under the wrong name.";

/// Makes the reason, if there is anything to ask.
pub(super) fn of_contradictions<'a>(
    found: &[Contradiction],
    observations: &Observations,
) -> Option<Judged<'a>> {
    if found.is_empty() {
        return None;
    }
    let consequence = Consequence::of_question(
        "earlier entries of the book; the bounds of what can follow are our choice".to_owned(),
    );
    let told = found.iter().map(Contradiction::words).collect::<Vec<_>>().join("; ");
    let mut reason = blank(SAME_CELL, "same cell", &consequence, true);
    let names: Vec<&str> = found.iter().map(|one| one.what.words()).collect();
    reason.value = Some(Value::Text(format!("other {}", names.join(", "))));
    reason.limit = Some(Value::Text("as before".to_owned()));
    let mut settle_acts = Vec::new();
    match observations.said_to_be_the_same() {
        Some((by, because)) => {
            reason.finding = Finding::Pass;
            reason.text =
                format!("{by} says that it is the same cell: {because}. What spoke against it: {told}.");
        }
        None => {
            reason.finding = Finding::Inconclusive;
            reason.text = format!("It may be another cell than before: {told}.");
            reason.settle = Some(SETTLE.to_owned());
            settle_acts.push(Act::Look);
        }
    }
    Some(Judged { reason, condition: None, advice: None, settle_acts })
}
