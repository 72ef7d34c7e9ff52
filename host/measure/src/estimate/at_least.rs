//! The charge that a cell has given while its voltage was still above its end: its capacity is that or more.
//!
//! Input: a measurement; output: a lower bound of the capacity with its uncertainty. It needs neither a full cell at the start nor an
//! empty one at the end, so a discharge can be ended as soon as the bound is enough. A faster current than 0.2 It only gives less, and
//! so does a cold cell: neither is added. A slower one gives more, and is taken off. The count stops where the voltage first
//! stays below its end, and what flowed in missing rows is left out.

use super::against_count::against_count;
use super::capacity::{
    REFERENCE_C, REFERENCE_SHARE, TEMPERATURE_SHARE, UNKNOWN_TEMPERATURE_K, over_rated, rate_share,
    refuse_unlikely, way_share,
};
use super::crossing::Lost;
use super::current_steps::CurrentSteps;
use super::discharge::{Discharge, OFF_ROWS, SAME_CURRENT, long_currents, range_of, usual_current};
use super::full_start::{FULL_MARGIN, NEARLY_FULL_MARGIN, TOP_SLOPE, rested};
use super::holes::holes;
use super::measurement::Measurement;
use super::median::median;
use super::{Conditions, Estimate, Quantity};
use crate::segment::{Kind, rest_limit};
use crate::si::{AmpHours, Amps, SECONDS_PER_HOUR, Volts};
use crate::trace::{BLOCK_ROWS, NoteKind, Point, Steps};
use crate::uncertainty::{Input, Measurand};
use std::ops::Range;

/// Less than this share of the rated charge says nothing that is worth telling (our choice).
const LEAST_SHARE: f64 = 0.25;
/// A cell that has given so much has fallen by more than this, also iron phosphate on its plateau; a voltage that has not is none
/// of the cell's (judged).
const LEAST_FALL: Volts = Volts(0.02);
/// The end of discharge counts as passed this many standard deviations of the voltage above it (our choice).
const CLEAR: f64 = 2.0;

/// Estimates the lower bound from the discharge that gives the highest.
pub(super) fn at_least(m: &Measurement<'_>, steps: &CurrentSteps) -> Result<Estimate, String> {
    if m.trace.notes.iter().any(|note| note.kind == NoteKind::Frozen) {
        return Err("a converter stood still for a part of the trace".to_owned());
    }
    let parts = first_loads(m).into_iter().filter_map(|load| Some((load, above_the_end(m, load)?)));
    let most = parts.reduce(|best, one| if one.1.charge > best.1.charge { one } else { best });
    let (load, part) = most.ok_or("the trace has no discharge")?;
    let share = part.charge.0 / m.nameplate.rated_capacity_ah;
    if share < LEAST_SHARE {
        return Err(format!(
            "{:.1} % of the rated charge were taken out above the end voltage",
            share * 100.0
        ));
    }
    steps.refuse_unanswered(part.end_time - part.duration, part.end_time)?;
    refuse_unlikely(m, part.charge)?;
    fell(m, &part)?;
    estimate(m, load, &part)
}

/// Estimates the same as a share of the rated capacity.
pub(super) fn share(m: &Measurement<'_>, at_least: Result<&Estimate, &str>) -> Result<Estimate, String> {
    let method = "charge taken out above the end voltage over rated capacity: the capacity is this or more";
    over_rated(m, at_least, "capacity, at least", Quantity::CapacityFractionAtLeast, method)
}

/// Returns the loads that a discharge can begin with: the first of the trace, and the first after each charge.
fn first_loads(m: &Measurement<'_>) -> Vec<usize> {
    let mut begun = false;
    let mut found = Vec::new();
    for (index, segment) in m.segments.iter().enumerate() {
        match segment.kind {
            Kind::Charge => begun = false,
            Kind::Load if !begun => {
                begun = true;
                found.push(index);
            }
            _ => {}
        }
    }
    found
}

/// Follows a discharge from a load on as long as its voltage stays above the end.
fn above_the_end(m: &Measurement<'_>, load: usize) -> Option<Discharge> {
    let start = m.segments.get(load)?;
    let end = m.nameplate.end_of_discharge_v;
    let doubt = (end * m.front_end.voltage_gain).hypot(m.front_end.voltage_offset.0);
    let above = end + CLEAR * doubt.hypot(m.voltage_noise.0);
    let limit = rest_limit(Some(m.nameplate));
    let points = &m.trace.points;
    let charge_from = m.segments.iter().skip(load).find(|segment| segment.kind == Kind::Charge);
    let until = charge_from.map_or(points.len(), |segment| segment.first);
    let (mut row, mut below) = (start.first, 0);
    while row < until {
        let block = points.block_from(row).filter(|_| row + BLOCK_ROWS <= until);
        if block.is_some_and(|block| block.voltages.extent.low > above) {
            (row, below) = (row + BLOCK_ROWS, 0);
            continue;
        }
        let point = points.get(row)?;
        row += 1;
        match (point.current > limit, point.voltage.0 > above) {
            (true, false) => below += 1,
            (true, true) => below = 0,
            (false, _) => {}
        }
        if below >= OFF_ROWS {
            break;
        }
    }
    let is_above = |point: &Point| point.current > limit && point.voltage.0 > above;
    let found = (start.first..row.min(until)).rev().find(|row| points.get(*row).is_some_and(is_above))?;
    counted(m, load, start.first..found + 1)
}

