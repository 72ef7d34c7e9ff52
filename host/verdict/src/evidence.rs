//! What a decision rests on: the label, what was seen, what was measured, and how the measurement went.

use crate::contradiction::Contradiction;
use crate::known_finding::KnownFinding;
use crate::label_of_model::LabelOfModel;
use crate::lifetime::Lifetime;
use celltriage_measure::estimate::Estimates;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_protocol::event::{Trip, TripCause};
use serde::{Deserialize, Serialize};

/// How the measurement went. Nothing but a finished or a recorded one can lead to `reuse`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum RunOutcome {
    /// The fixture ran the whole plan.
    Complete,
    /// The trace was recorded elsewhere; only what it shows is known.
    Recorded,
    /// The program ended it as soon as the answer was settled: reuse was proven, or could no longer be.
    Settled,
    /// It was ended before its end, by a person, a bound or a lost link.
    Unfinished {
        /// Why, in words.
        why: String,
    },
    /// The fixture's guard dropped the load.
    Tripped {
        /// Name of the cause, see [`trip_key`].
        cause: String,
        /// What broke the limit, in `unit`.
        value: f64,
        /// The limit, in `unit`.
        limit: f64,
        /// Symbol of the unit; empty for a plain number.
        unit: String,
    },
    /// Nothing was measured.
    NotMeasured {
        /// Why, in words.
        why: String,
    },
}

impl RunOutcome {
    /// Makes the outcome of a trip, its integers turned into the units that people read.
    pub fn from_trip(trip: &Trip) -> Self {
        let (unit, scale) = trip_unit(trip.cause);
        Self::Tripped {
            cause: trip_key(trip.cause).to_owned(),
            value: trip.value as f64 * scale,
            limit: trip.limit as f64 * scale,
            unit: unit.to_owned(),
        }
    }

    /// Returns whether a test came to its end.
    pub fn is_finished(&self) -> bool {
        matches!(self, RunOutcome::Complete | RunOutcome::Recorded | RunOutcome::Settled)
    }
}

/// All causes of a trip that a policy may name.
pub const TRIP_CAUSES: [TripCause; 22] = [
    TripCause::Polarity,
    TripCause::VoltageLow,
    TripCause::VoltageHigh,
    TripCause::TemperatureLow,
    TripCause::TemperatureHigh,
    TripCause::Contact,
    TripCause::VoltageFloor,
    TripCause::OverCurrent,
    TripCause::OverTemperature,
    TripCause::TemperatureRise,
    TripCause::RiseRate,
    TripCause::SinkEnergy,
    TripCause::ContactLost,
    TripCause::StaleReading,
    TripCause::MissingReading,
    TripCause::ConductsWhenOff,
    TripCause::HostSilent,
    TripCause::Forbidden,
    TripCause::SetUp,
    TripCause::SecondLookMissing,
    TripCause::SecondLookVoltage,
    TripCause::SecondLookCurrent,
];

/// How the criteria of the guard's trips begin; the name of the cause follows.
pub const TRIP: &str = "trip_";

/// Returns the name of a cause in policies and JSON.
pub const fn trip_key(cause: TripCause) -> &'static str {
    match cause {
        TripCause::Polarity => "polarity",
        TripCause::VoltageLow => "voltage_low",
        TripCause::VoltageHigh => "voltage_high",
        TripCause::TemperatureLow => "temperature_low",
        TripCause::TemperatureHigh => "temperature_high",
        TripCause::Contact => "contact",
        TripCause::VoltageFloor => "voltage_floor",
        TripCause::OverCurrent => "over_current",
        TripCause::OverTemperature => "over_temperature",
        TripCause::TemperatureRise => "temperature_rise",
        TripCause::RiseRate => "rise_rate",
        TripCause::SinkEnergy => "sink_energy",
        TripCause::ContactLost => "contact_lost",
        TripCause::StaleReading => "stale_reading",
        TripCause::MissingReading => "missing_reading",
        TripCause::ConductsWhenOff => "conducts_when_off",
        TripCause::HostSilent => "host_silent",
        TripCause::Forbidden => "forbidden",
        TripCause::SetUp => "set_up",
        TripCause::SecondLookMissing => "second_look_missing",
        TripCause::SecondLookVoltage => "second_look_voltage",
        TripCause::SecondLookCurrent => "second_look_current",
    }
}

