//! Loss of charge in storage, from the rest voltages of two visits of the same cell.
//!
//! Input: what the book knows of earlier visits and the present one; output: the loss of rest voltage per day and of charge
//! per month, or why not and from which day on there can be a number. A day after a charge cannot tell 2 from 5 %
//! a month (0.5 mV a day against 1 mV an hour of early relaxation), so: 24 h of rest before the first voltage, 72 h
//! between both, at least 60 % charge (below it the voltage hardly moves), at most 1 K apart.
//!
//! A charge or a discharge begins a new storage. As long as the new one tells nothing, the last one before it that told
//! something counts, and is named: a cell that lost its charge is not a sound one because somebody has charged it.

use super::open_circuit::CurvePoint;
use super::visits::{Visit, VisitPair, begin_of_storage, day_and_hour, pair};
use super::{Conditions, Estimate, FrontEnd, Quantity};
use crate::nameplate::Nameplate;
use crate::uncertainty::{Input, Measurand};

/// Days of a month.
const MONTH_D: f64 = 30.0;

/// One voltage of a fixture against another one of the same fixture, in V: gain drift of 25 ppm/K over 2 K of room at
/// 4.2 V, rectangular (0.12 mV), and 0.1 mV of resolution and offset drift (common practice).
const SAME_FIXTURE_V: f64 = 0.16e-3;
/// A rest voltage still moves by this much per factor e of the rest: 1.06 mV/h measured after 45 min on one phone
/// cell, taken as a logarithm of time (the time constant grows with the rest: J. Power Sources 253 (2014) 412).
const RELAXATION_V: f64 = 0.8e-3;
/// One thermometer against itself some days later, contact included (common practice).
const THERMOMETER_K: f64 = 0.3;
/// Change of rest voltage per kelvin over state of charge in V/K, with its standard uncertainty: battery data of two
/// phones in public Linux kernels from 25 to 40 degC, and -0.31 mV/K full from the entropy in J. Power Sources 156 (2006) 541. What
/// lies between 60 % and full is not published in these; the uncertainty covers both neighbours.
const PER_KELVIN: [(f64, f64, f64); 6] = [
    (0.2, -0.6e-3, 0.2e-3),
    (0.3, -0.3e-3, 0.15e-3),
    (0.5, 0.03e-3, 0.1e-3),
    (0.6, 0.23e-3, 0.15e-3),
    (0.8, 0.0, 0.3e-3),
    (1.0, -0.3e-3, 0.1e-3),
];

/// Estimates the loss per day and per month; `earlier` in the order of time.
pub fn self_discharge(
    plate: &Nameplate,
    front_end: &FrontEnd,
    earlier: &[Visit],
    now: &Visit,
) -> [(Quantity, Result<Estimate, String>); 2] {
    let daily = pair(plate, earlier, now)
        .map(|pair| per_day(plate, front_end, &pair, now, "now"))
        .or_else(|why| in_a_storage_before(plate, front_end, earlier, now).ok_or(why));
    let monthly = match &daily {
        Ok((daily, place)) => Ok(per_month(daily, place)),
        Err(why) => Err(why.clone()),
    };
    [(Quantity::SelfDischarge, daily.map(|(daily, _)| daily)), (Quantity::SelfDischargePerMonth, monthly)]
}

/// Estimates the loss from the last storage before the present one that told it; `None` if there is none, or if
/// the present storage is the only one.
fn in_a_storage_before(
    plate: &Nameplate,
    front_end: &FrontEnd,
    earlier: &[Visit],
    now: &Visit,
) -> Option<(Estimate, CurvePoint)> {
    let before = earlier.get(..begin_of_storage(plate, earlier, now))?;
    let (pair, last) = (0..before.len()).rev().find_map(|index| {
        let (visits, last) = (before.get(..index)?, before.get(index)?);
        pair(plate, visits, last).ok().map(|pair| (pair, last))
    })?;
    let ended = day_and_hour(&last.at);
    let (mut daily, place) = per_day(plate, front_end, &pair, last, &ended);
    daily
        .warnings
        .push(format!("found in the storage before, until {ended}; the present one has not told it yet"));
    Some((daily, place))
}

