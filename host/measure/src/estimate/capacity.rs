//! Capacity: the charge a full cell gives until its end-of-discharge voltage. Nothing less is called capacity.
//!
//! Takes a discharge at about 0.2 It (IEC 61960-3 clause 7.3.1, from memory) that begins full and reaches the voltage on
//! the label. The charge is the trapezoid of current over time up to the crossing, which is interpolated; where rows are
//! missing, the fixture's own counter takes its place, or the number is refused.

use super::against_count::against_count;
use super::current_steps::CurrentSteps;
use super::discharge::Discharge;
use super::full_start::{Before, start};
use super::measurement::Measurement;
use super::rate_loss::rate_loss;
use super::step_down::staged;
use super::{Conditions, Estimate, Quantity};
use crate::nameplate::Chemistry;
use crate::segment::Kind;
use crate::si::{AmpHours, Amps, SECONDS_PER_HOUR, Seconds};
use crate::trace::ValueRange;
use crate::uncertainty::{Input, Measurand};
use celltriage_protocol::event::StepEnd;

/// By which share of itself a capacity falls per It of current, and how well that is known. Five published cells, new and aged
/// in two ways, run by PyBaMM's DFN model from 0.02 to 0.55 It: 0.6 to 6 % per It on either side of 0.2 It, 2.8 in the mean,
/// and within 0.3 % straight; measured cells gave 2.1 % less at 0.5 It than at 0.2, which is 7; worn ones of the tables of phones, of
/// twice the usual resistance, up to 24 (`tests/population`). Where a rest follows a faster discharge, the cell tells it itself
/// (`rate_loss.rs`).
const RATE_SHARE: f64 = 0.07;
const RATE_SHARE_DOUBT: f64 = 0.045;
/// The same of iron phosphate: a published model of one (Prada2013) gives 5 to 6 % less at 0.5 It than at 0.2, new and aged, which is 16
/// to 20 % per It; makers' curves show a few per cent (from memory).
const LFP_RATE_SHARE: f64 = 0.11;
const LFP_RATE_SHARE_DOUBT: f64 = 0.055;
/// The current that a capacity belongs to, as a share of It.
pub(super) const REFERENCE_SHARE: f64 = 0.2;
/// The same per kelvin outside the standard's temperature (from memory: 0.5 % per kelvin below 20 degC), and how far
/// outside a cell without a thermometer is taken to be.
pub(super) const TEMPERATURE_SHARE: f64 = 0.005;
pub(super) const REFERENCE_C: [f64; 2] = [20.0, 25.0];
pub(super) const UNKNOWN_TEMPERATURE_K: f64 = 3.0;
/// Half the width of what a discharge in stages may give other than one at its last current alone, as a share, and the same of iron
/// phosphate. Six published cells, new and aged, from 1 It and from 0.5 It: see `tests/reference/step_down.py`.
const STAGES_SHARE: f64 = 0.003;
const LFP_STAGES_SHARE: f64 = 0.005;
/// Currents that need no warning, as shares of It.
const USUAL_SHARE: [f64; 2] = [0.18, 0.22];
/// Currents of one discharge that differ by more than this share are not a constant current (judged).
const ONE_CURRENT: f64 = 0.1;
/// Charge that may lie in missing rows, as a share of the rated capacity.
const MOST_IN_GAPS: f64 = 0.01;
/// Capacities, as shares of the rated one, that a unit explains better than a cell does: minutes taken for seconds give a
/// sixtieth, seconds for hours 3600 times as much. A cell so worn is not plausible, and none is so much better
/// (judged).
const LIKELY_SHARE: [f64; 2] = [0.05, 3.0];

/// Where a charger ends: with the current down to 0.02 or to 0.1 It about 1 % of the charge lies between (judged), and the
/// rest voltage tells no such difference between cells of one class.
const CHARGER_SHARE: f64 = 0.003;

