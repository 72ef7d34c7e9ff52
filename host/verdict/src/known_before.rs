//! What was found of the cell before, as a decision takes it: a failure of its own that names the entry, or an open question where
//! a test may still answer it.
//!
//! Input: [`KnownFinding`]s (gathered from the book); output: a reason for each. What was found
//! stands until a person withdraws it, so nothing that is measured later outweighs it.

use crate::criterion::Consequence;
use crate::evidence::Evidence;
use crate::judged::{Judged, blank};
use crate::known_finding::KnownFinding;
use crate::reason::{Finding, Value};
use crate::step::{Act, Step};
use crate::types::{CellState, Fate, Hazard};
use celltriage_measure::estimate::Quantity;
use std::sync::LazyLock;

/// Name of the criterion that an earlier finding fails.
pub const KNOWN_BEFORE: &str = "known_before";

/// What is to be done about each.
const ADVICE_WORDS: &str = "Keep it apart, without a load and without a charge. Where an earlier entry is wrong, a person strikes \
                      it by name and reason; then assess it again.";

static ADVICE: LazyLock<Step> = LazyLock::new(|| Step::new(ADVICE_WORDS, &[Act::Look]));

/// What is to be done where a test settles it.
const TEST_WORDS: &str = "Look for every sign again, then assess it by a test that comes to its end.";

/// What only a test under load measures: a look at the rest voltage tests nothing.
pub const UNDER_LOAD: [Quantity; 3] =
    [Quantity::ResistanceTwoLevel, Quantity::CapacityFraction, Quantity::Capacity];

/// Returns whether what is decided on now ends a finding by itself.
pub(super) fn is_ended_by(known: &KnownFinding, evidence: &Evidence<'_>) -> bool {
    let loaded = UNDER_LOAD.into_iter().any(|quantity| evidence.estimates.get(quantity).is_some());
    // A file may be older than what it would have to end.
    let finished = evidence.run.is_finished() && loaded && !evidence.from_file;
    known.kind.row().release.is_met_by_test(finished, evidence.observations.all_answered_no())
}

/// Makes the reason of an earlier finding.
pub(super) fn of_known<'a>(known: &KnownFinding) -> Judged<'a> {
    let counts = known.as_it_counts();
    // Where a test may still be made, what is open is open: nothing is known against the cell but that nobody knows.
    let untested = !counts.bars().load;
    let consequence = Consequence {
        // Too deep to be charged again is the end of its service and no damage.
        fate: match counts.hazard {
            _ if untested => Fate::Undecided,
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
    reason.finding = if untested { Finding::Inconclusive } else { Finding::Fail };
    reason.value = Some(Value::Text(known.what.clone()));
    reason.limit = Some(Value::Text("nothing found before".to_owned()));
    reason.text = format!("Known before: {}.", known.words());
    let (advice, settle_acts) = match untested {
        true => (None, vec![Act::Look, Act::Load]),
        false => (Some(&*ADVICE), Vec::new()),
    };
    reason.settle = untested.then(|| TEST_WORDS.to_owned());
    Judged { reason, condition: Some(counts.condition), advice, settle_acts }
}
