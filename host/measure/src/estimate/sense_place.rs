//! Says of each resistance where its voltage was picked up, as a person told: the number has no meaning without it.
//!
//! Nothing is taken off or added: what the protection has is known of the class and not of the pack. Where nobody said it,
//! nothing changes.

use super::types::Estimates;
use super::{INSTANTS, Quantity};
use crate::observation::SensedAt;

/// What protection, lead and connector have, in mOhm: two transistors of 5 mOhm and a short lead, to two of 25 mOhm, a long
/// lead and a worn connector (common practice; `hardware-notes/adapter.toml`, `[protection]`).
const PROTECTION_MILLIOHMS: [f64; 2] = [15.0, 120.0];

/// The resistances besides those of [`INSTANTS`].
const OTHERS: [Quantity; 4] = [
    Quantity::ResistanceTwoLevel,
    Quantity::Resistance10SecondsWithoutCharge,
    Quantity::Resistance25Celsius,
    Quantity::ResistanceOverClass,
];

/// Puts the place into conditions and warnings of all resistances.
pub(super) fn tell(place: Option<SensedAt>, estimates: &mut Estimates) {
    let Some(place) = place else { return };
    for quantity in resistances() {
        let Some(estimate) = estimates.measured.get_mut(&quantity) else { continue };
        estimate.conditions.sensed_at = Some(place);
        estimate.warnings.push(words(place));
        if quantity == Quantity::ResistanceOverClass && !place.has_protection_in_path() {
            estimate
                .warnings
                .push("the class figures are of packs with protection; this is the bare cell".to_owned());
        }
    }
}

/// Returns all resistances.
pub(super) fn resistances() -> impl Iterator<Item = Quantity> {
    INSTANTS.map(|(quantity, _)| quantity).into_iter().chain(OTHERS)
}

fn words(place: SensedAt) -> String {
    let sensed = format!("voltage sensed {}, as was said", place.words());
    if !place.has_protection_in_path() {
        return sensed;
    }
    let [least, most] = PROTECTION_MILLIOHMS;
    let also =
        if place == SensedAt::Connector { "protection, lead and connector are" } else { "the protection is" };
    format!(
        "{sensed}: {also} in the path, usually {least} to {most} mOhm; the cell has less than this number"
    )
}
