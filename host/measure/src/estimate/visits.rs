//! Visits of one cell at the bench: where a storage begins, and which two visits of it can be compared.

use super::open_circuit::{CurvePoint, curve};
use crate::nameplate::Nameplate;
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

/// A visit of the cell at the bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Visit {
    /// When.
    pub at: ZonedDateTime,
    /// Rest voltage in V with the cell's temperature in degC; `None` if either was not measured.
    pub rest: Option<(f64, f64)>,
    /// For how many hours the cell had rested before, as a person said.
    pub rested_h: Option<f64>,
    /// Charge in Ah that the test took out after the rest voltage; `None` if it is not known.
    pub taken_ah: Option<f64>,
    /// Which fixture, with which calibration.
    pub fixture: Option<String>,
    /// Whether this is not a measurement but the cell's coming off the charger.
    #[serde(default)]
    pub charged: bool,
}

/// Why a pair of visits gives no number, and from when on it could.
struct Why {
    text: String,
    ready: Option<ZonedDateTime>,
}

/// Two visits that can be compared.
pub(super) struct VisitPair<'a> {
    pub(super) first: &'a Visit,
    pub(super) volts: [f64; 2],
    pub(super) temperatures: [f64; 2],
    pub(super) place: CurvePoint,
    pub(super) taken_ah: f64,
    pub(super) rested: SignedDuration,
    pub(super) span: SignedDuration,
}

/// Returns how many of the earlier visits lie before the present storage; a test that took much out is the last of its own.
pub(super) fn begin_of_storage(plate: &Nameplate, earlier: &[Visit], now: &Visit) -> usize {
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
pub(super) fn pair<'a>(
    plate: &Nameplate,
    earlier: &'a [Visit],
    now: &Visit,
) -> Result<VisitPair<'a>, String> {
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

fn compared<'a>(
    plate: &Nameplate,
    visits: &'a [Visit],
    index: usize,
    now: &Visit,
) -> Result<VisitPair<'a>, Why> {
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
    Ok(VisitPair { first, volts, temperatures, place, taken_ah, rested, span })
}

/// Returns how long the cell had rested before a visit: as stated, or since the visit before it.
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

pub(super) fn later(at: &ZonedDateTime, by: SignedDuration) -> ZonedDateTime {
    at.checked_add(by).unwrap_or_else(|_| at.clone())
}

pub(super) fn day_and_hour(at: &ZonedDateTime) -> String {
    at.strftime("%Y-%m-%d %H:%M").to_string()
}
