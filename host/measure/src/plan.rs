//! The plans the host sends: a rest, a screen of about two and a half minutes, the same followed by a full discharge.
//!
//! Currents follow IEC 61960-3 in units of It (rated capacity over one hour): 0.2 It and 1.0 It for the two-level
//! resistance, 0.2 It for capacity. Where the fixture cannot carry such a current, the nearest it can is used and the
//! deviation is reported. The host refuses what the fixture would refuse, before anything is sent.

use crate::nameplate::{Chemistry, Nameplate};
use celltriage_protocol::label::{self, CellLabel};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};

/// How much is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// Rest voltage and temperatures only, without any load: for a second visit, about two minutes.
    Rest,
    /// Rest voltage, resistances, temperatures: about two and a half minutes. Can reject, never proves capacity.
    Screen,
    /// The screen and a full discharge at 0.2 It: about five hours, from a full charge.
    Full,
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
/// A discharge at 0.2 It takes five hours by definition; a cell above its rating gets two more.
const LONGEST_DISCHARGE: Micros = Micros::from_secs(7 * 3_600);

/// A plan with what a person should know about it.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The plan.
    pub plan: Plan,
    /// What the label says of the cell, as far as the fixture's guard has to know it.
    pub label: CellLabel,
    /// Deviations from the standard's currents.
    pub deviations: Vec<String>,
    /// How long it should take.
    pub expected: Micros,
}

/// Why the fixture cannot test a cell at all.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Its 0.2 It is less than the fixture regulates.
    #[error(
        "a cell of {rated_capacity_ah} Ah is too small for this fixture: 0.2 It is {current} and the least it regulates is {}",
        limits::SMALLEST_LOAD
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
    /// Its discharge ends below the lowest voltage that the fixture discharges to.
    #[error(
        "an end-of-discharge voltage of {end_of_discharge_v:.2} V is below the {:.2} V this fixture discharges to",
        f64::from(limits::LOWEST_PLAN_FLOOR.get()) / 1e6
    )]
    FloorTooLow {
        /// End-of-discharge voltage of the cell in V.
        end_of_discharge_v: f64,
    },
}

/// Makes the plan for a cell.
///
/// # Errors
/// Why the fixture cannot test such a cell at all.
pub fn plan(nameplate: &Nameplate, extent: Extent, number: u32) -> Result<Planned, PlanError> {
    let it = nameplate.rated_capacity_ah;
    let mut deviations = Vec::new();
    let mut current = |share: f64, largest: MicroAmps| {
        let wanted = share * it;
        let ceiling = f64::from(largest.get()) / 1e6;
        if wanted > ceiling {
            deviations.push(format!(
                "{share} It would be {wanted:.2} A; the fixture carries {ceiling:.2} A for this step, which is {:.2} It",
                ceiling / it
            ));
        }
        MicroAmps::new((wanted.min(ceiling) * 1e6).round() as i32)
    };
    let low = current(0.2, limits::LARGEST_STEADY);
    let high = current(1.0, limits::LARGEST_PULSE);
    let middle = current(0.5, limits::LARGEST_STEADY);
    if low < limits::SMALLEST_LOAD {
        return Err(PlanError::TooSmall { rated_capacity_ah: it, current: low });
    }
    if high.get() < low.get() + low.get() / 2 {
        return Err(PlanError::TooLarge { rated_capacity_ah: it });
    }
    let floor = MicroVolts::new((nameplate.end_of_discharge_v * 1e6).round() as i32);
    if floor < limits::LOWEST_PLAN_FLOOR {
        return Err(PlanError::FloorTooLow { end_of_discharge_v: nameplate.end_of_discharge_v });
    }
    // A charge bound of 1.5 times the rating ends a discharge that counts wrongly; no cell holds that much more.
    let bounds = Bounds {
        lowest_voltage: limits::LOWEST_PLAN_FLOOR,
        highest_temperature: limits::HOTTEST.saturating_sub(MilliCelsius::new(1_000)),
        highest_rise: limits::LARGEST_RISE.saturating_sub(MilliCelsius::new(500)),
        most_charge: MicroCoulombs::new((it * 1.5 * 3_600e6) as i64),
    };
    // At rest there is nothing to end early for a low voltage: the rest voltage is what is to be measured, and the guard
    // refuses the load that follows.
    let at_rest = Bounds { lowest_voltage: MicroVolts::new(i32::MIN), ..bounds };
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
        bounds,
    };
    if extent == Extent::Rest {
        let plan = Plan {
            number,
            charge_limit: MicroVolts::new((nameplate.charge_limit_v * 1e6).round() as i32),
            permit: Permit::WatchOnly,
            steps: std::iter::once(rest(WATCHED_REST)).collect(),
        };
        return Ok(Planned {
            plan,
            label: label_of(nameplate),
            deviations: Vec::new(),
            expected: WATCHED_REST,
        });
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
    if extent == Extent::Full {
        steps.push(Step {
            action: Action::Discharge { current: low, floor },
            duration: LONGEST_DISCHARGE,
            sample_period_us: limits::LONGEST_LOADED_PERIOD_US,
            report_every: 10,
            bounds,
        });
        steps.push(rest(REST_BETWEEN));
        let hours = it / (f64::from(low.get()) / 1e6);
        expected += (hours * 3_600e6) as u64 + REST_BETWEEN.get();
    }
    let plan = Plan {
        number,
        charge_limit: MicroVolts::new((nameplate.charge_limit_v * 1e6).round() as i32),
        permit: Permit::Load,
        steps: steps.into_iter().collect(),
    };
    Ok(Planned { plan, label: label_of(nameplate), deviations, expected: Micros::new(expected) })
}

