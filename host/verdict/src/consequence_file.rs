//! What a failure means, as a policy file writes it: shared by criteria, trips and the ways a test can end.

use crate::criterion::Consequence;
use crate::step::{Act, Step};
use crate::types::{CellState, Fate, Hazard};
use celltriage_written::{Fields, Reading};
use serde::de::DeserializeOwned;

/// The keys of a consequence.
pub(super) const KEYS: [&str; 8] =
    ["on_fail", "condition", "hazard", "source", "note", "fail", "advice", "advice_acts"];

/// Reads a consequence out of the table that it is part of.
pub(super) fn consequence(fields: &mut Fields<'_>, reading: &mut Reading<'_>) -> Option<Consequence> {
    let on_fail = fields.need::<Fate>("on_fail", reading);
    if let Some(found) = on_fail.as_ref().filter(|found| found.value == Fate::Reuse) {
        let what = "a failure cannot lead to reuse; write recycle, quarantine or undecided";
        reading.add(found.span.clone(), what);
    }
    let source = fields.need::<String>("source", reading);
    if let Some(found) = source.as_ref().filter(|found| found.value.trim().is_empty()) {
        let what = "source is empty; name the publication, or write \"common practice\"";
        reading.add(found.span.clone(), what);
    }
    let condition = value::<CellState>(fields, "condition", reading);
    let hazard = value::<Hazard>(fields, "hazard", reading);
    let note = value(fields, "note", reading);
    let sentence = fields.need::<String>("fail", reading);
    let advice = step(fields, "advice", "advice_acts", reading);
    Some(Consequence {
        fate: on_fail?.value,
        condition,
        hazard,
        source: source?.value,
        note,
        sentence: sentence?.value,
        advice,
    })
}

/// Reads a step: its words, and its acts where the file says them.
pub(super) fn step(
    fields: &mut Fields<'_>,
    words: &str,
    acts: &str,
    reading: &mut Reading<'_>,
) -> Option<Step> {
    let (text, acts) = (value(fields, words, reading), value::<Vec<Act>>(fields, acts, reading));
    text.map(|text| Step::of_policy(text, acts))
}

/// Takes a key that may be missing, without its place.
pub(super) fn value<T: DeserializeOwned>(
    fields: &mut Fields<'_>,
    key: &str,
    reading: &mut Reading<'_>,
) -> Option<T> {
    fields.take(key, reading).map(|found| found.value)
}
