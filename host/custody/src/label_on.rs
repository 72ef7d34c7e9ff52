//! Whether a cell bears the label that it should: what people read at the shelf, before any screen.

use crate::cell::Cell;
use celltriage_verdict::Fate;

/// Says that no label was noted on a cell that was decided, as the end of a sentence about it.
pub(crate) fn without_label(cell: &Cell) -> &'static str {
    if cell.label.is_none() && cell.facts.is_some() { "; no label is noted" } else { "" }
}

/// A label that does not say what was decided last.
pub(crate) struct WrongLabel {
    /// Whether it promises more than was decided: that is what makes somebody take the cell from the shelf.
    pub(crate) promises: bool,
    /// What is to be done.
    pub(crate) what: String,
}

/// Returns what is wrong with a cell's label.
pub(crate) fn wrong_label(cell: &Cell) -> Option<WrongLabel> {
    let (entry, _, Some(says)) = cell.label? else { return None };
    let facts = cell.facts.as_ref()?;
    let decided = facts.fate;
    let right = match cell.standing().next() {
        _ if says != decided => format!("decided {decided} on {}", facts.on),
        // What stands against a cell is no decision, and makes none of reuse true.
        Some(found) if says == Fate::Reuse => found.short(),
        _ => return None,
    };
    let what = format!("change its label: it says {says} (entry {entry}); {right}");
    Some(WrongLabel { promises: says == Fate::Reuse, what })
}