/// Estimates the capacity; `before` is what a person said of the cell before.
pub(super) fn capacity(
    m: &Measurement<'_>,
    steps: &CurrentSteps,
    before: Before,
) -> Result<Estimate, String> {
    let loads =
        (0..m.segments.len()).filter(|index| m.segments.get(*index).is_some_and(|s| s.kind == Kind::Load));
    let mut why = "the trace has no discharge".to_owned();
    let mut largest = (false, 0.0);
    for load in loads {
        match from_load(m, steps, load, before) {
            Ok(estimate) => return Ok(estimate),
            Err(this) => {
                // The reason of the longest load that began full is the one to tell; short pulses are not attempts.
                let charge = m.segments.get(load).map_or(0.0, |s| (s.current * s.duration()).0);
                let began_full =
                    start(m, load, m.segments.get(load).map_or(Amps(0.0), |s| s.current), before).is_ok();
                if (began_full, charge) > largest {
                    largest = (began_full, charge);
                    why = this;
                }
            }
        }
    }
    Err(format!("no full discharge: {why}"))
}

/// Estimates the share of the rated capacity.
pub(super) fn capacity_fraction(
    m: &Measurement<'_>,
    capacity: Result<&Estimate, &str>,
) -> Result<Estimate, String> {
    over_rated(m, capacity, "capacity", Quantity::CapacityFraction, "capacity over rated capacity")
}

/// Sets a charge over the rated capacity; `name` is that of its line in the budget.
pub(super) fn over_rated(
    m: &Measurement<'_>,
    charge: Result<&Estimate, &str>,
    name: &'static str,
    quantity: Quantity,
    method: &str,
) -> Result<Estimate, String> {
    let charge = charge.map_err(str::to_owned)?;
    let rated = m.nameplate.rated_capacity_ah;
    let inputs = [
        charge.as_input(name, "Ah"),
        // A figure agreed upon, not a measured one.
        Input::new("rated capacity", "Ah", rated, 0.0),
    ];
    let budget = Measurand::new(inputs, |[charge, rated]| charge / rated).budget();
    let mut estimate = Estimate::of(quantity, budget, method);
    estimate.conditions = charge.conditions.clone();
    estimate.warnings = charge.warnings.clone();
    Ok(estimate)
}

