//! What a decision forbids to do with the cell, and the steps that it withholds therefore: the one place for both.
//!
//! Input: fate, condition and reasons; output: the acts that nobody may be told. Every step of a page goes through
//! [`Forbidden::allows`], wherever it comes from, so that no page forbids and asks the same.

use crate::against_charge::against_charge;
use crate::known_before::KNOWN_BEFORE;
use crate::reason::{Finding, Reason};
use crate::step::{Act, Step};
use crate::types::{CellState, Fate, Hazard};

/// Dangers that a load makes worse or that hide what it does; the fixture refuses most of them by itself.
const NOT_LOADED: [Hazard; 5] = [
    Hazard::DeeplyDischarged,
    Hazard::VoltageHidden,
    Hazard::OverCharged,
    Hazard::Warming,
    Hazard::InternalShort,
];

/// Dangers with which a cell is not brought back by a slow charge either.
const NOT_BROUGHT_BACK: [Hazard; 3] = [Hazard::VoltageHidden, Hazard::OverCharged, Hazard::Warming];

/// What is said instead of a withheld measurement that takes a charge, of one for a cell that may still be brought back
/// slowly, and of one that takes a load.
const NO_CHARGE: &str =
    "Nothing on this cell: it takes a full charge first, and this cell is not to be charged.";
const NOT_YET: &str = "Nothing on this cell as it is: it takes a full charge, and it rests below the voltage at which one begins.";
const NO_LOAD: &str = "Nothing on this cell: it takes a load, and this cell is not to be loaded.";

/// The acts that a decision forbids.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Forbidden(Vec<Act>);

impl Forbidden {
    /// Finds what a decision forbids; `looked` is whether every sign was checked and none found.
    pub fn by<'a>(
        fate: Fate,
        condition: CellState,
        reasons: impl Iterator<Item = &'a Reason> + Clone,
        looked: bool,
    ) -> Self {
        let failed = || reasons.clone().filter(|reason| reason.finding == Finding::Fail);
        let shown = || {
            reasons.clone().filter(|reason| matches!(reason.finding, Finding::Fail | Finding::Inconclusive))
        };
        let of = |reason: &Reason, hazards: &[Hazard]| {
            reason.hazard.is_some_and(|hazard| hazards.contains(&hazard))
        };
        let look = failed().any(|reason| of(reason, &[Hazard::ActiveNow]));
        let load = look
            || condition >= CellState::DamagedOrDefective
            || failed().any(|reason| {
                reason.sign.is_some() || reason.criterion == KNOWN_BEFORE || of(reason, &NOT_LOADED)
            })
            || shown().any(|reason| of(reason, &[Hazard::VoltageHidden]));
        let charge = load || against_charge(fate, condition, reasons.clone()).is_some();
        // Between the voltage that sends a cell for recycling and the lowest one that is tested, a trained person may
        // bring it back; whether it lies there must be clear, and somebody must have looked.
        let never = fate >= Fate::Recycle
            || condition >= CellState::DamagedOrDefective
            || !looked
            || failed().any(|reason| reason.sign.is_some())
            || shown().any(|reason| {
                of(reason, &NOT_BROUGHT_BACK)
                    || of(reason, &[Hazard::DeeplyDischarged]) && reason.on_fail >= Fate::Recycle
            });
        let found = [(Act::Look, look), (Act::Load, load), (Act::PreCharge, never), (Act::Charge, charge)];
        Self(found.into_iter().filter(|(_, forbidden)| *forbidden).map(|(act, _)| act).collect())
    }

    /// Returns the acts, for the record.
    pub fn acts(&self) -> &[Act] {
        &self.0
    }

    /// Returns whether an act is forbidden.
    pub fn has(&self, act: Act) -> bool {
        self.0.contains(&act)
    }

    /// Returns whether a step may be shown.
    pub fn allows(&self, step: &Step) -> bool {
        !step.acts.iter().any(|act| self.has(*act))
    }

    /// Returns what to say in place of a measurement that would settle a finding and is withheld; `None` if it may
    /// be told.
    pub fn in_place_of(&self, step: &Step) -> Option<&'static str> {
        let withheld = |act| step.acts.contains(&act) && self.has(act);
        match (withheld(Act::Charge), withheld(Act::Load)) {
            (true, _) if self.has(Act::PreCharge) => Some(NO_CHARGE),
            (true, _) => Some(NOT_YET),
            (_, true) => Some(NO_LOAD),
            // Nothing is asked for near a cell that is reacting.
            _ => (!self.allows(step)).then_some(""),
        }
    }
}
