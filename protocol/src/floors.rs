//! How low a cell may be discharged, by what its label says of chemistry and end of discharge.
//!
//! Takes a [`CellLabel`], gives [`Floors`]. The strictest floors are those of [`limits::LOWEST_PLAN_FLOOR`] and
//! [`limits::LOADED_FLOOR`]; lower ones need both a chemistry and an end of discharge, and no label gets below the lowest of
//! its chemistry. A pulse above [`limits::LARGEST_STEADY`] keeps the strictest floors whatever the label says: it ends
//! nothing that a slow discharge does not end better, and the sink does not hold 5 A below 2.5 V
//! (`hardware-notes/sink.md`).

use crate::label::{CellLabel, Chemistry};
use crate::limits;
use crate::units::{MicroAmps, MicroVolts};

/// The voltages at which a load must end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Floors {
    /// Lowest voltage that a plan may ask a load to end at.
    pub plan: MicroVolts,
    /// Below this the guard drops the load.
    pub loaded: MicroVolts,
}

impl Floors {
    /// Those of a label that says nothing, and of every pulse.
    pub const STRICTEST: Self = Self { plan: limits::LOWEST_PLAN_FLOOR, loaded: limits::LOADED_FLOOR };

    /// Returns the floors of a cell under a load of this current.
    pub const fn of(label: CellLabel, current: MicroAmps) -> Self {
        let Some(end) = label.end_of_discharge else { return Self::STRICTEST };
        if current.get() > limits::LARGEST_STEADY.get() || end.get() >= limits::LOWEST_PLAN_FLOOR.get() {
            return Self::STRICTEST;
        }
        let lowest = lowest_end(label.chemistry);
        let plan = if end.get() < lowest.get() { lowest } else { end };
        Self { plan, loaded: plan.saturating_sub(limits::FLOOR_MARGIN) }
    }
}

/// Returns the lowest end of discharge that a label of this chemistry may give.
pub const fn lowest_end(chemistry: Chemistry) -> MicroVolts {
    match chemistry {
        Chemistry::Unknown => limits::LOWEST_PLAN_FLOOR,
        Chemistry::Lco | Chemistry::Nmc | Chemistry::Nca | Chemistry::Lmo => limits::LOWEST_END,
        Chemistry::Lfp => limits::LOWEST_LFP_END,
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;

    const LOW: MicroAmps = limits::LARGEST_STEADY;

    fn label(chemistry: Chemistry, end_mv: Option<i32>) -> CellLabel {
        CellLabel { chemistry, end_of_discharge: end_mv.map(MicroVolts::from_millivolts) }
    }

    /// Chemistry, end of discharge, lowest floor of a plan, floor of the guard, in millivolts.
    #[test]
    fn every_label_has_the_floors_of_the_table() {
        use Chemistry::{Lco, Lfp, Lmo, Nca, Nmc, Unknown};
        let mut table = std::vec![
            (Unknown, None, 2_600, 2_500),
            (Unknown, Some(3_000), 2_600, 2_500),
            (Unknown, Some(2_500), 2_600, 2_500),
            (Unknown, Some(2_000), 2_600, 2_500),
            (Lfp, None, 2_600, 2_500),
            (Lfp, Some(3_000), 2_600, 2_500),
            (Lfp, Some(2_600), 2_600, 2_500),
            (Lfp, Some(2_500), 2_500, 2_400),
            (Lfp, Some(2_001), 2_001, 1_901),
            (Lfp, Some(2_000), 2_000, 1_900),
            (Lfp, Some(1_999), 2_000, 1_900),
            (Lfp, Some(i32::MIN / 1_000), 2_000, 1_900),
            (Lfp, Some(i32::MAX / 1_000), 2_600, 2_500),
        ];
        for chemistry in [Lco, Nmc, Nca, Lmo] {
            table.extend([
                (chemistry, None, 2_600, 2_500),
                (chemistry, Some(3_000), 2_600, 2_500),
                (chemistry, Some(2_750), 2_600, 2_500),
                (chemistry, Some(2_599), 2_599, 2_499),
                (chemistry, Some(2_500), 2_500, 2_400),
                (chemistry, Some(2_499), 2_500, 2_400),
                (chemistry, Some(2_000), 2_500, 2_400),
            ]);
        }
        for (chemistry, end, plan, loaded) in table {
            let [plan, loaded] = [plan, loaded].map(MicroVolts::from_millivolts);
            let found = Floors::of(label(chemistry, end), LOW);
            assert_eq!(found, Floors { plan, loaded }, "{chemistry:?} {end:?}");
        }
    }

    #[test]
    fn a_pulse_keeps_the_strictest_floors() {
        let deep = label(Chemistry::Lfp, Some(2_000));
        assert_eq!(Floors::of(deep, MicroAmps::new(LOW.get() + 1)), Floors::STRICTEST);
        assert_eq!(Floors::of(deep, MicroAmps::ZERO).plan, limits::LOWEST_LFP_END);
    }

    #[test]
    fn the_guards_floor_is_above_what_makers_forbid_and_below_the_plans() {
        for (chemistry, forbidden_mv) in [(Chemistry::Nmc, 2_000), (Chemistry::Lfp, 1_500)] {
            let floors = Floors::of(label(chemistry, Some(0)), LOW);
            assert!(floors.loaded > MicroVolts::from_millivolts(forbidden_mv) && floors.loaded < floors.plan);
        }
    }
}
