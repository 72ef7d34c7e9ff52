//! Plans and steps for tests, in milliamperes and milliseconds.

use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros};

/// Bounds as wide as the limits allow.
pub const WIDE: Bounds = Bounds {
    lowest_voltage: limits::LOWEST_PLAN_FLOOR,
    highest_temperature: limits::HOTTEST,
    highest_rise: limits::LARGEST_RISE,
    most_charge: MicroCoulombs::MAX,
};

fn step(action: Action, duration: u64, period: u32) -> Step {
    Step {
        action,
        duration: Micros::from_millis(duration),
        sample_period_us: period * 1_000,
        report_every: 1,
        bounds: WIDE,
    }
}

/// A rest.
pub fn rest(duration: u64, period: u32) -> Step {
    step(Action::Rest, duration, period)
}

/// A hold.
pub fn hold(milliamps: i32, duration: u64, period: u32) -> Step {
    step(Action::Hold { current: MicroAmps::from_milliamps(milliamps) }, duration, period)
}

/// A discharge to 3 V of at most 12 h, sampled every 100 ms.
pub fn discharge(milliamps: i32) -> Step {
    let current = MicroAmps::from_milliamps(milliamps);
    let floor = MicroVolts::from_millivolts(3_000);
    step(Action::Discharge { current, floor }, 12 * 3_600_000, 100)
}

/// Plan number 1 for a cell of 4.35 V that may be loaded.
pub fn plan(steps: &[Step]) -> Plan {
    Plan {
        number: 1,
        charge_limit: MicroVolts::from_millivolts(4_350),
        permit: Permit::Load,
        steps: steps.iter().copied().collect(),
    }
}
