//! What earlier decisions say of a cell against what is seen and measured now: tags are mixed up, and figures that cannot follow
//! from one another are where it shows.
//!
//! Takes the [`Earlier`] decisions of the book and the present [`Facts`]; gives [`Contradiction`]s. Compared is with every earlier
//! decision since a person last said that it is the same cell: from there on both figures are known to be of one cell.

mod bounds;
mod facts;
mod label;

pub use facts::{Facts, Figure};
pub use label::{Other, other_label};

use celltriage_verdict::{Contradicted, Contradiction};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// An earlier decision, as far as another can be compared with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Earlier {
    /// Its entry.
    pub entry: u32,
    /// Its day.
    pub on: Date,
    /// What it was made from.
    pub facts: Facts,
    /// Whether a person said then that it is the same cell as before.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub said_same: bool,
}

/// Returns what cannot follow from the earlier decisions, the oldest first; `lies_since` is the day since when the book has the
/// cell in one container.
pub fn contradictions(
    earlier: &[Earlier],
    now: &Facts,
    today: Date,
    lies_since: Option<Date>,
) -> Vec<Contradiction> {
    let from = earlier.iter().rposition(|one| one.said_same).unwrap_or(0);
    let mut found: Vec<Contradiction> = Vec::new();
    for one in earlier.iter().skip(from) {
        for (what, before, now, because) in against(one, now, today, lies_since) {
            // One of each sort is enough to ask, and the first is where the two stories part.
            if found.iter().all(|known| known.what != what) {
                found.push(Contradiction { what, entry: one.entry, on: one.on, before, now, because });
            }
        }
    }
    found
}

/// What contradicts: before, now, and why that cannot follow.
type Told = (Contradicted, String, String, String);

fn against(earlier: &Earlier, now: &Facts, today: Date, lies_since: Option<Date>) -> Vec<Told> {
    let before = &earlier.facts;
    let days = bounds::days_between(earlier.on, today);
    let label = on_the_label(&other_label(&before.nameplate, &now.nameplate));
    let lay = lies_since.is_some_and(|since| since <= earlier.on);
    let measured = [
        bounds::thickness(before, now),
        bounds::resistance(before, now, days),
        bounds::capacity(before, now, days),
        bounds::rest_voltage(before, now).filter(|_| lay),
    ];
    label.into_iter().chain(measured.into_iter().flatten()).collect()
}

fn on_the_label(told: &[Other]) -> Option<Told> {
    let joined = |part: &dyn Fn(&Other) -> String| told.iter().map(part).collect::<Vec<_>>().join(", ");
    let before = joined(&|one| format!("{} {}", one.name, one.before));
    let because = "a cell keeps its label".to_owned();
    (!told.is_empty()).then(|| (Contradicted::Label, before, joined(&|one| one.now.clone()), because))
}

#[cfg(test)]
mod tests;
