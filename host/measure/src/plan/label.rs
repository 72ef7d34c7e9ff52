//! The label as the fixture has to know it, and what the fixture would refuse about it.

use super::error::volts;
use super::{Extent, PlanError};
use crate::nameplate::{Chemistry, Nameplate};
use celltriage_protocol::floors::{Floors, lowest_end};
use celltriage_protocol::label::CellLabel;
use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroAmps, MicroVolts};

pub(super) fn microvolts(volts: f64) -> MicroVolts {
    MicroVolts::new((volts * 1e6).round() as i32)
}

/// What the fixture would refuse, in words; where no cell is emptied, an end of discharge that is only too low for the
/// fixture does no harm.
pub(super) fn check_floor(
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
    let is_refused = floor < lowest && (chemistry != Chemistry::LithiumIon || extent.discharges());
    if is_refused {
        return Err(PlanError::FloorTooLow { end_of_discharge_v, lowest_v: volts(lowest), chemistry });
    }
    if extent.discharges() && floor < Floors::of(label, MicroAmps::ZERO).plan {
        return Err(PlanError::FloorNotTold { end_of_discharge_v });
    }
    Ok(())
}

pub(super) fn label_of(nameplate: &Nameplate) -> CellLabel {
    let end = microvolts(nameplate.end_of_discharge_v);
    CellLabel {
        chemistry: nameplate.chemistry.into(),
        // A usual figure is none of the label's: no floor is lowered on an assumption.
        end_of_discharge: (!nameplate.end_of_discharge_assumed).then_some(end),
    }
}
