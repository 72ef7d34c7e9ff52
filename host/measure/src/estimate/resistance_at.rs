//! Voltage drop over current at a stated time after the current rose from rest: 10 ms, 100 ms, 1 s, 2 s, 10 s.
//!
//! Each is *measured at that time*, from rows around it: never a fitted "R0", never a model carried past the end of a
//! pulse or across a hole in the rows. (A 2 s pulse fitted with one RC pair misses the resistance at 10 s by 4 mOhm of
//! 64 on the DFN model; that is why.) Of several pulses the one with the largest current that reaches the time is used;
//! of several of that at other states of charge the one nearest to half charge.

use super::charge_at::ChargeLadder;
use super::line_fit::Line;
use super::measurement::{LEAST_SIGNIFICANCE, Measurement};
use super::pulse::{Pulse, drift, refuse_disturbed, rows_around};
use super::step_response::{refuse_rise, refuse_slow_voltage};
use super::voltage_drop::{self, Moment, Terms};
use super::{Conditions, Estimate, Quantity};
use crate::segment::Segment;
use crate::si::{Ohms, Seconds, Volts};

/// Currents are told apart by this share of It.
const SAME_PULSE: f64 = 0.05;
/// The moment of the step must be known to this share of the time.
const EDGE_SHARE: f64 = 0.2;
/// Before this time the voltage still falls by 2 to 3 % per millisecond (DFN model at 10 ms: 1.3 mOhm/ms), so rows must
/// be this close and the step known this well.
const FAST: Seconds = Seconds(0.05);
const FAST_PERIOD: Seconds = Seconds(1e-3);
const FAST_EDGE: Seconds = Seconds(0.1e-3);
/// Shortest rest that gives the voltage before the load.
const SHORTEST_REST: Seconds = Seconds(1.0);

/// Estimates the resistance at the time that belongs to a quantity.
pub(super) fn resistance_at(
    m: &Measurement<'_>,
    pulses: &[Pulse],
    quantity: Quantity,
    after: Seconds,
) -> Result<Estimate, String> {
    if pulses.is_empty() {
        return Err("the trace has no load that rises from a rest".to_owned());
    }
    // Pulses of nearly one current count as equal, and the first of them is used.
    let step = SAME_PULSE * m.unit_current().0;
    let current =
        |load: usize| m.segments.get(load).map_or(0.0, |segment| (segment.current.0 / step).round());
    let largest = pulses.iter().map(|pulse| current(pulse.load)).fold(0.0, f64::max);
    let of_largest = pulses.iter().map(|pulse| pulse.load).filter(|load| current(*load) == largest);
    let ladder = ChargeLadder::of(m, of_largest);
    let mut pulses: Vec<&Pulse> = pulses.iter().collect();
    pulses.sort_by(|a, b| {
        let by_charge = || ladder.off_half(a.load).total_cmp(&ladder.off_half(b.load));
        current(b.load).total_cmp(&current(a.load)).then_with(by_charge)
    });
    let mut why = String::new();
    for pulse in pulses {
        match from_pulse(m, pulse, quantity, after) {
            Ok(mut estimate) => {
                if let Some(place) = ladder.place(pulse.load) {
                    estimate.conditions.charge = place.charge;
                    estimate.warnings.push(place.text);
                }
                return Ok(estimate);
            }
            // The first refusal is that of the largest pulse, the one people will ask about.
            Err(this) if why.is_empty() => why = this,
            Err(_) => {}
        }
    }
    Err(why)
}

/// Refuses a pulse whose rows or edge are too coarse for an early instant.
fn refuse_slow(m: &Measurement<'_>, load: usize, pulse: &Segment) -> Result<(), String> {
    let period = m.usual_period(load);
    if period.0 > FAST_PERIOD.0 * 1.01 {
        return Err(format!("has rows every {:.1} ms; at most every 1 ms", period.0 * 1e3));
    }
    if pulse.start.half_width > FAST_EDGE {
        return Err(format!(
            "begins somewhere within {:.2} ms; at most 0.2 ms",
            2e3 * pulse.start.half_width.0
        ));
    }
    Ok(())
}