/// Estimates the loss per day of a pair whose second visit is `now`, which the method calls by `name`.
fn per_day(
    plate: &Nameplate,
    front_end: &FrontEnd,
    pair: &VisitPair<'_>,
    now: &Visit,
    name: &str,
) -> (Estimate, CurvePoint) {
    let [volts, volts_now] = pair.volts;
    let [temperature, temperature_now] = pair.temperatures;
    let apart = temperature_now - temperature;
    let (per_kelvin, per_kelvin_doubt) = per_kelvin(pair.place.charge);
    let by_test = pair.place.slope * pair.taken_ah / plate.rated_capacity_ah;
    let days = pair.span.as_secs_f64() / 86_400.0;

    let same = pair.first.fixture.is_some() && pair.first.fixture == now.fixture;
    let reading = if same {
        SAME_FIXTURE_V
    } else {
        (volts * front_end.voltage_gain).hypot(front_end.voltage_offset.0)
    };
    let rest = pair.rested.as_secs_f64();
    let relaxation = RELAXATION_V * ((rest + pair.span.as_secs_f64()) / rest).ln() / 3f64.sqrt();
    let inputs = [
        Input::new("earlier rest voltage", "V", volts, reading),
        Input::new("rest voltage now", "V", volts_now, reading),
        Input::new("difference of temperature", "K", apart, THERMOMETER_K * 2f64.sqrt()),
        Input::new("change of voltage with temperature", "V/K", per_kelvin, per_kelvin_doubt),
        Input::new(
            "what the tests took out",
            "V",
            by_test,
            by_test * pair.place.slope_deviation / pair.place.slope,
        ),
        Input::new("relaxation between both", "V", 0.0, relaxation),
    ];
    let lost = |[earlier, now, apart, per_kelvin, by_test, relaxation]: [f64; 6]| {
        (earlier - now + per_kelvin * apart - by_test + relaxation) / days
    };
    let budget = Measurand::new(inputs, lost).budget();
    let method = format!(
        "rest voltages of {} and {name}, {days:.1} days apart; {:+.2} mV for temperature, {:+.2} mV for what the tests took out",
        day_and_hour(&pair.first.at),
        per_kelvin * apart * 1e3,
        -by_test * 1e3
    );
    let mut estimate = Estimate::of(Quantity::SelfDischarge, budget, &method);
    estimate.conditions = Conditions {
        duration_s: Some(pair.span.as_secs_f64()),
        temperature_c: Some(temperature_now),
        rest_voltage_v: Some(volts_now),
        ..Conditions::default()
    };
    if !same {
        estimate.warnings.push("the two voltages are of different fixtures or calibrations".to_owned());
    }
    (estimate, pair.place)
}

fn per_month(daily: &Estimate, place: &CurvePoint) -> Estimate {
    let inputs = [
        daily.as_input("loss of rest voltage a day", "V/d"),
        Input::new("slope of the class table", "V", place.slope, place.slope_deviation),
    ];
    let budget = Measurand::new(inputs, |[loss, slope]| loss * MONTH_D / slope).budget();
    let method = format!(
        "loss of rest voltage over the slope of the class table, {:.1} mV per % at {:.0} % charge",
        place.slope * 10.0,
        place.charge * 100.0
    );
    let mut estimate = Estimate::of(Quantity::SelfDischargePerMonth, budget, &method);
    estimate.conditions = daily.conditions.clone();
    estimate.warnings = daily.warnings.clone();
    estimate
}

/// Returns the change of rest voltage per kelvin at a state of charge, with its uncertainty.
fn per_kelvin(charge: f64) -> (f64, f64) {
    let mut found = PER_KELVIN.first().map_or((0.0, 0.0), |first| (first.1, first.2));
    for two in PER_KELVIN.windows(2) {
        if let [(c0, v0, u0), (c1, v1, u1)] = two
            && charge >= *c0
        {
            let share = ((charge - c0) / (c1 - c0)).min(1.0);
            found = (v0 + (v1 - v0) * share, u0 + (u1 - u0) * share);
        }
    }
    found
}
