//! Whether a cell bears the label that it should: what people read at the shelf, before any screen.

use crate::cell::Cell;
use crate::due::Urgency;
use celltriage_verdict::Fate;

/// Says that no label was noted on a cell that was decided, as the end of a sentence about it.
pub(crate) fn without_label(cell: &Cell) -> &'static str {
    if cell.label.is_none() && cell.facts.is_some() { "; no label is noted" } else { "" }
}

/// Says what a cell's label says that was not decided last, and how soon it must go; `None` where it says nothing wrong. A label that
/// promises more than was decided is what makes somebody take the cell from the shelf.
pub(crate) fn wrong_label(cell: &Cell) -> Option<(Urgency, String)> {
    let (entry, _, Some(says)) = cell.label? else { return None };
    let facts = cell.facts.as_ref()?;
    // A decision that was struck is none, and what stands against a cell is no decision.
    let (decided, held) = (facts.fate, cell.standing().next().is_some());
    if says == decided && !(held && says == Fate::Reuse) {
        return None;
    }
    let urgency = if says == Fate::Reuse { Urgency::Now } else { Urgency::Open };
    let right = match (says == decided, cell.standing().next()) {
        (true, Some(found)) => found.short(),
        _ => format!("decided {decided} on {}", facts.on),
    };
    Some((urgency, format!("change its label: it says {says} (entry {entry}); {right}")))
}
