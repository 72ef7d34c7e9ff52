//! A plan of a few seconds, and what a host has heard of it.

use celltriage_protocol::event::Event;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};

/// Returns a plan that rests for 2 s, holds 0.6 A for 3 s with a sample each so many microseconds, and rests again.
pub fn short_plan(sample_period_us: u32) -> Plan {
    let bounds = Bounds {
        lowest_voltage: MicroVolts::from_millivolts(2_800),
        highest_temperature: MilliCelsius::new(40_000),
        highest_rise: MilliCelsius::new(6_000),
        most_charge: MicroCoulombs::new(1_000_000_000),
    };
    let rest = Step {
        action: Action::Rest,
        duration: Micros::from_secs(2),
        sample_period_us: 10_000,
        report_every: 10,
        bounds,
    };
    let hold = Step {
        action: Action::Hold { current: MicroAmps::from_milliamps(600) },
        duration: Micros::from_secs(3),
        sample_period_us,
        report_every: 1,
        bounds,
    };
    Plan {
        number: 42,
        charge_limit: MicroVolts::from_millivolts(4_350),
        permit: Permit::Load,
        steps: [rest, hold, rest].into_iter().collect(),
    }
}

/// A plan of 12 s, 8 s of which under load: longer than the fixture bears a silence that begins in its middle.
pub fn long_hold() -> Plan {
    let mut plan = short_plan(10_000);
    plan.steps[1].duration = Micros::from_secs(8);
    plan
}

/// Returns how many samples these events hold.
pub fn samples(events: &[Event]) -> usize {
    let counts = events.iter().map(|event| match event {
        Event::Samples(block) => usize::from(block.count),
        _ => 0,
    });
    counts.sum()
}