fn from_load(
    m: &Measurement<'_>,
    steps: &CurrentSteps,
    load: usize,
    before: Before,
) -> Result<Estimate, String> {
    let discharge = staged(m, steps, load)?;
    let start = start(m, load, first_current(m, load, &discharge), before)?;
    let rated = AmpHours(m.nameplate.rated_capacity_ah);
    let mut warnings: Vec<String> = start.warning.into_iter().collect();

    let mut charge = discharge.charge;
    let mut in_gaps = discharge.in_gaps;
    let own_count = counted(m, discharge.end_time - discharge.duration, discharge.end_time);
    let mut clock = m.front_end.clock_error();
    if let Some(counted) = own_count.filter(|_| in_gaps.0 > MOST_IN_GAPS * rated.0) {
        warnings.push(format!("rows are missing; the fixture's own count is used ({:.4} Ah)", counted.0));
        charge = counted;
        clock = m.front_end.counter_clock_error();
        in_gaps = AmpHours(0.0);
    }
    if in_gaps.0 > MOST_IN_GAPS * rated.0 {
        return Err(format!(
            "{} during the discharge; {:.1} % of the rated charge may or may not have flowed meanwhile",
            if discharge.lost.rows > 0 { "a contact was lost" } else { "rows are missing" },
            in_gaps / rated * 100.0
        ));
    }
    refuse_unlikely(m, charge)?;
    let levels: Vec<Amps> = discharge.faster_before.iter().copied().chain([discharge.current]).collect();
    let against = against_count(m, &discharge, &levels, charge, own_count)?;
    warnings.extend(against.warnings);
    let share = discharge.current / m.unit_current();
    // On the plateau of iron phosphate the voltage says little of what slow processes keep back.
    let tells_itself = share > USUAL_SHARE[1]
        && discharge.faster_before.is_empty()
        && m.nameplate.chemistry != Chemistry::Lfp;
    let reference = m.unit_current() * REFERENCE_SHARE;
    let by_itself = tells_itself.then(|| rate_loss(m, &discharge, reference)).flatten();
    let (other_rate, rate_doubt) = by_itself
        .unwrap_or_else(|| other_rate(share, &discharge.currents, m.unit_current(), m.nameplate.chemistry));
    if !(USUAL_SHARE[0]..=USUAL_SHARE[1]).contains(&share) {
        warnings.push(format!(
            "discharged at {share:.2} It where 0.2 It is usual; faster gives less, slower more: {:+.1} % are allowed for that",
            other_rate * 100.0
        ));
    }
    warnings.extend(what_happened(m, &discharge));
    let range = discharge.range.clone();
    let temperature = m.cell_temperature(range);
    match temperature {
        None => warnings.push("the cell's temperature was not measured".to_owned()),
        Some(cell) if !(15.0..=30.0).contains(&cell.0) => {
            warnings.push(format!("discharged at {:.1} degC where 20 to 25 degC is usual", cell.0));
        }
        Some(_) => {}
    }
    let hours = discharge.duration.0 / SECONDS_PER_HOUR;
    let at_end = {
        let end = m.nameplate.end_of_discharge_v;
        let off = (end * m.front_end.voltage_gain).hypot(m.front_end.voltage_offset.0);
        let off = off.hypot(discharge.end_noise.0);
        let seconds = Seconds(off / discharge.end_slope.abs());
        (discharge.current * seconds).0
    };
    let too_far = temperature.map_or(UNKNOWN_TEMPERATURE_K, |cell| {
        (REFERENCE_C[0] - cell.0).max(cell.0 - REFERENCE_C[1]).max(0.0)
    });
    let [breaks, counts, at_rest] = against.corrections;
    let inputs = [
        Input::new("charge as counted", "Ah", charge.0, 0.0),
        m.front_end.current_gain_error(),
        m.front_end.current_offset_error(),
        Input::new("rate other than 0.2 It", "1", other_rate, rate_doubt),
        Input::new("temperature outside 20 to 25 degC", "1", 0.0, TEMPERATURE_SHARE * too_far),
        Input::new("moment of the end voltage", "Ah", 0.0, at_end),
        Input::new("how full it began", "1", start.lacked, start.doubt.hypot(CHARGER_SHARE)),
        Input::rectangular("missing rows", "Ah", 0.0, in_gaps.0),
        Input::new("charge past the last row", "Ah", 0.0, discharge.extrapolated.0),
        clock,
        breaks,
        counts,
        at_rest,
        Input::rectangular("faster stages before", "1", 0.0, after_faster(m, &discharge)),
    ];
    let whole = |[
        counted,
        gain,
        offset,
        rate,
        warmth,
        end,
        full,
        gaps,
        past,
        clock,
        breaks,
        counts,
        at_rest,
        stages,
    ]: [f64; 14]| {
        counted * (1.0 + gain + clock + rate + warmth + full + stages)
            + offset * hours
            + end
            + gaps
            + past
            + breaks
            + counts
            + at_rest
    };
    let budget = Measurand::new(inputs, whole).budget();
    let method = if discharge.faster_before.is_empty() {
        "charge from full to the end-of-discharge voltage, trapezoid of current over time, IEC 61960-3"
    } else {
        "charge from full to the end-of-discharge voltage, trapezoid of current over time; faster stages first, which is not the \
         procedure of IEC 61960-3 and ends in the same state"
    };
    let mut estimate = Estimate::of(Quantity::Capacity, budget, method);
    estimate.conditions = Conditions {
        current_a: Some(discharge.current.0),
        second_current_a: None,
        duration_s: Some(discharge.duration.0),
        temperature_c: temperature.map(|cell| cell.0),
        rest_voltage_v: start.rest_voltage,
        ..Conditions::default()
    };
    estimate.warnings = warnings;
    Ok(estimate)
}

/// Returns what a capacity at 0.2 It is larger by than one at another current, as a share, and the standard uncertainty of that;
/// `currents` are those of all longer parts of the discharge.
pub(super) fn other_rate(share: f64, currents: &ValueRange, unit: Amps, chemistry: Chemistry) -> (f64, f64) {
    let [slope, slope_doubt] = rate_share(chemistry);
    let off = |current: f64| (current / unit.0 - REFERENCE_SHARE).abs();
    let furthest = off(currents.low).max(off(currents.high));
    let apart = (currents.high - currents.low) / unit.0 / 2.0;
    let allowed = slope * (share - REFERENCE_SHARE);
    (allowed, (slope_doubt * furthest).hypot(slope * apart))
}

