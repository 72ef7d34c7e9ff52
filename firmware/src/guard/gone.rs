//! Whether the cause of a latched trip is gone, so that a person may have it forgotten.
//!
//! Takes the trip and the readings, gives nothing or the value that is still beyond its limit.

use super::checks::{check_polarity, check_set_up};
use super::finding::{Check, Finding, at_most};
use super::second_look::check_current_gone;
use super::values::{oldest_electrical, oldest_slow};
use super::{Guard, Inputs};
use crate::sequencer::IDLE_PERIOD;
use celltriage_protocol::event::{Trip, TripCause};
use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroVolts, Micros, MilliCelsius};

impl Guard {
    /// Says whether the cause of a trip is gone, with the load off.
    ///
    /// What only matters under a load is gone with it and is looked for again before the next one. What goes on
    /// without a load must be seen to be over, on fresh readings.
    pub(super) fn check_gone(&self, trip: &Trip, now: Micros, inputs: &Inputs) -> Check {
        let Trip { cause, value, limit, .. } = *trip;
        let readings = &inputs.readings;
        // Without a fresh reading the value that tripped is taken to be still there.
        let below_limit = |fresh: Option<i32>| {
            let value = fresh.map_or(value, i64::from);
            if fresh.is_none() || value > limit { Err(Finding { cause, value, limit }) } else { Ok(()) }
        };
        let electrical = oldest_electrical(IDLE_PERIOD);
        let voltage = readings.voltage.within(now, electrical).ok();
        let current = readings.current.within(now, electrical).ok();
        let cell = readings.cell.within(now, oldest_slow(IDLE_PERIOD)).ok();
        let ambient = readings.ambient.within(now, oldest_slow(IDLE_PERIOD)).ok();
        match cause {
            TripCause::Polarity => check_polarity(inputs),
            TripCause::VoltageHigh => below_limit(voltage.map(MicroVolts::get)),
            TripCause::TemperatureHigh | TripCause::OverTemperature => {
                below_limit(cell.map(MilliCelsius::get))
            }
            TripCause::TemperatureRise => {
                below_limit(cell.zip(ambient).map(|(cell, ambient)| cell.saturating_sub(ambient).get()))
            }
            TripCause::RiseRate => below_limit(cell.map(|_| self.warming.per_minute().get())),
            TripCause::OverCurrent | TripCause::ConductsWhenOff => {
                let limit = i64::from(limits::OFF_CURRENT.get());
                match current.map(|current| i64::from(current.get().unsigned_abs())) {
                    Some(value) if value <= limit => Ok(()),
                    still => Err(Finding { cause, value: still.unwrap_or(value), limit }),
                }
            }
            TripCause::SinkEnergy => {
                // Half the store, so that the next pulse does not trip again at once.
                at_most(cause, self.heat.held().get(), limits::SINK_STORE.get() / 2)
            }
            TripCause::StaleReading | TripCause::MissingReading => match (voltage, current, cell, ambient) {
                (Some(_), Some(_), Some(_), Some(_)) => self.unchanged.check(IDLE_PERIOD),
                _ => Err(Finding { cause, value, limit }),
            },
            TripCause::SetUp => check_set_up(inputs),
            TripCause::SecondLookMissing | TripCause::SecondLookCurrent => {
                check_current_gone(now, inputs, electrical)
            }
            TripCause::VoltageLow
            | TripCause::TemperatureLow
            | TripCause::Contact
            | TripCause::VoltageFloor
            | TripCause::ContactLost
            | TripCause::HostSilent
            | TripCause::SecondLookVoltage
            | TripCause::Forbidden => Ok(()),
        }
    }
}
