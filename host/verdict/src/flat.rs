//! Where no thickness of the new cell is known: whether the cell lies flat on a plate.
//!
//! Input: the reason of a growth of thickness and the evidence; output: the same reason, decided where somebody tried. A cell that has
//! made gas bulges and rocks; one that does not lie flat has failed, whatever a gauge reads (common practice, no source).

use crate::criterion::NumberLimit;
use crate::evidence::Evidence;
use crate::reason::{Finding, Reason, Value};

/// Decides by the flatness what the policy lets it decide.
pub(super) fn stand_in(reason: &mut Reason, number: &NumberLimit, evidence: &Evidence<'_>) {
    let (true, Some(lies_flat)) = (number.or_flat, evidence.observations.lies_flat) else { return };
    let is_needed = reason.finding == Finding::Missing && evidence.nameplate.nominal_thickness_mm.is_none();
    if lies_flat && !is_needed {
        return;
    }
    let (finding, value, text) = match lies_flat {
        true => (
            Finding::Pass,
            "lies flat",
            "Lies flat on a plate, on both faces; how thick it was when new is not known.",
        ),
        false => (
            Finding::Fail,
            "does not lie flat",
            "It does not lie flat on a plate: it bulges or is bent, so it may have made gas inside.",
        ),
    };
    reason.finding = finding;
    reason.value = Some(Value::Text(value.to_owned()));
    reason.limit = Some(Value::Text("lies flat".to_owned()));
    reason.text = text.to_owned();
    (reason.relation, reason.standard_uncertainty, reason.conformity, reason.unit) = (None, None, None, None);
}