/// Returns by which share of itself a capacity falls per It of current, and how well that is known.
pub(super) const fn rate_share(chemistry: Chemistry) -> [f64; 2] {
    match chemistry {
        Chemistry::Lfp => [LFP_RATE_SHARE, LFP_RATE_SHARE_DOUBT],
        _ => [RATE_SHARE, RATE_SHARE_DOUBT],
    }
}

/// Returns the current that a discharge began with.
fn first_current(m: &Measurement<'_>, load: usize, discharge: &Discharge) -> Amps {
    let in_stages = !discharge.faster_before.is_empty();
    let first = m.segments.get(load).filter(|_| in_stages).map(|segment| segment.current);
    first.unwrap_or(discharge.current)
}

/// Returns half the width of what faster stages before the last one may have changed, as a share.
fn after_faster(m: &Measurement<'_>, discharge: &Discharge) -> f64 {
    if discharge.faster_before.is_empty() { 0.0 } else { way_share(m.nameplate.chemistry) }
}

/// Returns half the width of what the way to the end of a discharge may change of its charge, as a share.
pub(super) const fn way_share(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Lfp => LFP_STAGES_SHARE,
        _ => STAGES_SHARE,
    }
}

/// Says what happened during a discharge that the number does not show.
fn what_happened(m: &Measurement<'_>, discharge: &Discharge) -> Vec<String> {
    let mut warnings = Vec::new();
    if !discharge.faster_before.is_empty() {
        let shares = discharge.faster_before.iter().chain([&discharge.current]);
        let shares: Vec<String> =
            shares.map(|current| format!("{:.2}", *current / m.unit_current())).collect();
        warnings.push(format!(
            "discharged in stages, at {} It, each to the end voltage or until the next: not the procedure of IEC 61960-3, and \
             within {:.1} % of it",
            shares.join(" then "),
            after_faster(m, discharge) * 100.0
        ));
    } else if discharge.interrupted {
        warnings.push("the discharge was interrupted by rests or pulses".to_owned());
    }
    let ValueRange { low, high } = discharge.currents;
    if high > low * (1.0 + ONE_CURRENT) {
        warnings.push(format!("the current was not constant: {low:.3} to {high:.3} A"));
    }
    if let Some(since) = discharge.lost.since {
        warnings.push(format!(
            "a contact was lost at times: {} rows, {:.0} s in all, the first at {:.0} s; they are passed over, the charge \
             read meanwhile is kept, and what was not read is in doubt; clean the contacts",
            discharge.lost.rows, discharge.lost.time.0, since.0
        ));
    }
    warnings
}

/// Refuses a charge that no cell of this label has: some unit is wrong.
pub(super) fn refuse_unlikely(m: &Measurement<'_>, charge: AmpHours) -> Result<(), String> {
    let share = charge.0 / m.nameplate.rated_capacity_ah;
    if (LIKELY_SHARE[0]..=LIKELY_SHARE[1]).contains(&share) {
        return Ok(());
    }
    Err(format!(
        "{:.5} Ah between full and empty are {:.2} % of the rated capacity: check the units of time and current, and the \
         label",
        charge.0,
        share * 100.0
    ))
}

/// Returns what the fixture counted between the start of a discharge and the step that reached its floor.
fn counted(m: &Measurement<'_>, start: Seconds, end: Seconds) -> Option<AmpHours> {
    const NEAR: Seconds = Seconds(2.0);
    let steps = &m.trace.run.as_ref()?.steps;
    let reached = steps.iter().find(|step| {
        step.cause == Some(StepEnd::Floor) && step.ended.is_some_and(|ended| (ended - end).abs() < NEAR)
    })?;
    let before = steps.iter().rev().find(|step| step.ended.is_some_and(|ended| ended <= start + NEAR));
    let at_start = match before {
        Some(step) => step.charge?,
        None => AmpHours(0.0),
    };
    Some(reached.charge? - at_start)
}
