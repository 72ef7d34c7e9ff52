//! What the signs that show on receipt tell against a thing: rows of the same table as those that a decision finds.

use crate::event::{Received, Signed, Symptom};
use crate::known::{finding, kind_of_sign};
use celltriage_measure::observation::Sign;
use celltriage_verdict::{CellState, Hazard, KnownFinding, Told};

/// Returns a finding for each sign that shows on receipt, of the same rows as those of a decision.
pub(crate) fn of_receipt(number: u32, signed: &Signed, received: &Received) -> Vec<KnownFinding> {
    let shows = received.signs.iter().filter(|(_, told)| **told == Symptom::Yes).map(|(sign, _)| *sign);
    let make = |sign: Sign| {
        let (condition, hazard) = points_to(sign);
        let (what, by) = (format!("{} on receipt", sign.words()), Some(signed.by.clone()));
        finding(number, signed.on, Told::Receipt, kind_of_sign(sign), what, by, condition, Some(hazard))
    };
    shows.map(make).collect()
}

/// Returns what a sign points to: condition and danger, as the built-in policy has them.
const fn points_to(sign: Sign) -> (CellState, Hazard) {
    match sign {
        Sign::ActiveNow => (CellState::Critical, Hazard::ActiveNow),
        Sign::Leaked => (CellState::DamagedOrDefective, Hazard::Leaking),
        Sign::CasingBreached => (CellState::CasingBreached, Hazard::CasingOpen),
        Sign::Swollen => (CellState::DamagedOrDefective, Hazard::Swollen),
        Sign::Deformed | Sign::Discoloured => (CellState::DamagedOrDefective, Hazard::Deformed),
        Sign::Misused => (CellState::DamagedOrDefective, Hazard::Misused),
        Sign::ProtectionDamaged => (CellState::DamagedOrDefective, Hazard::Unprotected),
        Sign::Recalled => (CellState::DamagedOrDefective, Hazard::Recalled),
    }
}
