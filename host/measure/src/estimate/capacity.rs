//! Capacity: the charge a full cell gives until its end-of-discharge voltage. Nothing less is called capacity.
//!
//! Takes a discharge at about 0.2 It (IEC 61960-3 clause 7.3.1, from memory) that begins full and reaches the voltage on
//! the label. The charge is the trapezoid of current over time up to the crossing, which is interpolated; where rows are
//! missing, the fixture's own counter takes its place, or the number is refused.

use super::against_count::against_count;
use super::current_steps::CurrentSteps;
use super::discharge::{Discharge, discharge};
use super::measurement::Measurement;
use super::open_circuit::curve;
use super::{Conditions, Estimate, Quantity};
use crate::segment::Kind;
use crate::si::{AmpHours, Amps, SECONDS_PER_HOUR, Seconds, Volts};
use crate::trace::ValueRange;
use crate::uncertainty::{Input, Measurand};
use celltriage_protocol::event::StepEnd;

/// A full cell settles by this after the charger stops, where no table of its class tells: 0 to 30 mV in the tables.
const FULL_MARGIN: Volts = Volts(0.015);
/// A cell that rests below that by up to this is taken with what it may lack; below it did not begin full.
const NEARLY_FULL_MARGIN: Volts = Volts(0.05);
/// Slope of the rest voltage near full, per share of the capacity: 11 to 13 mV per % in the published tables.
const TOP_SLOPE: Volts = Volts(1.1);
/// The same of iron phosphate, where it settles: 2.3 V below 3.35 V and 6 V above, per share of the capacity, in the
/// equilibrium of a published model (Prada2013), rounded to the side that leaves more open.
const LFP_TOP_SLOPE: Volts = Volts(2.0);
/// Resistance times capacity of phone and tablet cells, for the drop of a discharge that begins without a rest: the
/// median of eight (`class_resistance.rs`), which spread from 0.25 to 0.43.
const CLASS_OHM_AH: f64 = 0.34;

/// By which share of itself a capacity falls per It of current, and how well that is known. Five published cells, new and aged
/// in two ways, run by PyBaMM's DFN model from 0.02 to 0.55 It: 0.6 to 6 % per It on either side of 0.2 It, 2.8 in the mean,
/// and within 0.3 % straight; measured cells gave 2.1 % less at 0.5 It than at 0.2, which is 7. The middle of both means, and
/// a doubt that holds all of them within two standard uncertainties.
const RATE_SHARE: f64 = 0.045;
const RATE_SHARE_DOUBT: f64 = 0.025;
/// The current that a capacity belongs to, as a share of It.
const REFERENCE_SHARE: f64 = 0.2;
/// The same per kelvin outside the standard's temperature (from memory: 0.5 % per kelvin below 20 degC), and how far
/// outside a cell without a thermometer is taken to be.
const TEMPERATURE_SHARE: f64 = 0.005;
const REFERENCE_C: [f64; 2] = [20.0, 25.0];
const UNKNOWN_TEMPERATURE_K: f64 = 3.0;
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
/// Share of its charge that a sound cell loses in storage per day, and half the range of that: 1 to 3 % a month.
const LOST_PER_DAY: f64 = 0.02 / 30.0;
const LOST_HALF_RANGE: f64 = 0.01 / 30.0;
/// Rest after the charge that belongs to the method (IEC 61960-3, from memory: 1 to 4 h).
const USUAL_REST_H: f64 = 4.0;

