//! The question at the bench: does the cell explain what the device did?
//!
//! Input: what a person says of the device ([`DeviceSaid`]) and the evidence of a screen; output: that the cell explains it, does not, or
//! that it cannot be told, with the number that says so, its interval and what it was held against. It takes no part in the decision
//! about the cell, and says nothing of the device: what the cell does not explain may have any other cause.
//!
//! An answer needs the whole 95 % interval on one side. Where the device's current or its lowest voltage is not known, only what holds
//! for every device is said.

use crate::evidence::Evidence;
use crate::figure::{figure, limit_figure};
use crate::judge::judge;
use crate::limit::{Guard, Limit};
use crate::measurand::Measurand;
use crate::measured::Measured;
use crate::reason::Finding;
use celltriage_measure::estimate::{HELD_S, Quantity, voltage_under_load};
use celltriage_measure::observation::{DeviceDid, DeviceSaid};
use celltriage_measure::uncertainty::PRACTICALLY_NORMAL;
use serde::{Deserialize, Serialize};

/// One-sided risk of a wrong answer: the ends of a 95 % interval.
const RISK: f64 = 0.025;
/// Below this at the connector a device gets nothing to start with (the limit of the policy's `own_voltage`, written again).
const NOTHING_V: f64 = 0.5;
/// A cell that rests warmer than the air by more makes heat without any current, in K (the policy's `self_warming`).
const WARM_BY_ITSELF_K: f64 = 2.0;
/// How much warmer a cell becomes per watt: bare in still air to wrapped in a device, in K/W (from memory; wide on purpose).
const KELVIN_PER_WATT: [f64; 2] = [4.0, 15.0];
/// A rise that nobody calls hot, and one that everybody feels, in K (our choice).
const NOT_HOT_K: f64 = 3.0;
const HOT_K: f64 = 10.0;

/// Whether the cell explains it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Explains {
    /// It does.
    Yes,
    /// It does not, in the state in which it was measured.
    No,
    /// What was measured does not tell.
    CannotTell,
}

/// The answer, and what it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DeviceAnswer {
    /// What the person said.
    pub said: DeviceSaid,
    /// Whether the cell explains it.
    pub explains: Explains,
    /// The answer in words.
    pub statement: String,
    /// The number that it rests on, in `unit`, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Its 95 % interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interval: Option<[f64; 2]>,
    /// What it was held against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// Unit of the three.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
}

/// A number with its interval beside what it was held against.
struct Held {
    measured: Measured,
    limit: f64,
    unit: &'static str,
}

impl Held {
    fn new(measured: Measured, limit: f64, unit: &'static str) -> Self {
        Self { measured, limit, unit }
    }

    /// Returns on which side of the limit the whole interval lies; inconclusive over it.
    fn at_least(&self) -> Finding {
        self.finding(Limit::AtLeast { limit: self.limit, doubtful: self.limit })
    }

    fn at_most(&self) -> Finding {
        self.finding(Limit::AtMost { limit: self.limit, doubtful: self.limit })
    }

    fn finding(&self, limit: Limit) -> Finding {
        judge(limit, &self.measured, Guard::for_risk(RISK)).map_or(Finding::Missing, |(finding, _)| finding)
    }

    fn interval(&self) -> [f64; 2] {
        interval(&self.measured)
    }

    fn words(&self) -> String {
        let [low, high] = self.interval();
        format!(
            "{} ({} to {})",
            figure(self.measured.value, self.unit),
            figure(low, self.unit),
            figure(high, self.unit)
        )
    }
}

/// Returns the answer to what a person asked; `None` without a question.
pub fn answer_device(evidence: &Evidence<'_>) -> Option<DeviceAnswer> {
    let said = evidence.observations.device?;
    let (explains, told, held) = match said.did {
        DeviceDid::HotWhileCharging => hot(said, evidence),
        DeviceDid::DoesNotStart | DeviceDid::ShutsOff => starved(said, evidence),
    };
    let begins = match explains {
        Explains::Yes => "The cell explains it",
        Explains::No => "The cell does not explain it",
        Explains::CannotTell => "Whether the cell explains it cannot be told",
    };
    Some(DeviceAnswer {
        said,
        explains,
        statement: format!("The device {}. {begins}: {told}.", said.did.words()),
        value: held.as_ref().map(|held| held.measured.value),
        interval: held.as_ref().map(Held::interval),
        limit: held.as_ref().map(|held| held.limit),
        unit: held.as_ref().map(|held| held.unit.to_owned()),
    })
}

/// Returns the interval whose ends carry the risk of a wrong answer.
fn interval(measured: &Measured) -> [f64; 2] {
    let (below, above) = measured.reach(measured.coverage(Guard::for_risk(RISK)));
    [measured.value - below, measured.value + above]
}

type Found = (Explains, String, Option<Held>);

fn look_up(quantity: Quantity, evidence: &Evidence<'_>) -> Result<Measured, String> {
    Measurand::Estimate(quantity).look_up(evidence).map(|found| found.measured)
}

