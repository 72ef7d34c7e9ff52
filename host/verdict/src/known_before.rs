//! What was found of the cell before, as a decision takes it: a failure of its own that names the entry.
//!
//! Input: [`KnownFinding`]s (gathered from the book); output: a reason for each. What was found
//! stands until a person withdraws it, so nothing that is measured later outweighs it.

use crate::criterion::Consequence;
use crate::judged::{Judged, blank};
use crate::known_finding::KnownFinding;
use crate::reason::{Finding, Value};
use crate::step::{Act, Step};
use crate::types::{CellState, Fate, Hazard};
use std::sync::LazyLock;

/// Name of the criterion that an earlier finding fails.
pub const KNOWN_BEFORE: &str = "known_before";

/// What is to be done about each.
const ADVICE_WORDS: &str = "Keep it apart, without a load and without a charge. Where an earlier entry is wrong, a person strikes \
                      it by name and reason; then assess it again.";

static ADVICE: LazyLock<Step> = LazyLock::new(|| Step::new(ADVICE_WORDS, &[Act::Look]));

/// Makes the reason of an earlier finding.
pub(super) fn of_known<'a>(known: &KnownFinding) -> Judged<'a> {
    let counts = known.as_it_counts();
    let consequence = Consequence {
        // Too deep to be charged again is the end of its service and no damage.
        fate: match counts.hazard {
            Some(Hazard::DeeplyDischarged) if counts.condition < CellState::DamagedOrDefective => {
                Fate::Recycle
            }
            _ => Fate::Quarantine,
        },
        condition: Some(counts.condition),
        hazard: counts.hazard,
        source: "an earlier entry of the book; our choice: what was found stands until a person withdraws it"
            .to_owned(),
        note: None,
        sentence: String::new(),
        advice: None,
    };
    let mut reason = blank(KNOWN_BEFORE, "known before", &consequence, true);
    reason.finding = Finding::Fail;
    reason.value = Some(Value::Text(known.what.clone()));
    reason.limit = Some(Value::Text("nothing found before".to_owned()));
    reason.text = format!("Known before: {}.", known.words());
    Judged { reason, condition: Some(counts.condition), advice: Some(&ADVICE), settle_acts: Vec::new() }
}
