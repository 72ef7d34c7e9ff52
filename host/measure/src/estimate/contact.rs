//! Whether the contacts stayed the same: pulses of one run compared, first and last, small and large.
//!
//! Input: all pulses that rise from rest within a few minutes; output: the relative difference of their resistances at 1 s
//! beyond what the current itself explains. Two pulses of one current, the larger one between them, need no such
//! allowance: their difference is the contacts' doing. Where these agree, a contact may still have been bad in
//! between, so all other pulses and the two-level resistance are compared as well; there only a sure difference counts. A
//! resistance that is always the same in leads and clamps stays unseen; four wires take care of that one. (One laboratory's
//! rig logged 142 mOhm instead of 87 for 40 cycles.)

use super::front_end::{CONTACT, CURRENT_GAIN, VOLTAGE_GAIN};
use super::measurement::Measurement;
use super::pulse::Pulse;
use super::resistance_at::from_pulse;
use super::resistance_two_level::closest_pair;
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
pub(super) const PER_E_FOLD: f64 = 0.06;
pub(super) const PER_E_FOLD_DEVIATION: f64 = 0.04;
/// Standard uncertainties beyond which one of many comparisons shows a difference and no chance.
const SURE: f64 = 3.0;
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

/// A resistance that a contact is part of.
struct ContactReading {
    at: Seconds,
    ohms: Estimate,
    /// Logarithm of the current that eases it.
    ease: f64,
    is_two_level: bool,
}

impl ContactReading {
    fn of_pulse(m: &Measurement<'_>, pulse: &Pulse) -> Option<Self> {
        let at = m.segments.get(pulse.load)?.start.time;
        let ohms = from_pulse(m, pulse, Quantity::Resistance1Second, AFTER).ok()?;
        let ease = ohms.conditions.current_a?.ln();
        ease.is_finite().then_some(Self { at, ohms, ease, is_two_level: false })
    }

    /// A drop between two loads is that of the larger one less that of the smaller one, and each is eased by its current.
    fn of_levels(m: &Measurement<'_>, ohms: &Estimate) -> Option<Self> {
        let at = m.segments.get(closest_pair(m)? + 1)?.start.time;
        let (low, high) = (ohms.conditions.current_a?, ohms.conditions.second_current_a?);
        let ease = (high * high.ln() - low * low.ln()) / (high - low);
        ease.is_finite().then(|| Self { at, ohms: ohms.clone(), ease, is_two_level: true })
    }

    /// Returns how much further the current eases a later reading.
    fn eased_until(&self, later: &Self) -> f64 {
        later.ease - self.ease
    }

    fn is_near(&self, other: &Self) -> bool {
        (other.at - self.at).abs() <= LONGEST_APART
    }

    /// Returns whether a later reading differs by more than all that the current may do, without a look at other doubts.
    fn may_differ_from(&self, later: &Self) -> bool {
        let eased = self.eased_until(later);
        let found = later.ohms.value / self.ohms.value - 1.0 + PER_E_FOLD * eased;
        found.abs() > SURE * PER_E_FOLD_DEVIATION * eased.abs()
    }
}

