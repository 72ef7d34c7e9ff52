//! The plans the host sends: a rest, a screen of about two and a half minutes, the same followed by a discharge.
//!
//! Currents follow IEC 61960-3 in units of It (rated capacity over one hour): 0.2 It and 1.0 It for the two-level
//! resistance, 0.2 It for capacity. Where the fixture cannot carry such a current, the nearest it can is used and the
//! deviation is reported. The host refuses what the fixture would refuse, before anything is sent.

mod error;
mod label;

pub use error::{PlanError, SMALLEST_AH};

use crate::nameplate::Nameplate;
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::floors::Floors;
use celltriage_protocol::label::CellLabel;
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};
use label::{check_floor, label_of, microvolts};

/// How much is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// Rest voltage and temperatures only, without any load: for a second visit, about two minutes.
    Rest,
    /// Rest voltage, resistances, temperatures: about two and a half minutes. Can reject, never proves capacity.
    Screen,
    /// The screen and a discharge at up to 0.5 It, then at 0.2 It, each to the end voltage, from a full charge. Whoever follows it ends
    /// it as soon as reuse is proven or can no longer be: about two hours.
    Proof,
    /// The screen and a full discharge at 0.2 It, the procedure of IEC 61960-3: about five hours, from a full charge.
    Full,
}

impl Extent {
    /// Returns whether it begins with a full cell and empties it.
    pub const fn discharges(self) -> bool {
        matches!(self, Self::Proof | Self::Full)
    }
}

/// Rest before the first load, and before and after the pulse.
const FIRST_REST: Micros = Micros::from_secs(60);
const REST_BETWEEN: Micros = Micros::from_secs(30);
/// A rest that is measured for itself.
const WATCHED_REST: Micros = Micros::from_secs(120);
/// Level times of the two-level method (IEC 61960-3, from memory: 10 s at 0.2 It, then 1 s at 1.0 It).
const FIRST_LEVEL: Micros = Micros::from_secs(10);
const SECOND_LEVEL: Micros = Micros::from_secs(1);
/// The longest instant at which resistance is reported.
const PULSE: Micros = Micros::from_secs(10);
/// The contact check: the first, small current once more after the larger ones, just long enough to be read at 1 s.
/// Small, large, small: what the current does to the resistance cancels, what the contacts do stays.
const CHECK: Micros = Micros::from_millis(1_200);
const REST_AFTER_CHECK: Micros = Micros::from_secs(15);
/// A discharge at 0.2 It takes five hours by definition; a cell above its rating gets two more. One at another current gets as many
/// times the charge.
const LONGEST_DISCHARGE: Micros = Micros::from_secs(7 * 3_600);
const LONGEST_SHARE: f64 = 1.4;
/// The first current of a proof, in It: a worn cell warms by more than the fixture allows at faster ones.
const PROOF_SHARE: f64 = 0.5;
/// It must be so many times the last one to be worth a stage of its own (our choice).
const WORTH_A_STAGE: f64 = 1.3;

/// A plan with what a person should know about it.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The plan.
    pub plan: Plan,
    /// What the label says of the cell, as far as the fixture's guard has to know it.
    pub label: CellLabel,
    /// The adapter between leads and cell, which the fixture is to know before.
    pub adapter: Option<Adapter>,
    /// Deviations from the standard's currents.
    pub deviations: Vec<String>,
    /// How long it should take.
    pub expected: Micros,
}

/// Makes the plan for a cell in the clips.
///
/// # Errors
/// Why the fixture cannot test such a cell at all.
pub fn plan(nameplate: &Nameplate, extent: Extent, number: u32) -> Result<Planned, PlanError> {
    plan_through(None, nameplate, extent, number)
}

