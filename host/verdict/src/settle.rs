//! What measurement would settle a finding that is open: with its current, its time and what it needs first.
//!
//! Computed from label, measured charge and the limits of the fixture; the policy says in words what else helps.

use crate::charge_temperature::charge_temperature;
use crate::evidence::{Evidence, RunOutcome};
use crate::figure::{hours_and_minutes, limit_figure};
use crate::step::{Act, Step};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::Fullness;
use celltriage_protocol::limits::LARGEST_STEADY;

/// Rate of the discharge that is called capacity (IEC 61960-3), in parts of the rated capacity per hour.
const DISCHARGE_RATE: f64 = 0.2;

/// Fills in what a policy's sentence leaves open; `no_charge` says that the decision rules out a charge.
pub(super) fn filled_in(sentence: &str, evidence: &Evidence<'_>, no_charge: bool) -> String {
    match (sentence.contains("{full_discharge}"), no_charge) {
        (false, _) => sentence.to_owned(),
        (true, false) => sentence.replace("{full_discharge}", &full_discharge(evidence)),
        (true, true) => sentence.replace(
            "{full_discharge}",
            "Nothing on this cell: it takes a full charge first, and this cell is not to be charged.",
        ),
    }
}

/// Current of the charge to storage level in units of It, and for how long, in hours (common practice: half of the rated
/// charge at a gentle current).
const STORAGE_CHARGE: (f64, f64) = (0.5, 1.0);
/// Within so many days an empty cell is charged (common practice: its own losses and its protection's current take it
/// below the lowest voltage that makers allow within weeks to months).
const EMPTY_FOR_DAYS: u32 = 7;

/// What a completed full discharge has left to do. Only where every sign was looked for and none found: nobody is told to
/// charge another one.
pub(super) fn emptied(evidence: &Evidence<'_>) -> Option<Step> {
    let discharged = matches!(evidence.run, RunOutcome::Complete | RunOutcome::Settled)
        && [Quantity::Capacity, Quantity::CapacityFraction, Quantity::CapacityFractionAtLeast]
            .into_iter()
            .any(|quantity| evidence.estimates.get(quantity).is_some());
    if !discharged || !evidence.observations.all_answered_no() {
        return None;
    }
    let (rate, hours) = STORAGE_CHARGE;
    let amps = rate * evidence.nameplate.rated_capacity_ah;
    let left = if *evidence.run == RunOutcome::Settled { "nearly empty" } else { "empty" };
    Some(Step::new(
        format!(
            "The test has left it {left}. Within {EMPTY_FOR_DAYS} days charge it to about half: {amps:.2} A for {hours:.0} h, \
             {}, watched. An empty cell harms itself in storage.",
            charge_temperature()
        ),
        &[Act::Charge],
    ))
}

/// The one measurement that may be called capacity, with its current and time for this cell.
fn full_discharge(evidence: &Evidence<'_>) -> String {
    let plate = evidence.nameplate;
    let rated = plate.rated_capacity_ah;
    let most = f64::from(LARGEST_STEADY.get()) * 1e-6;
    let amps = (DISCHARGE_RATE * rated).min(most);
    let measured = evidence.estimates.get(Quantity::CapacityFraction).map(|fraction| fraction.value);
    let expected = measured.filter(|share| (0.2..1.3).contains(share)).unwrap_or(1.0);
    let run = format!(
        "run a full discharge at {:.2} It ({amps:.2} A) to {}: about {}",
        amps / rated,
        limit_figure(plate.end_of_discharge_v, "V"),
        hours_and_minutes(rated * expected / amps),
    );
    let limit = limit_figure(plate.charge_limit_v, "V");
    let rest = evidence.estimates.get(Quantity::RestVoltage).map(|rest| rest.value);
    // Once it was discharged it is no longer as full as it rested before.
    if measured.is_none() && rest.is_some_and(|rest| plate.fullness(rest) == Fullness::Full) {
        return format!("It rests at its limit of {limit}, so it is full: {run}.");
    }
    let held = evidence.estimates.get(Quantity::StateOfCharge).and_then(|charge| charge.interval);
    let lacking = match held.filter(|_| measured.is_none()) {
        Some([low, high]) => format!(
            " (it holds {:.0} to {:.0} % now, so {:.1} to {:.1} Ah go in)",
            low * 100.0,
            high * 100.0,
            (1.0 - high) * rated,
            (1.0 - low) * rated
        ),
        None => String::new(),
    };
    let charge = format!("harge it to its limit of {limit}{lacking}, rest 1 h, then {run}.");
    let mut before = Vec::new();
    if !evidence.observations.all_answered_no() {
        before.push("every sign was looked for and none found".to_owned());
    }
    if rest.is_none() {
        let lowest = limit_figure(plate.deeply_discharged_v(), "V");
        before.push(format!("it rests at {lowest} or more"));
    }
    match before.is_empty() {
        true => format!("C{charge}"),
        false => format!("Once {}, c{charge}", before.join(" and ")),
    }
}
