//! Loss of charge in storage, from the rest voltages of two visits of the same cell.
//!
//! Takes what the book knows of earlier visits and the present one; gives the loss of rest voltage per day and of charge
//! per month, or says why not and from which day on there can be a number. A day after a charge cannot tell 2 from 5 %
//! a month (0.5 mV a day against 1 mV an hour of early relaxation), so: 24 h of rest before the first voltage, 72 h
//! between both, at least 60 % charge (below it the voltage hardly moves), at most 1 K apart.
//!
//! A charge or a discharge begins a new storage. As long as the new one tells nothing, the last one before it that told
//! something counts, and is named: a cell that lost its charge is not a sound one because somebody has charged it.

use super::open_circuit::{Place, curve};
use super::{Conditions, Estimate, FrontEnd, Quantity};
use crate::nameplate::Nameplate;
use crate::uncertainty::{Input, Measurand};
use jiff::{SignedDuration, ZonedDateTime};
use serde::{Deserialize, Serialize};

/// Rest before the first voltage.
const REST: SignedDuration = SignedDuration::from_hours(24);
/// Time between both voltages.
const WINDOW: SignedDuration = SignedDuration::from_hours(72);
/// Least state of charge at the first voltage.
const LEAST_CHARGE: f64 = 0.60;
/// Largest difference of the cell's temperatures in K.
const MOST_APART_K: f64 = 1.0;
/// Largest charge, as a share of the rated one, that tests may have taken out between both voltages: a screen takes
/// 0.22 %; a discharge begins a new storage.
const MOST_TAKEN: f64 = 0.005;
/// A rest voltage that rises by more than this was charged (judged: ten times what 1 K and two readings of one fixture
/// can feign, 0.3 mV; the slow rise after a discharge has ended within the 24 h of rest).
const MOST_RISE_V: f64 = 3e-3;
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

/// A visit of the cell at the bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Visit {
    /// When.
    pub at: ZonedDateTime,
    /// Rest voltage in V with the cell's temperature in degC; nothing where either was not measured.
    pub rest: Option<(f64, f64)>,
    /// For how many hours the cell had rested before, as a person told.
    pub rested_h: Option<f64>,
    /// Charge in Ah that the test took out after the rest voltage; nothing where it is not known.
    pub taken_ah: Option<f64>,
    /// Which fixture, with which calibration.
    pub fixture: Option<String>,
    /// Whether this is no measurement, but the cell's coming off the charger.
    #[serde(default)]
    pub charged: bool,
}

/// Why a pair of visits gives no number, and from when on it could.
struct Why {
    text: String,
    ready: Option<ZonedDateTime>,
}

/// Two visits that can be compared.
struct Pair<'a> {
    first: &'a Visit,
    volts: [f64; 2],
    temperatures: [f64; 2],
    place: Place,
    taken_ah: f64,
    rested: SignedDuration,
    span: SignedDuration,
}

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

/// Estimates the loss from the last storage before the present one that told it; nothing where there is none, or where
/// the present storage is the only one.
fn in_a_storage_before(
    plate: &Nameplate,
    front_end: &FrontEnd,
    earlier: &[Visit],
    now: &Visit,
) -> Option<(Estimate, Place)> {
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

/// Returns how many of the earlier visits lie before the present storage; a test that took much out is the last of its own.
fn begin_of_storage(plate: &Nameplate, earlier: &[Visit], now: &Visit) -> usize {
    let volts = |visit: &Visit| visit.rest.map(|(volts, _)| volts);
    let risen = match (earlier.iter().rev().find_map(volts), volts(now)) {
        (Some(before), Some(now)) => now > before + MOST_RISE_V,
        _ => false,
    };
    if risen {
        return earlier.len();
    }
    let most = MOST_TAKEN * plate.rated_capacity_ah;
    let ends_one = |visit: &Visit| visit.charged || visit.taken_ah.is_none_or(|taken| taken.abs() > most);
    earlier.iter().rposition(ends_one).map_or(0, |last| last + 1)
}

/// Finds the earliest visit that can be compared with the present one, or the reason that is soonest put right.
fn pair<'a>(plate: &Nameplate, earlier: &'a [Visit], now: &Visit) -> Result<Pair<'a>, String> {
    if now.rest.is_none() {
        return Err("no rest voltage with a temperature was measured now".to_owned());
    }
    let mut soonest: Option<Why> = None;
    // A visit without a rest voltage only tells since when the cell has rested.
    let starts =
        (0..earlier.len()).filter(|index| earlier.get(*index).is_some_and(|visit| visit.rest.is_some()));
    for index in starts {
        match compared(plate, earlier, index, now) {
            Ok(pair) => return Ok(pair),
            Err(why) => {
                let sooner = match (soonest.as_ref().and_then(|other| other.ready.as_ref()), &why.ready) {
                    (None, _) => true,
                    (Some(_), None) => false,
                    (Some(other), Some(ready)) => ready <= other,
                };
                if sooner {
                    soonest = Some(why);
                }
            }
        }
    }
    match soonest {
        Some(Why { text, ready: Some(ready) }) => Err(format!("{text}; from {} on", day_and_hour(&ready))),
        Some(Why { text, ready: None }) => Err(format!("{text}; {}", begin_anew(plate, earlier, now))),
        None => Err(format!(
            "needs an earlier rest voltage of the same cell in the book; {}",
            begin_anew(plate, earlier, now)
        )),
    }
}

