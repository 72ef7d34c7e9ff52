//! The plans the host sends: a rest, a screen of about two and a half minutes, the same followed by a full discharge.
//!
//! Currents follow IEC 61960-3 in units of It (rated capacity over one hour): 0.2 It and 1.0 It for the two-level
//! resistance, 0.2 It for capacity. Where the fixture cannot carry such a current, the nearest it can is used and the
//! deviation is reported. The host refuses what the fixture would refuse, before anything is sent.

use crate::nameplate::{Chemistry, Nameplate};
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::floors::{Floors, lowest_end};
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
    /// The adapter between leads and cell, which the fixture is to know before.
    pub adapter: Option<Adapter>,
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

const fn volts(voltage: MicroVolts) -> f64 {
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
    let middle = current(0.5, limits::LARGEST_STEADY, "the fixture");
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
    if extent == Extent::Full {
        steps.push(Step {
            action: Action::Discharge { current: low, floor },
            duration: LONGEST_DISCHARGE,
            sample_period_us: limits::LONGEST_LOADED_PERIOD_US,
            report_every: 10,
            bounds: bounds(low),
        });
        steps.push(rest(REST_BETWEEN));
        let hours = it / (f64::from(low.get()) / 1e6);
        expected += (hours * 3_600e6) as u64 + REST_BETWEEN.get();
    }
    let plan = Plan {
        number,
        charge_limit: microvolts(nameplate.charge_limit_v),
        permit: Permit::Load,
        steps: steps.into_iter().collect(),
    };
    Ok(Planned { plan, label, adapter, deviations, expected: Micros::new(expected) })
}

fn microvolts(volts: f64) -> MicroVolts {
    MicroVolts::new((volts * 1e6).round() as i32)
}

/// What the fixture would refuse, in words; where no cell is emptied, an end of discharge that is only too low for the
/// fixture does no harm.
fn check_floor(
    nameplate: &Nameplate,
    label: CellLabel,
    floor: MicroVolts,
    extent: Extent,
) -> Result<(), PlanError> {
    let Nameplate { chemistry, charge_limit_v, end_of_discharge_v, .. } = *nameplate;
    if chemistry == Chemistry::Lfp && microvolts(charge_limit_v) > limits::HIGHEST_LFP_CHARGE_LIMIT {
        return Err(PlanError::NoPhosphate { charge_limit_v });
    }
    let lowest = lowest_end(label.chemistry);
    let is_refused = floor < lowest && (chemistry != Chemistry::LithiumIon || extent == Extent::Full);
    if is_refused {
        return Err(PlanError::FloorTooLow { end_of_discharge_v, lowest_v: volts(lowest), chemistry });
    }
    if extent == Extent::Full && floor < Floors::of(label, MicroAmps::ZERO).plan {
        return Err(PlanError::FloorNotTold { end_of_discharge_v });
    }
    Ok(())
}

