//! What the signs that show on receipt tell against a thing: rows of the same table as those that a decision finds.

use crate::event::{Received, Signed, Symptom};
use celltriage_measure::observation::Sign;
use celltriage_verdict::{CellState, Hazard, KnownFinding, KnownKind, Told};

/// Returns a finding for each sign that shows on receipt, of the same rows as those of a decision.
pub(crate) fn of_receipt(number: u32, signed: &Signed, received: &Received) -> Vec<KnownFinding> {
    let shows = received.signs.iter().filter(|(_, told)| **told == Symptom::Yes).map(|(sign, _)| *sign);
    let make = |sign: Sign| {
        let (condition, hazard) = points_to(sign);
        KnownFinding {
            entry: number,
            on: signed.on,
            told: Told::Receipt,
            kind: kind_of_sign(sign),
            what: format!("{} on receipt", sign.words()),
            by: Some(signed.by.clone()),
            condition,
            hazard: Some(hazard),
            settled_by: None,
            released_by: None,
        }
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

/// Returns the row of the table that a sign is.
pub(crate) const fn kind_of_sign(sign: Sign) -> KnownKind {
    match sign {
        Sign::ActiveNow => KnownKind::Reacting,
        Sign::Leaked => KnownKind::Leaked,
        Sign::CasingBreached => KnownKind::CasingOpen,
        Sign::Swollen => KnownKind::Swollen,
        Sign::Deformed => KnownKind::Deformed,
        Sign::Discoloured => KnownKind::Discoloured,
        Sign::Misused => KnownKind::Misused,
        Sign::ProtectionDamaged => KnownKind::Unprotected,
        Sign::Recalled => KnownKind::Recalled,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_verdict::{Policy, Subject};

    /// A sign means the same on receipt and at the bench.
    #[test]
    fn a_sign_points_to_what_the_built_in_policy_says() {
        let policy = Policy::built_in().unwrap();
        for sign in Sign::ALL {
            let one = policy.criteria.iter().find(|one| one.subject == Subject::Sign(sign)).unwrap();
            let said = (one.consequence.condition, one.consequence.hazard);
            let (condition, hazard) = points_to(sign);
            assert_eq!(said, (Some(condition), Some(hazard)), "{sign:?}");
        }
    }
}