/// Returns the unit of a cause's numbers and the factor from the wire's integers.
const fn trip_unit(cause: TripCause) -> (&'static str, f64) {
    match cause {
        TripCause::VoltageLow
        | TripCause::VoltageHigh
        | TripCause::VoltageFloor
        | TripCause::Contact
        | TripCause::SecondLookVoltage => ("V", 1e-6),
        TripCause::TemperatureLow | TripCause::TemperatureHigh | TripCause::OverTemperature => ("degC", 1e-3),
        TripCause::TemperatureRise => ("K", 1e-3),
        TripCause::RiseRate => ("K/min", 1e-3),
        TripCause::OverCurrent
        | TripCause::ContactLost
        | TripCause::ConductsWhenOff
        | TripCause::SecondLookCurrent
        | TripCause::Forbidden => ("A", 1e-6),
        TripCause::SinkEnergy => ("J", 1e-6),
        TripCause::StaleReading | TripCause::HostSilent => ("s", 1e-6),
        TripCause::Polarity | TripCause::MissingReading | TripCause::SetUp | TripCause::SecondLookMissing => {
            ("", 1.0)
        }
    }
}

/// Everything a decision rests on.
#[derive(Clone, Copy, Debug)]
pub struct Evidence<'a> {
    /// The label.
    pub nameplate: &'a Nameplate,
    /// What the person saw.
    pub observations: &'a Observations,
    /// What was measured.
    pub estimates: &'a Estimates,
    /// How the measurement went.
    pub run: &'a RunOutcome,
    /// What was found of it before, and stands.
    pub known: &'a [KnownFinding],
    /// What is recorded of its life before.
    pub lifetime: Option<&'a Lifetime>,
    /// What cannot follow from what was measured of it before.
    pub contradictions: &'a [Contradiction],
    /// What stands on the labels of other cells of the model, by rated capacity.
    pub labels_of_model: &'a [LabelOfModel],
    /// Whether it was measured elsewhere or before, and read from a file: perhaps before what stands was found.
    pub from_file: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_protocol::units::Micros;

    #[test]
    fn every_cause_of_a_trip_has_its_own_name() {
        let names: std::collections::BTreeSet<_> = TRIP_CAUSES.into_iter().map(trip_key).collect();
        assert_eq!(names.len(), TRIP_CAUSES.len());
        // The numbers on the wire run without a gap, so the list is complete when its last number fits its length.
        assert_eq!(TripCause::SecondLookCurrent as usize + 1, TRIP_CAUSES.len());
    }

    #[test]
    fn a_trip_is_told_in_units_that_people_read() {
        let trip = |cause, value, limit| Trip { number: 1, cause, value, limit, at: Micros::from_secs(1) };
        let told = RunOutcome::from_trip(&trip(TripCause::TemperatureRise, 8_250, 8_000));
        let expected = RunOutcome::Tripped {
            cause: "temperature_rise".to_owned(),
            value: 8.25,
            limit: 8.0,
            unit: "K".to_owned(),
        };
        assert_eq!(told, expected);
        let json = serde_json::to_string(&told).unwrap();
        assert_eq!(
            json,
            r#"{"outcome":"tripped","cause":"temperature_rise","value":8.25,"limit":8.0,"unit":"K"}"#
        );
        assert_eq!(serde_json::to_string(&RunOutcome::Complete).unwrap(), r#"{"outcome":"complete"}"#);
    }
}