fn label_of(nameplate: &Nameplate) -> CellLabel {
    let end = microvolts(nameplate.end_of_discharge_v);
    CellLabel {
        chemistry: match nameplate.chemistry {
            Chemistry::LithiumIon => label::Chemistry::Unknown,
            Chemistry::Lco => label::Chemistry::Lco,
            Chemistry::Nmc => label::Chemistry::Nmc,
            Chemistry::Nca => label::Chemistry::Nca,
            Chemistry::Lmo => label::Chemistry::Lmo,
            Chemistry::Lfp => label::Chemistry::Lfp,
        },
        // A usual figure is none of the label's: no floor is lowered on an assumption.
        end_of_discharge: (!nameplate.end_of_discharge_assumed).then_some(end),
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
            end_of_discharge_assumed: false,
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
    fn through_an_adapter_no_pulse_is_larger_than_it_bears_and_that_is_told() {
        let adapter = Adapter { id: 7, ..Adapter::NONE };
        for (rated_ah, deviations) in [(2.0, 0), (3.0, 0), (4.0, 1)] {
            let planned = plan_through(Some(adapter), &cell(rated_ah), Extent::Screen, 1).unwrap();
            let largest = planned.plan.steps.iter().map(|step| step.action.current()).max().unwrap();
            assert!(largest <= limits::LARGEST_ADAPTER_PULSE, "{rated_ah}: {largest}");
            assert_eq!(planned.deviations.len(), deviations, "{:?}", planned.deviations);
            assert_eq!(planned.adapter, Some(adapter));
        }
        let planned = plan_through(Some(adapter), &cell(4.0), Extent::Screen, 1).unwrap();
        assert!(planned.deviations[0].contains("the adapter carries 3.00 A"), "{:?}", planned.deviations);
    }

    #[test]
    fn cells_out_of_the_fixtures_reach_are_refused_before_anything_is_sent() {
        let refused = |cell: &Nameplate| plan(cell, Extent::Full, 1).unwrap_err();
        let small = refused(&cell(0.05));
        assert!(matches!(small, PlanError::TooSmall { .. }) && small.to_string().contains("too small"));
        assert!(small.to_string().contains("from 0.075 Ah on"), "{small}");
    }

    fn ending_at(chemistry: Chemistry, end_of_discharge_v: f64) -> Nameplate {
        let charge_limit_v = if chemistry == Chemistry::Lfp { 3.65 } else { 4.2 };
        Nameplate { chemistry, end_of_discharge_v, charge_limit_v, ..cell(2.0) }
    }

    /// Chemistry, end of discharge, lowest floor of a full plan in mV, or the words of the refusal.
    #[test]
    fn a_full_discharge_ends_where_the_label_says_or_is_refused_with_what_to_do() {
        use Chemistry::{Lco, Lfp, LithiumIon, Lmo, Nca, Nmc};
        for (chemistry, end_v, expected) in [
            (LithiumIon, 3.0, Ok(2_600)),
            (LithiumIon, 2.5, Err("chemistry is not told to; give the chemistry")),
            (Lfp, 2.0, Ok(2_000)),
            (Lfp, 2.5, Ok(2_500)),
            (Lfp, 2.8, Ok(2_600)),
            (Lfp, 1.99, Err("2.00 V this fixture discharges iron phosphate to; give a higher")),
            (Lco, 2.75, Ok(2_600)),
            (Nmc, 2.5, Ok(2_500)),
            (Nca, 2.5, Ok(2_500)),
            (Lmo, 2.5, Ok(2_500)),
            (Nmc, 2.0, Err("an end-of-discharge voltage of 2.00 V is below the 2.50 V")),
        ] {
            let nameplate = ending_at(chemistry, end_v);
            match (plan(&nameplate, Extent::Full, 1), expected) {
                (Ok(planned), Ok(lowest_mv)) => {
                    let floors: Vec<_> =
                        planned.plan.steps.iter().filter(|s| s.action != Action::Rest).collect();
                    let lowest = floors.iter().map(|step| step.bounds.lowest_voltage).min().unwrap();
                    assert_eq!(lowest, MicroVolts::from_millivolts(lowest_mv), "{chemistry:?} {end_v}");
                    // The pulse of 1 It is above the steady current.
                    assert_eq!(floors[1].bounds.lowest_voltage, limits::LOWEST_PLAN_FLOOR);
                    let end = MicroVolts::new((end_v * 1e6) as i32);
                    assert!(matches!(floors[4].action, Action::Discharge { floor, .. } if floor == end));
                    assert_eq!(planned.label.end_of_discharge, Some(end));
                }
                (Err(refused), Err(words)) => assert!(refused.to_string().contains(words), "{refused}"),
                (found, _) => panic!("{chemistry:?} {end_v}: {found:?}"),
            }
        }
    }

    #[test]
    fn what_empties_no_cell_is_not_refused_for_an_end_that_is_not_reached() {
        for extent in [Extent::Rest, Extent::Screen] {
            let planned = plan(&ending_at(Chemistry::LithiumIon, 2.5), extent, 1).unwrap();
            let loads = planned.plan.steps.iter().filter(|step| step.action != Action::Rest);
            assert!(loads.map(|step| step.bounds.lowest_voltage).all(|low| low == limits::LOWEST_PLAN_FLOOR));
            // The fixture would refuse the label whatever the plan.
            assert!(plan(&ending_at(Chemistry::Nmc, 2.0), extent, 1).is_err());
        }
    }

    #[test]
    fn no_floor_is_lowered_on_an_assumption_or_for_a_label_that_contradicts_itself() {
        let assumed = Nameplate { end_of_discharge_assumed: true, ..ending_at(Chemistry::Lfp, 2.5) };
        let refused = plan(&assumed, Extent::Full, 1).unwrap_err().to_string();
        assert!(refused.contains("gives no end-of-discharge voltage"), "{refused}");
        let screened = plan(&assumed, Extent::Screen, 1).unwrap();
        assert_eq!(screened.label.end_of_discharge, None);
        let usual = Nameplate { end_of_discharge_assumed: true, ..cell(2.0) };
        assert!(plan(&usual, Extent::Full, 1).is_ok());
        let other = Nameplate { charge_limit_v: 4.2, ..ending_at(Chemistry::Lfp, 2.0) };
        assert!(plan(&other, Extent::Rest, 1).unwrap_err().to_string().contains("3.70 V of iron phosphate"));
    }
}