fn label_of(nameplate: &Nameplate) -> CellLabel {
    CellLabel {
        chemistry: match nameplate.chemistry {
            Chemistry::LithiumIon => label::Chemistry::Unknown,
            Chemistry::Lco => label::Chemistry::Lco,
            Chemistry::Nmc => label::Chemistry::Nmc,
            Chemistry::Nca => label::Chemistry::Nca,
            Chemistry::Lmo => label::Chemistry::Lmo,
            Chemistry::Lfp => label::Chemistry::Lfp,
        },
        end_of_discharge: Some(MicroVolts::new((nameplate.end_of_discharge_v * 1e6).round() as i32)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nameplate::{Chemistry, Form};

    fn cell(rated_capacity_ah: f64) -> Nameplate {
        Nameplate {
            model: None,
            rated_capacity_ah,
            charge_limit_v: 4.35,
            end_of_discharge_v: 3.0,
            nominal_v: None,
            nominal_thickness_mm: None,
            thickness_from: Default::default(),
            chemistry: Chemistry::LithiumIon,
            form: Form::Unknown,
            mass_g: None,
            warnings: Vec::new(),
        }
    }

    #[test]
    fn currents_are_those_of_the_standard_where_the_fixture_can() {
        let planned = plan(&cell(2.0), Extent::Full, 1).unwrap();
        let currents: Vec<i32> = planned.plan.steps.iter().map(|s| s.action.current().get()).collect();
        assert_eq!(currents, [0, 400_000, 2_000_000, 0, 1_000_000, 0, 400_000, 0, 400_000, 0]);
        assert!(planned.deviations.is_empty());
        let screen = 60 + 10 + 1 + 30 + 10 + 30 + 1 + 15;
        assert_eq!(planned.expected.get() / 1_000_000, screen + 5 * 3_600 + 30);
    }

    #[test]
    fn a_rest_is_measured_without_permit_to_load() {
        let planned = plan(&cell(2.0), Extent::Rest, 1).unwrap();
        assert_eq!(planned.plan.permit, Permit::WatchOnly);
        assert!(planned.plan.steps.iter().all(|step| step.action.current().get() == 0));
    }

    #[test]
    fn a_current_the_fixture_cannot_carry_is_cut_and_told() {
        let planned = plan(&cell(7.0), Extent::Screen, 1).unwrap();
        assert_eq!(planned.plan.steps[2].action.current(), limits::LARGEST_PULSE);
        assert_eq!(planned.deviations.len(), 2, "{:?}", planned.deviations);
        assert!(planned.deviations[0].contains("7.00 A"), "{:?}", planned.deviations);
    }

    #[test]
    fn cells_out_of_the_fixtures_reach_are_refused_before_anything_is_sent() {
        let refused = |cell: &Nameplate| plan(cell, Extent::Full, 1).unwrap_err();
        let small = refused(&cell(0.05));
        assert!(matches!(small, PlanError::TooSmall { .. }) && small.to_string().contains("too small"));
        let mut deep = cell(2.0);
        deep.end_of_discharge_v = 2.0;
        assert!(
            refused(&deep).to_string().starts_with("an end-of-discharge voltage of 2.00 V is below the ")
        );
    }
}
