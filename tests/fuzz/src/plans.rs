//! Plans: mostly such as a host makes, sometimes such as none should.

use arbitrary::{Result, Unstructured};
use celltriage_protocol::floors::Floors;
use celltriage_protocol::label::{CellLabel, CellPlan, Chemistry};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros};

/// Draws a plan and the label of its cell.
///
/// # Errors
/// The bytes to draw from are used up.
pub fn plan(choices: &mut Unstructured<'_>, number: u32) -> Result<CellPlan> {
    let chemistries =
        [Chemistry::Unknown, Chemistry::Lco, Chemistry::Nmc, Chemistry::Nca, Chemistry::Lmo, Chemistry::Lfp];
    let ends = [None, Some(2_000), Some(2_500), Some(2_750), Some(3_000), Some(3_200)];
    let label = CellLabel {
        chemistry: *choices.choose(&chemistries)?,
        end_of_discharge: choices.choose(&ends)?.map(MicroVolts::from_millivolts),
    };
    // Mostly a limit of the chemistry, sometimes one that contradicts it.
    let is_phosphate = (label.chemistry == Chemistry::Lfp) != choices.ratio(1, 8)?;
    let limits_mv = if is_phosphate { [3_600, 3_650, 3_650, 3_700] } else { [4_200, 4_350, 4_400, 4_450] };
    let mut plan = Plan {
        number,
        charge_limit: MicroVolts::from_millivolts(*choices.choose(&limits_mv)?),
        permit: if choices.ratio(15, 16)? { Permit::Load } else { Permit::WatchOnly },
        ..Plan::default()
    };
    for _ in 0..choices.int_in_range(1..=4)? {
        let _full = plan.steps.push(step(choices, label)?);
    }
    Ok(CellPlan { label, plan })
}

fn step(choices: &mut Unstructured<'_>, label: CellLabel) -> Result<Step> {
    let current = if choices.ratio(1, 16)? {
        MicroAmps::new(choices.arbitrary()?)
    } else {
        MicroAmps::from_milliamps(choices.int_in_range(15..=1_500)?)
    };
    let floor = if choices.ratio(1, 16)? {
        MicroVolts::new(choices.arbitrary()?)
    } else {
        MicroVolts::from_millivolts(choices.int_in_range(2_000..=3_600)?)
    };
    let action = match choices.int_in_range(0..=5)? {
        0 => Action::Rest,
        1..=2 => Action::Hold { current },
        3 => Action::Hold { current: MicroAmps::from_milliamps(choices.int_in_range(1_500..=5_500)?) },
        _ => Action::Discharge { current, floor },
    };
    let rests = action == Action::Rest;
    let lowest = if choices.ratio(1, 16)? {
        MicroVolts::new(choices.arbitrary()?)
    } else {
        Floors::of(label, action.current()).plan
    };
    let longest = if matches!(action, Action::Hold { current } if current > limits::LARGEST_STEADY) {
        2_000
    } else {
        9_000
    };
    Ok(Step {
        action,
        duration: Micros::from_millis(choices.int_in_range(1..=longest)?),
        sample_period_us: *choices.choose(&[1_000, 5_000, 10_000, 10_000, 50_000, 100_000])?,
        report_every: choices.int_in_range(1..=10)?,
        bounds: Bounds {
            lowest_voltage: if rests { MicroVolts::ZERO } else { lowest },
            highest_temperature: limits::HOTTEST,
            highest_rise: limits::LARGEST_RISE,
            most_charge: if choices.ratio(1, 8)? {
                MicroCoulombs::new(choices.arbitrary()?)
            } else {
                MicroCoulombs::MAX
            },
        },
    })
}
