//! Why the fixture cannot test a cell at all, and what to do about the label.

use crate::nameplate::Chemistry;
use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroAmps, MicroVolts};

/// Why the fixture cannot test a cell at all.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Its 0.2 It is less than the fixture regulates.
    #[error(
        "a cell of {rated_capacity_ah} Ah is too small for this fixture: 0.2 It is {current} and the least it regulates is {}, \
         so that cells from {} Ah on can be tested",
        limits::SMALLEST_LOAD,
        SMALLEST_AH
    )]
    TooSmall {
        /// Rated capacity of the cell in Ah.
        rated_capacity_ah: f64,
        /// Its current of 0.2 It.
        current: MicroAmps,
    },
    /// The two currents of the two-level method cannot be made far enough apart.
    #[error(
        "a cell of {rated_capacity_ah} Ah is too large for this fixture: it cannot make two currents far enough apart"
    )]
    TooLarge {
        /// Rated capacity of the cell in Ah.
        rated_capacity_ah: f64,
    },
    /// Its discharge ends below the lowest voltage that the fixture discharges cells of its chemistry to.
    #[error(
        "an end-of-discharge voltage of {end_of_discharge_v:.2} V is below the {lowest_v:.2} V this fixture discharges {} to; \
         {}",
        cells_of(*.chemistry),
        instead_of(*.chemistry)
    )]
    FloorTooLow {
        /// End-of-discharge voltage of the cell in V.
        end_of_discharge_v: f64,
        /// The lowest that the fixture discharges such cells to, in V.
        lowest_v: f64,
        /// What the cell is made of.
        chemistry: Chemistry,
    },
    /// The label gives no end of discharge, and the usual one is below what the fixture discharges to then.
    #[error(
        "the label gives no end-of-discharge voltage, and without one this fixture discharges no cell below {:.2} V, while \
         {end_of_discharge_v:.2} V is usual for this chemistry; give the maker's figure",
        volts(limits::LOWEST_PLAN_FLOOR)
    )]
    FloorNotTold {
        /// The usual end of discharge in V.
        end_of_discharge_v: f64,
    },
    /// The label's charge limit is that of another chemistry.
    #[error(
        "a charge limit of {charge_limit_v:.2} V is above the {:.2} V of iron phosphate; check the charge limit and the \
         chemistry on the label",
        volts(limits::HIGHEST_LFP_CHARGE_LIMIT)
    )]
    NoPhosphate {
        /// Charge limit in V.
        charge_limit_v: f64,
    },
}

/// From this rated capacity on 0.2 It is at least what the fixture regulates, in Ah.
pub const SMALLEST_AH: f64 = limits::SMALLEST_LOAD.get() as f64 / 1e6 / 0.2;

pub(super) const fn volts(voltage: MicroVolts) -> f64 {
    voltage.get() as f64 / 1e6
}

const fn cells_of(chemistry: Chemistry) -> &'static str {
    match chemistry {
        Chemistry::LithiumIon => "a cell whose chemistry is not told",
        Chemistry::Lfp => "iron phosphate",
        _ => "lithium-ion cells other than iron phosphate",
    }
}

const fn instead_of(chemistry: Chemistry) -> &'static str {
    match chemistry {
        Chemistry::LithiumIon => {
            "give the chemistry where label or data sheet tells it, or a higher end of discharge"
        }
        _ => "give a higher end of discharge: the capacity is then the one down to there",
    }
}