/// Estimates the resistance from one pulse.
pub(super) fn from_pulse(
    m: &Measurement<'_>,
    from: &Pulse,
    quantity: Quantity,
    after: Seconds,
) -> Result<Estimate, String> {
    let load = from.load;
    let (Some(before), Some(pulse)) = (m.segments.get(from.rest), m.segments.get(load)) else {
        return Err("the pulse lies outside the trace".to_owned());
    };
    let edge = pulse.start;
    let told = format!("the pulse of {:.3} A", pulse.current.0);
    if before.duration() < SHORTEST_REST {
        return Err(format!(
            "{told} follows a rest of {:.2} s; at least {} s",
            before.duration().0,
            SHORTEST_REST.0
        ));
    }
    if edge.half_width.0 > EDGE_SHARE * after.0 {
        let text = format!(
            "{told} begins somewhere within {:.3} s: its start is not known well enough for {} s",
            2.0 * edge.half_width.0,
            after.0
        );
        return Err(text);
    }
    if after < FAST {
        refuse_slow(m, load, pulse).map_err(|why| format!("{told} {why}; not told at {} s", after.0))?;
    }
    let rows = rows_around(m, load, pulse, after).map_err(|why| format!("{told} {why}"))?;
    let line = m.voltage_at(rows.clone(), edge.time + after).ok_or("no usable rows")?;
    let (current, current_deviation) = m.mean_current(rows.clone()).ok_or("no usable rows")?;

    let resting = from.resting.ok_or("the rest has no usable rows")?;
    let drop = Volts(resting.value - line.value);
    let body = m.body(load);
    let jump = refuse_slow_voltage(m, load)
        .and_then(|()| refuse_rise(m, load, resting.slope))
        .and_then(|()| refuse_disturbed(m, from.rest_rows.clone(), body, edge.time, drop, after))
        .map_err(|why| format!("{told}: {why}"))?;
    let drift = drift(&resting, before.duration(), after);
    let terms = Terms {
        drift: drift.0,
        drift_deviation: drift.1,
        jump,
        timing: Ohms((line.slope * edge.half_width.0 / 3f64.sqrt() / current.0).abs()),
        method: 0.0,
    };
    let resting_current = from.resting_current.ok_or("the rest has no usable rows")?;
    let moment = |line: &Line, (current, current_deviation)| Moment {
        voltage: Volts(line.value),
        voltage_deviation: Volts(line.value_deviation),
        degrees_of_freedom: line.degrees_of_freedom,
        current,
        current_deviation,
    };
    let before = moment(&resting, resting_current);
    let budget =
        voltage_drop::resistance(m.front_end, &before, &moment(&line, (current, current_deviation)), &terms);
    if budget.value < LEAST_SIGNIFICANCE * budget.standard_uncertainty {
        return Err(format!(
            "{told} does not lower the voltage clearly ({:+.2} mV)",
            (line.value - resting.value) * 1e3
        ));
    }
    let method =
        format!("voltage drop over current, measured {} s after the current rose from rest", after.0);
    let mut estimate = Estimate::of(quantity, budget, &method);
    estimate.conditions = Conditions {
        current_a: Some(current.0),
        second_current_a: None,
        duration_s: Some(after.0),
        temperature_c: m.cell_temperature(rows).map(|cell| cell.0),
        rest_voltage_v: Some(resting.value),
        ..Conditions::default()
    };
    if line.used < 3 {
        let rows = if line.used == 1 { "one row".to_owned() } else { format!("{} rows", line.used) };
        estimate.warnings.push(format!("only {rows} near {} s; the number rests on that", after.0));
    }
    if drift.0.abs().0 / current.0 > 0.02 * estimate.value {
        estimate.warnings.push("the cell was still relaxing before the pulse".to_owned());
    }
    Ok(estimate)
}