/// A device that gets too little voltage: at rest already, or under its current.
fn starved(said: DeviceSaid, evidence: &Evidence<'_>) -> Found {
    let rest = match look_up(Quantity::RestVoltage, evidence) {
        Ok(rest) => rest,
        Err(why) => return (Explains::CannotTell, format!("no voltage at rest ({why})"), None),
    };
    // What every device needs, where this one's lowest voltage is not known.
    let end = evidence.nameplate.end_of_discharge_v;
    let lowest = said.lowest_v.unwrap_or(end);
    let nothing = Held::new(rest, NOTHING_V, "V");
    if nothing.at_least() == Finding::Fail {
        let told = format!(
            "its connector shows {}: an open protection, a broken lead or an empty cell gives a device nothing",
            nothing.words()
        );
        return (Explains::Yes, told, Some(nothing));
    }
    let at_rest = Held::new(rest, lowest, "V");
    if at_rest.at_least() == Finding::Fail {
        let told = format!("it rests at {}, below {}", at_rest.words(), named(said, lowest));
        return (Explains::Yes, told, Some(at_rest));
    }
    let Some(current) = said.current_a else {
        let told = format!(
            "it rests at {}; what it gives under the device's current is told once that current is said",
            at_rest.words()
        );
        return (Explains::CannotTell, told, Some(at_rest));
    };
    let under = match voltage_under_load(evidence.estimates, current) {
        Ok(under) => under,
        Err(why) => return (Explains::CannotTell, why, None),
    };
    let degrees = Some(under.budget.degrees_of_freedom).filter(|degrees| *degrees < PRACTICALLY_NORMAL);
    let measured = Measured {
        degrees_of_freedom: degrees,
        ..Measured::new(under.budget.value, under.budget.standard_uncertainty)
    };
    let held = Held::new(measured, lowest, "V");
    let gives = format!("after {HELD_S:.0} s of {current} A it gives {}", held.words());
    match (held.at_least(), said.lowest_v) {
        (Finding::Fail, _) => (Explains::Yes, format!("{gives}, below {}", named(said, lowest)), Some(held)),
        (Finding::Pass, Some(_)) => {
            let from = lowest + under.fall_v;
            let told = format!(
                "{gives}, above {}, at its present charge. It would once it rests below about {}",
                named(said, lowest),
                figure(from, "V")
            );
            (Explains::No, told, Some(held))
        }
        (Finding::Pass, None) => {
            let told = format!(
                "{gives}; with which voltage the device stops was not said, and many stop above {}",
                named(said, lowest)
            );
            (Explains::CannotTell, told, Some(held))
        }
        _ => (Explains::CannotTell, format!("{gives}, too close to {}", named(said, lowest)), Some(held)),
    }
}

fn named(said: DeviceSaid, lowest: f64) -> String {
    let what = match said.lowest_v {
        Some(_) => "the lowest voltage of the device",
        None => "the end of discharge on the label",
    };
    format!("{} ({what})", limit_figure(lowest, "V"))
}

/// A device that became hot: the cell makes heat by itself, or by its resistance under the charging current.
fn hot(said: DeviceSaid, evidence: &Evidence<'_>) -> Found {
    let rise = match look_up(Quantity::RestTemperatureRise, evidence) {
        Ok(rise) => Held::new(rise, WARM_BY_ITSELF_K, "K"),
        Err(why) => return (Explains::CannotTell, format!("no warmth at rest ({why})"), None),
    };
    let cools = evidence.estimates.get(Quantity::RestTemperatureRise).and_then(|rise| rise.conditions.cools);
    let resting = format!("at rest it is {} warmer than the air", rise.words());
    match (rise.at_most(), cools) {
        (Finding::Pass, _) => {}
        (Finding::Fail, None | Some(false)) => {
            return (Explains::Yes, format!("{resting}, without any current"), Some(rise));
        }
        _ => {
            return (
                Explains::CannotTell,
                format!("{resting}; let it lie for an hour and look again"),
                Some(rise),
            );
        }
    }
    let Some(current) = said.current_a else {
        let told = format!("{resting}; what its resistance adds is told once the charging current is said");
        return (Explains::CannotTell, told, Some(rise));
    };
    let resistance = match look_up(Quantity::Resistance10Seconds, evidence) {
        Ok(resistance) => resistance,
        Err(why) => return (Explains::CannotTell, format!("{resting}; no resistance at 10 s ({why})"), None),
    };
    let watts = |ohm: f64| current * current * ohm.max(0.0);
    let ([lowest, highest], [least, most]) = (interval(&resistance), KELVIN_PER_WATT);
    let (low, high) = (watts(lowest) * least, watts(highest) * most);
    let told = format!(
        "{resting}, and {current} A through its resistance make {:.2} W, which warm it by {low:.1} to {high:.1} K. What else it does \
         while it is charged was not measured",
        watts(resistance.value)
    );
    let explains = match () {
        () if high < NOT_HOT_K => Explains::No,
        () if low > HOT_K => Explains::Yes,
        () => Explains::CannotTell,
    };
    (explains, told, Some(rise))
}
