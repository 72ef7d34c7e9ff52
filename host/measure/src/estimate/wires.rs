//! Says of each resistance whether leads and clips may be in it: with two wires they are, and nothing in the trace shows it.
//!
//! No number is changed: what leads and clips have may be anything. The cell has the number or less, so a resistance may keep
//! its limit and not break it. A fixture of ours measures with four; of an unknown instrument somebody must say so.

use super::sense_place::resistances;
use super::types::Estimates;
use super::{FrontEnd, Measurement};

/// What two leads with their clips have, in mOhm (common practice; half a metre of 0.75 mm2 has 12 there and back).
const LEADS_MILLIOHMS: [f64; 2] = [10.0, 100.0];

/// Puts it into conditions and warnings of all resistances.
pub(super) fn tell(wires: Option<u32>, m: &Measurement<'_>, estimates: &mut Estimates) {
    let Some(text) = words(wires, m.front_end) else { return };
    for quantity in resistances() {
        let Some(estimate) = estimates.measured.get_mut(&quantity) else { continue };
        estimate.conditions.with_leads = Some(true);
        estimate.warnings.push(text.clone());
    }
}

fn words(wires: Option<u32>, front_end: &FrontEnd) -> Option<String> {
    let [least, most] = LEADS_MILLIOHMS;
    let usual = format!("usually {least} to {most} mOhm: the cell has this number or less");
    match wires {
        Some(2) => Some(format!("two wires measured, as was said; leads and clips are in it, {usual}")),
        None if !front_end.is_known => {
            Some(format!("nobody said how many wires measured; with two, leads and clips are in it, {usual}"))
        }
        _ => None,
    }
}