/// Estimates the relative difference between two pulses: of one current and furthest apart if there are such, else of
/// the currents that differ least. Where these agree, any two readings of the run that surely differ.
pub(super) fn contact_difference(
    m: &Measurement<'_>,
    pulses: &[Pulse],
    two_level: Option<&Estimate>,
) -> Result<Estimate, String> {
    let mut readings: Vec<ContactReading> = Vec::new();
    if pulses.len() + usize::from(two_level.is_some()) > 1 {
        readings.extend(pulses.iter().filter_map(|pulse| ContactReading::of_pulse(m, pulse)));
        readings.extend(two_level.and_then(|ohms| ContactReading::of_levels(m, ohms)));
        readings.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
    }
    let pairs = || {
        let after = |index: usize| readings.get(index + 1..).unwrap_or(&[]);
        let pairs =
            readings.iter().enumerate().flat_map(move |(index, a)| after(index).iter().map(move |b| (a, b)));
        pairs.filter(|(first, second)| first.is_near(second))
    };
    // One current and far apart first; then the closest currents.
    let rank = |(first, second): &(&ContactReading, &ContactReading)| {
        let eased = first.eased_until(second).abs();
        if eased < SAME_CURRENT { -(second.at - first.at).0 } else { eased }
    };
    let best = pairs()
        .filter(|(first, second)| !first.is_two_level && !second.is_two_level)
        .min_by(|a, b| rank(a).total_cmp(&rank(b)))
        .map(|(first, second)| compare(first, second));
    if let Some(best) = best.as_ref().filter(|best| is_fault(best)) {
        return Ok(best.clone());
    }
    let surely = |found: &Estimate| found.value.abs() / found.standard_uncertainty;
    let others = pairs().filter(|(first, second)| first.may_differ_from(second));
    let others = others.map(|(first, second)| compare(first, second)).filter(|found| surely(found) > SURE);
    let worst = others.filter(is_fault).max_by(|a, b| surely(a).total_cmp(&surely(b)));
    worst
        .or(best)
        .ok_or_else(|| "needs two pulses of at least 1 s, each from a rest, within five minutes".to_owned())
}

/// Estimates the relative difference of a later reading from an earlier one.
fn compare(first: &ContactReading, second: &ContactReading) -> Estimate {
    let eased = first.eased_until(second);
    let is_one_current = eased.abs() < SAME_CURRENT;
    let is_one_way = first.is_two_level == second.is_two_level;
    let inputs = [
        first.ohms.as_input_without("earlier pulse", "ohm", &SHARED),
        second.ohms.as_input_without("later pulse", "ohm", &SHARED),
        Input::new(
            "effect of the current",
            "1",
            PER_E_FOLD,
            if is_one_current { 0.0 } else { PER_E_FOLD_DEVIATION },
        ),
        Input::new("two ways of reading", "1", 0.0, if is_one_way { 0.0 } else { TOLERANCE }),
    ];
    let budget =
        Measurand::new(inputs, |[first, second, effect, way]| second / first - 1.0 + effect * eased + way)
            .budget();
    let method = match (is_one_way, is_one_current) {
        (false, _) => {
            "resistance at 1 s of a pulse and between two load levels, the later over the earlier, the current's own \
             effect allowed for"
        }
        (true, true) => "two pulses of one current, resistance at 1 s, the later over the earlier",
        (true, false) => {
            "two pulses of different current, resistance at 1 s, the later over the earlier, the current's own effect \
             allowed for"
        }
    };
    let mut estimate = Estimate::of(Quantity::ContactDifference, budget, method);
    let current = |reading: &ContactReading| {
        let conditions = &reading.ohms.conditions;
        conditions.second_current_a.or(conditions.current_a)
    };
    estimate.conditions = Conditions {
        current_a: current(first),
        second_current_a: current(second),
        duration_s: Some(AFTER.0),
        temperature_c: second.ohms.conditions.temperature_c,
        rest_voltage_v: second.ohms.conditions.rest_voltage_v,
        ..Conditions::default()
    };
    estimate
}

/// Returns whether contacts that stayed the same cannot show such a difference.
fn is_fault(difference: &Estimate) -> bool {
    difference.value.abs() > TOLERANCE + 2.0 * difference.standard_uncertainty
}

/// Widens every resistance by a difference that is no chance, and says so where contacts should not show as much.
pub(super) fn widen(estimates: &mut Estimates) {
    let Some(difference) = estimates.get(Quantity::ContactDifference) else { return };
    let (found, deviation) = (difference.value, difference.standard_uncertainty);
    // A small change is no fault, but one of the two pulses is wrong by it anyway.
    if found.abs() <= 2.0 * deviation {
        return;
    }
    let is_fault = is_fault(difference);
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
            input: "contacts that changed".into(),
            unit: "1".into(),
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