/// What to do when the present visit is the first that counts.
fn begin_anew(plate: &Nameplate, earlier: &[Visit], now: &Visit) -> String {
    if now.taken_ah.is_some_and(|taken| taken > MOST_TAKEN * plate.rated_capacity_ah) {
        return "this test took too much out: the number takes a cell of 60 % charge or more that has lain unused, its \
                rest voltage after 24 h and again 72 h later"
            .to_owned();
    }
    match rested_since(now, earlier.last()).is_some_and(|rested| rested >= REST) {
        true => format!(
            "let it lie unused and take its rest voltage again from {} on",
            day_and_hour(&later(&now.at, WINDOW))
        ),
        false => format!(
            "let it lie unused, take its rest voltage from {} on and again 72 h after that",
            day_and_hour(&later(&now.at, REST))
        ),
    }
}

fn compared<'a>(plate: &Nameplate, visits: &'a [Visit], index: usize, now: &Visit) -> Result<Pair<'a>, Why> {
    let never = |text: String| Why { text, ready: None };
    let Some((first, others)) = visits.get(index..).and_then(<[Visit]>::split_first) else {
        return Err(never("there is no such visit".to_owned()));
    };
    let (Some((volts, temperature)), Some((volts_now, temperature_now))) = (first.rest, now.rest) else {
        return Err(never("the earlier visit has no rest voltage with a temperature".to_owned()));
    };
    if let Some(charge) = others.iter().rev().find(|visit| visit.charged) {
        let on = day_and_hour(&charge.at);
        return Err(never(format!("it came off the charger on {on}, which begins a new storage")));
    }
    let taken: Option<f64> = std::iter::once(first).chain(others).map(|visit| visit.taken_ah).sum();
    let Some(taken_ah) = taken else {
        return Err(never("a test since then broke off; what it took out is not known".to_owned()));
    };
    if taken_ah.abs() > MOST_TAKEN * plate.rated_capacity_ah {
        return Err(never(format!(
            "{taken_ah:.2} Ah were taken out since the earlier visit, which begins a new storage"
        )));
    }
    let place = curve(plate).map_err(never)?.place_of(volts);
    if place.charge < LEAST_CHARGE {
        return Err(never(format!(
            "at {:.0} % charge the voltage hardly moves; it takes {:.0} % or more",
            place.charge * 100.0,
            LEAST_CHARGE * 100.0
        )));
    }
    if volts_now > volts + MOST_RISE_V {
        let rise = (volts_now - volts) * 1e3;
        return Err(never(format!("the rest voltage has risen by {rise:.0} mV: it was charged meanwhile")));
    }
    let Some(rested) = rested(visits, index) else {
        return Err(never(format!(
            "how long the cell had rested before {} is not known; state the hours at rest at each visit",
            day_and_hour(&first.at)
        )));
    };
    if rested < REST {
        return Err(never(format!(
            "the cell had rested {:.0} h before the earlier voltage; it takes 24 h",
            rested.as_secs_f64() / 3600.0
        )));
    }
    let span = now.at.duration_since(&first.at);
    if span < WINDOW {
        let text = format!(
            "only {:.0} h lie between both rest voltages; it takes 72 h",
            (span.as_secs_f64() / 3600.0).floor()
        );
        return Err(Why { text, ready: Some(later(&first.at, WINDOW)) });
    }
    let apart = temperature_now - temperature;
    if apart.abs() > MOST_APART_K {
        let text = format!(
            "the cell is at {temperature_now:.1} °C and was at {temperature:.1} °C; for a comparison both must be within \
             {MOST_APART_K} K: let it lie at {temperature:.0} °C for two hours and measure again"
        );
        return Err(Why { text, ready: Some(later(&now.at, SignedDuration::from_hours(2))) });
    }
    let (volts, temperatures) = ([volts, volts_now], [temperature, temperature_now]);
    Ok(Pair { first, volts, temperatures, place, taken_ah, rested, span })
}

/// Returns how long the cell had rested before a visit: as told, or since the visit before it.
fn rested(visits: &[Visit], index: usize) -> Option<SignedDuration> {
    let before = index.checked_sub(1).and_then(|before| visits.get(before));
    rested_since(visits.get(index)?, before)
}

fn rested_since(visit: &Visit, before: Option<&Visit>) -> Option<SignedDuration> {
    let told = visit
        .rested_h
        .filter(|hours| hours.is_finite())
        .map(|hours| SignedDuration::from_secs_f64(hours * 3600.0));
    let since = before.map(|before| visit.at.duration_since(&before.at));
    // The visit before may have loaded it: a person who tells more than that forgot the test.
    match (told, since) {
        (Some(told), Some(since)) => Some(told.min(since)),
        (told, since) => told.or(since),
    }
}

/// Estimates the loss per day of a pair whose second visit is `now`, which the method calls by `name`.
fn per_day(
    plate: &Nameplate,
    front_end: &FrontEnd,
    pair: &Pair<'_>,
    now: &Visit,
    name: &str,
) -> (Estimate, Place) {
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

fn per_month(daily: &Estimate, place: &Place) -> Estimate {
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

fn later(at: &ZonedDateTime, by: SignedDuration) -> ZonedDateTime {
    at.checked_add(by).unwrap_or_else(|_| at.clone())
}

fn day_and_hour(at: &ZonedDateTime) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}