/// Counts what flowed in some rows.
fn counted(m: &Measurement<'_>, load: usize, range: Range<usize>) -> Option<Discharge> {
    let start = m.segments.get(load)?.start.time;
    let points = &m.trace.points;
    let last = points.get(range.end.checked_sub(1)?)?;
    let missing: f64 = holes(points, range.clone()).iter().map(|[a, b]| a.charge_until(b).0.max(0.0)).sum();
    let charge = m.gather::<Steps>(range.clone()).charged();
    let duration = last.time - start;
    let current = usual_current(m, load);
    let currents = range_of(long_currents(m, load, last.time), current);
    Some(Discharge {
        current,
        charge: AmpHours(charge.0 - missing),
        duration,
        end_time: last.time,
        in_gaps: AmpHours(missing),
        extrapolated: AmpHours(0.0),
        end_slope: 0.0,
        end_noise: Volts(0.0),
        interrupted: false,
        currents,
        faster_before: Vec::new(),
        lost: Lost::default(),
        range,
    })
}

/// Refuses a voltage that does not follow the charge.
fn fell(m: &Measurement<'_>, part: &Discharge) -> Result<(), String> {
    const ROWS: usize = 20;
    let points = m.trace.slice(part.range.clone());
    let middle = |rows: &[Point]| median(rows.iter().map(|point| point.voltage.0).collect());
    let some = ROWS.min(points.len());
    let begun = middle(points.get(..some).unwrap_or_default());
    let ended = middle(points.get(points.len() - some..).unwrap_or_default());
    if begun - ended < LEAST_FALL.0 {
        return Err(format!(
            "the voltage falls by only {:.0} mV while {:.4} Ah are taken out: it is not the cell's",
            (begun - ended) * 1e3,
            part.charge.0
        ));
    }
    Ok(())
}

/// Returns the currents of a discharge that clearly differ, that of most of its charge last.
fn levels(m: &Measurement<'_>, load: usize, part: &Discharge) -> Vec<Amps> {
    let mut others = long_currents(m, load, part.end_time);
    others.retain(|one| (one.0 / part.current.0 - 1.0).abs() > SAME_CURRENT);
    others.sort_by(|a, b| a.0.total_cmp(&b.0));
    others.dedup_by(|b, a| b.0 <= a.0 * (1.0 + SAME_CURRENT));
    others.push(part.current);
    others
}

fn estimate(m: &Measurement<'_>, load: usize, part: &Discharge) -> Result<Estimate, String> {
    let above = above_the_limit(m, load)?;
    let against = against_count(m, part, &levels(m, load, part), part.charge, own_count(m, part))?;
    let mut warnings = against.warnings;
    let slowest = part.currents.low / m.unit_current().0;
    let too_slow = (REFERENCE_SHARE - slowest).max(0.0);
    let [slope, slope_doubt] = rate_share(m.nameplate.chemistry);
    let temperature = m.cell_temperature(part.range.clone());
    let too_warm = temperature.map_or(UNKNOWN_TEMPERATURE_K, |cell| (cell.0 - REFERENCE_C[1]).max(0.0));
    let [breaks, counts, at_rest] = against.corrections;
    let inputs = [
        Input::new("charge as counted", "Ah", part.charge.0, 0.0),
        m.front_end.current_gain_error(),
        m.front_end.current_offset_error(),
        m.front_end.clock_error(),
        Input::new("slower than 0.2 It", "1", -slope * too_slow, slope_doubt * too_slow),
        Input::new("warmer than 25 degC", "1", 0.0, TEMPERATURE_SHARE * too_warm),
        Input::rectangular("way of the discharge", "1", 0.0, way_share(m.nameplate.chemistry)),
        Input::new("began above the limit", "1", 0.0, above),
        breaks,
        counts,
        at_rest,
    ];
    let hours = part.duration.0 / SECONDS_PER_HOUR;
    let whole = |[counted, gain, offset, clock, slow, warm, way, above, breaks, counts, at_rest]: [f64;
                     11]| {
        counted * (1.0 + gain + clock + slow + warm + way + above)
            + offset * hours
            + breaks
            + counts
            + at_rest
    };
    let budget = Measurand::new(inputs, whole).budget();
    let method =
        "charge counted while the voltage was above the end of discharge: the capacity is this or more";
    let mut estimate = Estimate::of(Quantity::CapacityAtLeast, budget, method);
    let at = m.trace.points.get(part.range.end - 1).map_or(0.0, |row| row.voltage.0);
    warnings.push(format!(
        "counted down to {at:.3} V; the end of discharge is {} V, so the cell holds this or more",
        m.nameplate.end_of_discharge_v
    ));
    estimate.conditions = Conditions {
        current_a: Some(part.current.0),
        duration_s: Some(part.duration.0),
        temperature_c: temperature.map(|cell| cell.0),
        ..Conditions::default()
    };
    estimate.warnings = warnings;
    Ok(estimate)
}

/// Returns what a start above the charge limit may have added, as a share; refuses one far above.
fn above_the_limit(m: &Measurement<'_>, load: usize) -> Result<f64, String> {
    let Some(voltage) = rested(m, load) else { return Ok(0.0) };
    let above = voltage - Volts(m.nameplate.charge_limit_v);
    if above > NEARLY_FULL_MARGIN {
        return Err(format!("the cell began {:.0} mV above its charge limit", above.0 * 1e3));
    }
    Ok((above.0 - FULL_MARGIN.0).max(0.0) / TOP_SLOPE.0)
}

/// Returns what the fixture counted meanwhile, by its total less what its samples say of before and after.
fn own_count(m: &Measurement<'_>, part: &Discharge) -> Option<AmpHours> {
    let total = m.trace.run.as_ref()?.counted_charge?;
    let before = m.gather::<Steps>(0..part.range.start + 1).charged();
    let after = m.gather::<Steps>(part.range.end - 1..m.trace.points.len()).charged();
    Some(total - before - after)
}