/// Estimates the capacity; `rested_h` is for how long the cell had rested before, as a person said.
pub(super) fn capacity(
    m: &Measurement<'_>,
    steps: &CurrentSteps,
    rested_h: Option<f64>,
) -> Result<Estimate, String> {
    let loads =
        (0..m.segments.len()).filter(|index| m.segments.get(*index).is_some_and(|s| s.kind == Kind::Load));
    let mut why = "the trace has no discharge".to_owned();
    let mut largest = (false, 0.0);
    for load in loads {
        match from_load(m, steps, load, rested_h) {
            Ok(estimate) => return Ok(estimate),
            Err(this) => {
                // The reason of the longest load that began full is the one to tell; short pulses are not attempts.
                let charge = m.segments.get(load).map_or(0.0, |s| (s.current * s.duration()).0);
                let began_full =
                    start(m, load, m.segments.get(load).map_or(Amps(0.0), |s| s.current), None).is_ok();
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
    let capacity = capacity.map_err(str::to_owned)?;
    let rated = m.nameplate.rated_capacity_ah;
    let inputs = [
        capacity.as_input("capacity", "Ah"),
        // A figure agreed upon, not a measured one.
        Input::new("rated capacity", "Ah", rated, 0.0),
    ];
    let budget = Measurand::new(inputs, |[capacity, rated]| capacity / rated).budget();
    let mut estimate = Estimate::of(Quantity::CapacityFraction, budget, "capacity over rated capacity");
    estimate.conditions = capacity.conditions.clone();
    estimate.warnings = capacity.warnings.clone();
    Ok(estimate)
}

/// How full the cell was at the start.
struct Start {
    /// Share of the capacity that it lacked, with its standard uncertainty: anything from nothing, where this cell simply
    /// settles lower than its class, to all that the voltage is lower by.
    lacked: f64,
    doubt: f64,
    rest_voltage: Option<f64>,
    warning: Option<String>,
}

fn from_load(
    m: &Measurement<'_>,
    steps: &CurrentSteps,
    load: usize,
    rested_h: Option<f64>,
) -> Result<Estimate, String> {
    let discharge = discharge(m, steps, load)?;
    let start = start(m, load, discharge.current, rested_h)?;
    let rated = AmpHours(m.nameplate.rated_capacity_ah);
    let mut warnings: Vec<String> = start.warning.into_iter().collect();

    let mut charge = discharge.charge;
    let mut in_gaps = discharge.in_gaps;
    let own_count = counted(m, discharge.end_time - discharge.duration, discharge.end_time);
    if let Some(counted) = own_count.filter(|_| in_gaps.0 > MOST_IN_GAPS * rated.0) {
        warnings.push(format!("rows are missing; the fixture's own count is used ({:.4} Ah)", counted.0));
        charge = counted;
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
    let against = against_count(m, &discharge, charge, own_count)?;
    warnings.extend(against.warnings);
    let share = discharge.current / m.unit_current();
    let (other_rate, rate_doubt) = other_rate(share, &discharge.currents, m.unit_current());
    if !(USUAL_SHARE[0]..=USUAL_SHARE[1]).contains(&share) {
        warnings.push(format!(
            "discharged at {share:.2} It where 0.2 It is usual; faster gives less, slower more: {:+.1} % are allowed for that",
            other_rate * 100.0
        ));
    }
    warnings.extend(what_happened(&discharge));
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
        m.front_end.clock_error(),
        breaks,
        counts,
        at_rest,
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
    ]: [f64; 13]| {
        counted * (1.0 + gain + clock + rate + warmth + full)
            + offset * hours
            + end
            + gaps
            + past
            + breaks
            + counts
            + at_rest
    };
    let budget = Measurand::new(inputs, whole).budget();
    let method =
        "charge from full to the end-of-discharge voltage, trapezoid of current over time, IEC 61960-3";
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
pub(super) fn other_rate(share: f64, currents: &ValueRange, unit: Amps) -> (f64, f64) {
    let off = |current: f64| (current / unit.0 - REFERENCE_SHARE).abs();
    let furthest = off(currents.low).max(off(currents.high));
    let apart = (currents.high - currents.low) / unit.0 / 2.0;
    let allowed = RATE_SHARE * (share - REFERENCE_SHARE);
    (allowed, (RATE_SHARE_DOUBT * furthest).hypot(RATE_SHARE * apart))
}

/// Says what happened during a discharge that the number does not show.
fn what_happened(discharge: &Discharge) -> Vec<String> {
    let mut warnings = Vec::new();
    if discharge.interrupted {
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

/// Judges whether the cell was full when a load began.
fn start(m: &Measurement<'_>, load: usize, current: Amps, rested_h: Option<f64>) -> Result<Start, String> {
    let limit = Volts(m.nameplate.charge_limit_v);
    let segment = m.segments.get(load).ok_or("the load lies outside the trace")?;
    let rested = m.rest_before(load).and_then(|rest| {
        let line = m.voltage_at(super::rest_voltage::last(m.body(rest), 20), segment.start.time)?;
        Some(Volts(line.value))
    });
    let (voltage, allowance, spread) = match rested {
        Some(voltage) => (voltage, Volts(0.0), Volts(0.0)),
        // On its plateau 70 mV under load are half the charge.
        None if m.nameplate.settles_v().is_some() => {
            return Err("only a rest before it tells whether a cell of this chemistry was full".to_owned());
        }
        None if load == 0 => {
            let row = m.body(load).start;
            let first = m.trace.points.get(row).ok_or("the load has no usable rows")?.voltage;
            let class = Volts(current.0 * CLASS_OHM_AH / m.nameplate.rated_capacity_ah);
            (first, class, class * 0.3)
        }
        None => return Err("the discharge does not begin from a rest".to_owned()),
    };
    let (settles, top_slope) = match (m.nameplate.settles_v(), curve(m.nameplate)) {
        (Some(settles), _) => (Volts(settles), LFP_TOP_SLOPE),
        (None, Ok(curve)) => (Volts(curve.table.charge_limit_v - curve.voltage_at(1.0)), TOP_SLOPE),
        (None, Err(_)) => (FULL_MARGIN, TOP_SLOPE),
    };
    let missing = limit - voltage - allowance;
    let lower = missing - settles;
    if lower > NEARLY_FULL_MARGIN + spread {
        return Err(format!(
            "the cell did not begin full: {:.3} V {}, {:.0} mV below the charge limit of {} V",
            voltage.0,
            if rested.is_some() { "at rest" } else { "at the first row under load" },
            (limit - voltage).0 * 1e3,
            limit.0
        ));
    }
    if -missing > NEARLY_FULL_MARGIN + spread + allowance {
        return Err(format!(
            "the cell began {:.0} mV above the charge limit of {} V",
            (-missing).0 * 1e3,
            limit.0
        ));
    }
    // What a sound cell loses in storage is expected; the voltage may tell of more.
    let stored_d = rested_h.map_or(0.0, |hours| (hours - USUAL_REST_H).max(0.0) / 24.0);
    let lost = LOST_PER_DAY * stored_d;
    let more = (lower.0 - lost * top_slope.0).max(0.0) / 2.0 / top_slope.0;
    let lacked = lost + more;
    let above = (-missing - FULL_MARGIN).0.max(0.0) / top_slope.0;
    let doubt = (more / 3f64.sqrt())
        .hypot(LOST_HALF_RANGE * stored_d / 3f64.sqrt())
        .hypot(above + spread.0 / top_slope.0);
    let warning = match rested {
        None => Some(
            "no rest before the discharge; that the cell was full is taken from its loaded voltage"
                .to_owned(),
        ),
        Some(_) if lower > FULL_MARGIN => {
            let text = format!(
                "began {:.0} mV below the charge limit; {:.1} % of charge is taken as missing at the start",
                missing.0 * 1e3,
                100.0 * lacked
            );
            Some(text)
        }
        Some(_) => None,
    };
    Ok(Start { lacked, doubt, rest_voltage: rested.map(|voltage| voltage.0), warning })
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
