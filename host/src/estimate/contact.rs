//! Whether the contacts stayed the same: pulses of one run compared, first and last, small and large.
//!
//! Takes all pulses that rise from rest within a few minutes; gives the relative difference of their resistances at 1 s
//! beyond what the current itself explains. Two pulses of one current, the larger one between them, need no such
//! allowance: their difference is the contacts' doing. A resistance that is always the same in leads and clamps stays
//! unseen; four wires take care of that one. (One professional rig logged 142 mOhm instead of 87 for 40 cycles.)

use super::front_end::{CONTACT, CURRENT_GAIN, VOLTAGE_GAIN};
use super::measurement::Measurement;
use super::pulse::Pulse;
use super::resistance_at::from_pulse;
use super::{Conditions, Estimate, Estimates, Quantity};
use crate::si::Seconds;
use crate::uncertainty::{Contribution, Input, Measurand, PRACTICALLY_NORMAL};

/// When the pulses are compared.
const AFTER: Seconds = Seconds(1.0);
/// Pulses further apart meet another cell: warmer, emptier.
const LONGEST_APART: Seconds = Seconds(300.0);
/// Currents whose logarithms differ by less are one.
const SAME_CURRENT: f64 = 0.1;
/// How much the resistance falls per factor e of current, and how well that is known: charge transfer eases with current
/// (DFN model of a 2.28 Ah cell: 6 to 9 % from 1 A to 2.28 A); cells that are mostly ohmic show less.
const PER_E_FOLD: f64 = 0.06;
const PER_E_FOLD_DEVIATION: f64 = 0.04;
/// Agreement that is expected of contacts that stayed the same (common practice).
const TOLERANCE: f64 = 0.02;
/// The resistances that are read directly.
const MEASURED: [Quantity; 6] = [
    Quantity::ResistanceTwoLevel,
    Quantity::Resistance10Milliseconds,
    Quantity::Resistance100Milliseconds,
    Quantity::Resistance1Second,
    Quantity::Resistance2Seconds,
    Quantity::Resistance10Seconds,
];
/// Lines of a budget that pulses of one run share.
const SHARED: [&str; 3] = [VOLTAGE_GAIN, CURRENT_GAIN, CONTACT];

/// Estimates the relative difference between two pulses: of one current and furthest apart if there are such, else of
/// the currents that differ least.
pub(super) fn contact_difference(m: &Measurement<'_>, pulses: &[Pulse]) -> Result<Estimate, String> {
    let alone = pulses.len() < 2;
    let found: Vec<(Seconds, Estimate)> = pulses
        .iter()
        .filter(|_| !alone)
        .filter_map(|pulse| {
            let start = m.segments.get(pulse.load)?.start.time;
            Some((start, from_pulse(m, pulse, Quantity::Resistance1Second, AFTER).ok()?))
        })
        .collect();
    let current = |estimate: &Estimate| estimate.conditions.current_a.unwrap_or(f64::NAN);
    let mut pairs = Vec::new();
    for (index, (start, first)) in found.iter().enumerate() {
        for (later, second) in found.iter().skip(index + 1) {
            let apart = *later - *start;
            let ratio = (current(second) / current(first)).ln();
            if apart <= LONGEST_APART && ratio.is_finite() {
                // One current and far apart first; then the closest currents.
                let rank = if ratio.abs() < SAME_CURRENT { -apart.0 } else { ratio.abs() };
                pairs.push((rank, ratio, first, second));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, ratio, first, second)) = pairs.first() else {
        return Err("needs two pulses of at least 1 s, each from a rest, within five minutes".to_owned());
    };
    let allowance = if ratio.abs() < SAME_CURRENT { 0.0 } else { PER_E_FOLD_DEVIATION };
    let inputs = [
        first.as_input_without("earlier pulse", "ohm", &SHARED),
        second.as_input_without("later pulse", "ohm", &SHARED),
        Input::new("effect of the current", "1", PER_E_FOLD, allowance),
    ];
    let budget =
        Measurand::new(inputs, |[first, second, effect]| second / first - 1.0 + effect * ratio).budget();
    let method = if ratio.abs() < SAME_CURRENT {
        "two pulses of one current, resistance at 1 s, the later over the earlier"
    } else {
        "two pulses of different current, resistance at 1 s, the later over the earlier, the current's own effect allowed for"
    };
    let mut estimate = Estimate::of(Quantity::ContactDifference, budget, method);
    estimate.conditions = Conditions {
        current_a: first.conditions.current_a,
        second_current_a: second.conditions.current_a,
        duration_s: Some(AFTER.0),
        temperature_c: second.conditions.temperature_c,
        rest_voltage_v: second.conditions.rest_voltage_v,
    };
    Ok(estimate)
}

/// Widens every resistance by a difference that is told from none, and says so where contacts should not show as much.
pub(super) fn widen(estimates: &mut Estimates) {
    let Some(difference) = estimates.get(Quantity::ContactDifference) else { return };
    let (found, deviation) = (difference.value, difference.standard_uncertainty);
    // A small change is no fault, but one of the two pulses is wrong by it all the same.
    if found.abs() <= 2.0 * deviation {
        return;
    }
    let is_fault = found.abs() > TOLERANCE + 2.0 * deviation;
    let text = format!(
        "the contacts changed during the test: two pulses differ by {:+.1} %; clean and clip again",
        found * 100.0
    );
    for quantity in MEASURED {
        let Some(estimate) = estimates.measured.get_mut(&quantity) else { continue };
        let before = estimate.standard_uncertainty;
        // The true one lies anywhere between both and may lie as far on the other side.
        let more = found.abs() * estimate.value / 3f64.sqrt();
        estimate.standard_uncertainty = before.hypot(more);
        let scale = (before / estimate.standard_uncertainty).powi(2);
        estimate.budget.iter_mut().for_each(|line| line.share *= scale);
        // What is added is taken as known: the readings count for less (Welch and Satterthwaite).
        estimate.degrees_of_freedom = estimate
            .degrees_of_freedom
            .map(|degrees| degrees / (scale * scale))
            .filter(|degrees| *degrees < PRACTICALLY_NORMAL);
        estimate.budget.push(Contribution {
            input: "contacts that changed".to_owned(),
            unit: "1".to_owned(),
            value: 0.0,
            standard_uncertainty: found.abs() / 3f64.sqrt(),
            degrees_of_freedom: None,
            sensitivity: estimate.value,
            share: 1.0 - scale,
        });
        if is_fault {
            estimate.warnings.push(text.clone());
        }
    }
}