/// Makes the plan for a cell behind an adapter, if there is one: no pulse is larger than it bears.
///
/// # Errors
/// Why the fixture cannot test such a cell at all.
pub fn plan_through(
    adapter: Option<Adapter>,
    nameplate: &Nameplate,
    extent: Extent,
    number: u32,
) -> Result<Planned, PlanError> {
    let (largest_pulse, carrier) = match adapter {
        Some(adapter) => (adapter.largest_pulse(), "the adapter"),
        None => (limits::LARGEST_PULSE, "the fixture"),
    };
    let it = nameplate.rated_capacity_ah;
    let mut deviations = Vec::new();
    let mut current = |share: f64, largest: MicroAmps, carrier: &str| {
        let wanted = share * it;
        let ceiling = f64::from(largest.get()) / 1e6;
        if wanted > ceiling {
            deviations.push(format!(
                "{share} It would be {wanted:.2} A; {carrier} carries {ceiling:.2} A for this step, which is {:.2} It",
                ceiling / it
            ));
        }
        MicroAmps::new((wanted.min(ceiling) * 1e6).round() as i32)
    };
    let low = current(0.2, limits::LARGEST_STEADY, "the fixture");
    let high = current(1.0, largest_pulse, carrier);
    let middle = current(PROOF_SHARE, limits::LARGEST_STEADY, "the fixture");
    if low < limits::SMALLEST_LOAD {
        return Err(PlanError::TooSmall { rated_capacity_ah: it, current: low });
    }
    if high.get() < low.get() + low.get() / 2 {
        return Err(PlanError::TooLarge { rated_capacity_ah: it });
    }
    let label = label_of(nameplate);
    let floor = microvolts(nameplate.end_of_discharge_v);
    check_floor(nameplate, label, floor, extent)?;
    // A charge bound of 1.5 times the rating ends a discharge that counts wrongly; no cell holds that much more.
    let bounds = |current| Bounds {
        lowest_voltage: Floors::of(label, current).plan,
        highest_temperature: limits::HOTTEST.saturating_sub(MilliCelsius::new(1_000)),
        highest_rise: limits::LARGEST_RISE.saturating_sub(MilliCelsius::new(500)),
        most_charge: MicroCoulombs::new((it * 1.5 * 3_600e6) as i64),
    };
    // At rest there is nothing to end early for a low voltage: the rest voltage is what is to be measured, and the guard
    // refuses the load that follows.
    let at_rest = Bounds { lowest_voltage: MicroVolts::new(i32::MIN), ..bounds(MicroAmps::ZERO) };
    let rest = |duration| Step {
        action: Action::Rest,
        duration,
        sample_period_us: 10_000,
        report_every: 10,
        bounds: at_rest,
    };
    let hold = |current, duration| Step {
        action: Action::Hold { current },
        duration,
        sample_period_us: limits::SHORTEST_PERIOD_US,
        report_every: 1,
        bounds: bounds(current),
    };
    if extent == Extent::Rest {
        let plan = Plan {
            number,
            charge_limit: microvolts(nameplate.charge_limit_v),
            permit: Permit::WatchOnly,
            steps: std::iter::once(rest(WATCHED_REST)).collect(),
        };
        return Ok(Planned { plan, label, adapter, deviations: Vec::new(), expected: WATCHED_REST });
    }
    let mut steps = vec![
        rest(FIRST_REST),
        hold(low, FIRST_LEVEL),
        hold(high, SECOND_LEVEL),
        rest(REST_BETWEEN),
        hold(middle, PULSE),
        rest(REST_BETWEEN),
        hold(low, CHECK),
        rest(REST_AFTER_CHECK),
    ];
    let mut expected: u64 = steps.iter().map(|step| step.duration.get()).sum();
    let hours = |current: MicroAmps| it / (f64::from(current.get()) / 1e6);
    let is_worth_a_stage = f64::from(middle.get()) >= WORTH_A_STAGE * f64::from(low.get());
    let currents: &[MicroAmps] = match extent {
        Extent::Proof if is_worth_a_stage => &[middle, low],
        Extent::Proof | Extent::Full => &[low],
        Extent::Screen | Extent::Rest => &[],
    };
    for &current in currents {
        let longest = Micros::new((LONGEST_SHARE * hours(current) * 3_600e6) as u64);
        steps.push(Step {
            action: Action::Discharge { current, floor },
            duration: longest.min(LONGEST_DISCHARGE),
            sample_period_us: limits::LONGEST_LOADED_PERIOD_US,
            report_every: 10,
            bounds: bounds(current),
        });
        steps.push(rest(REST_BETWEEN));
    }
    if let Some(&first) = currents.first() {
        expected += (hours(first) * 3_600e6) as u64 + REST_BETWEEN.get();
    }
    if let [first, last] = currents {
        deviations.push(format!(
            "the discharge is at {:.2} It to the end voltage and then at {:.2} It, ended as soon as the answer is known: not the \
             procedure of IEC 61960-3, which is 0.2 It throughout",
            f64::from(first.get()) / 1e6 / it,
            f64::from(last.get()) / 1e6 / it
        ));
    }
    let plan = Plan {
        number,
        charge_limit: microvolts(nameplate.charge_limit_v),
        permit: Permit::Load,
        steps: steps.into_iter().collect(),
    };
    Ok(Planned { plan, label, adapter, deviations, expected: Micros::new(expected) })
}

#[cfg(test)]
mod tests;
