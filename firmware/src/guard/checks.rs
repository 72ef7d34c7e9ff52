//! What the guard looks for in each of its states, most telling cause first.
//!
//! Takes readings and limits, gives the first [`Finding`]. No effects. Limits and their sources:
//! [`celltriage_protocol::limits`].

use super::finding::{Check, Finding, at_least, at_most, missing, signed};
use super::second_look::check_present;
use super::values::{Values, oldest_electrical, values};
use super::{Guard, Inputs, Load, REST_READINGS, Terms};
use crate::sequencer::IDLE_PERIOD;
use celltriage_protocol::event::{Sensor, TripCause};
use celltriage_protocol::limits;
use celltriage_protocol::plan::Permit;
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros, MilliCelsius, NoData};

impl Guard {
    /// No plan: an empty fixture must be left alone, but a sink that conducts by itself is told.
    pub(super) fn check_idle(&self, now: Micros, inputs: &Inputs) -> Check {
        match inputs.readings.current.within(now, oldest_electrical(IDLE_PERIOD)) {
            Ok(current) => self.check_off(current, inputs.readings.current.last().map_or(now, |(_, at)| at)),
            Err(_) => Ok(()),
        }
    }

    /// A plan runs without a load: one missing reading is borne until the last good one is too old.
    pub(super) fn check_rest(&self, now: Micros, inputs: &Inputs, terms: Terms) -> Check {
        check_set_up(inputs)?;
        check_polarity(inputs)?;
        let values = values(now, inputs, terms, false)?;
        check_host(now, inputs)?;
        check_over_voltage(&values, terms)?;
        check_over_temperature(&values)?;
        self.check_warmth_at_rest(now, &values)?;
        self.check_off(values.current, values.at)
    }

    /// A load is about to be switched on.
    pub(super) fn check_before_load(
        &self,
        now: Micros,
        inputs: &Inputs,
        terms: Terms,
        current: MicroAmps,
    ) -> Check {
        check_set_up(inputs)?;
        check_permit(terms, current)?;
        check_polarity(inputs)?;
        let values = values(now, inputs, terms, true)?;
        check_host(now, inputs)?;
        // Before the voltage window: an open lead reads anything, also "deeply discharged".
        self.check_contact()?;
        at_least(TripCause::VoltageLow, values.voltage.get(), limits::LOWEST_START.get())?;
        check_over_voltage(&values, terms)?;
        at_least(TripCause::TemperatureLow, values.cell.get(), limits::COLDEST_START.get())?;
        at_most(TripCause::TemperatureHigh, values.cell.get(), limits::WARMEST_START.get())?;
        self.check_second_look(now, inputs, terms)?;
        self.check_warmth_at_rest(now, &values)?;
        self.check_heat()?;
        self.check_off(values.current, values.at)
    }

    /// The load is on: one missing reading is enough to switch it off.
    pub(super) fn check_under_load(
        &self,
        now: Micros,
        inputs: &Inputs,
        terms: Terms,
        current: MicroAmps,
        load: Load,
    ) -> Check {
        check_set_up(inputs)?;
        check_permit(terms, current)?;
        check_polarity(inputs)?;
        let values = values(now, inputs, terms, true)?;
        // If nobody looked for so long, the load was on unwatched, whatever the newest reading says.
        let unwatched = values.at.saturating_sub(self.seen);
        at_most(TripCause::StaleReading, signed(unwatched), signed(oldest_electrical(terms.period)))?;
        check_host(now, inputs)?;
        // Before anything that believes the readings.
        self.unchanged.check(terms.period)?;
        check_current(&values, load)?;
        at_least(TripCause::VoltageFloor, values.voltage.get(), terms.floor.get())?;
        check_over_voltage(&values, terms)?;
        self.check_second_look(now, inputs, terms)?;
        check_over_temperature(&values)?;
        at_most(TripCause::TemperatureRise, values.rise.get(), limits::LARGEST_RISE.get())?;
        at_most(TripCause::RiseRate, self.warming.per_minute().get(), limits::FASTEST_LOADED_WARMING.get())?;
        self.check_heat()
    }

    /// No load without a second look, and none that it contradicts.
    fn check_second_look(&self, now: Micros, inputs: &Inputs, terms: Terms) -> Check {
        check_present(now, inputs, terms)?;
        self.second_look.check()
    }

    fn check_contact(&self) -> Check {
        if self.rest_voltages.len() < REST_READINGS {
            return Err(missing(Sensor::Voltage, NoData::NotYet));
        }
        let highest = self.rest_voltages.iter().max().copied().unwrap_or(MicroVolts::MAX);
        let lowest = self.rest_voltages.iter().min().copied().unwrap_or(MicroVolts::ZERO);
        at_most(TripCause::Contact, highest.saturating_sub(lowest).get(), limits::CONTACT_SPREAD.get())
    }

    /// Without a load a cell must not be warmer than the air, except for what a load of this plan has left, and must
    /// not warm up. For one span after a load the loaded rate counts: the past still has the load in it.
    fn check_warmth_at_rest(&self, now: Micros, values: &Values) -> Check {
        let left = self.left_warm.map_or(MilliCelsius::ZERO, |left| left.max(MilliCelsius::ZERO));
        let largest = left.saturating_add(limits::LARGEST_REST_RISE).min(limits::LARGEST_RISE);
        at_most(TripCause::TemperatureRise, values.rise.get(), largest.get())?;
        let just_loaded = self.is_loaded()
            || self.left_warm.is_some() && now.saturating_sub(self.off_since) <= limits::WARMING_SPAN;
        let fastest = if just_loaded { limits::FASTEST_LOADED_WARMING } else { limits::FASTEST_REST_WARMING };
        at_most(TripCause::RiseRate, self.warming.per_minute().get(), fastest.get())
    }

    fn check_heat(&self) -> Check {
        at_most(TripCause::SinkEnergy, self.heat.held().get(), limits::SINK_STORE.get())
    }

    /// With the load off for long enough no current may flow, in either direction.
    fn check_off(&self, current: MicroAmps, at: Micros) -> Check {
        if self.is_loaded() || at < self.off_since.saturating_add(limits::SETTLE) {
            return Ok(());
        }
        let limit = limits::OFF_CURRENT.get();
        if current.get().unsigned_abs() > limit.unsigned_abs() {
            let (value, limit) = (i64::from(current.get()), i64::from(limit));
            return Err(Finding { cause: TripCause::ConductsWhenOff, value, limit });
        }
        Ok(())
    }
}

pub(super) fn check_set_up(inputs: &Inputs) -> Check {
    match inputs.not_set_up {
        Some(chip) => Err(Finding { cause: TripCause::SetUp, value: i64::from(chip), limit: 0 }),
        None => Ok(()),
    }
}

fn check_permit(terms: Terms, current: MicroAmps) -> Check {
    match terms.permit {
        Permit::Load => Ok(()),
        Permit::WatchOnly => {
            Err(Finding { cause: TripCause::Forbidden, value: i64::from(current.get()), limit: 0 })
        }
    }
}

pub(super) fn check_polarity(inputs: &Inputs) -> Check {
    if inputs.reversed { Err(Finding { cause: TripCause::Polarity, value: 1, limit: 0 }) } else { Ok(()) }
}

fn check_host(now: Micros, inputs: &Inputs) -> Check {
    let silence = now.saturating_sub(inputs.last_word);
    at_most(TripCause::HostSilent, signed(silence), signed(limits::HOST_SILENCE))
}

fn check_over_voltage(values: &Values, terms: Terms) -> Check {
    let limit = terms.charge_limit.saturating_add(limits::OVER_CHARGE_MARGIN);
    at_most(TripCause::VoltageHigh, values.voltage.get(), limit.get())
}

fn check_over_temperature(values: &Values) -> Check {
    at_most(TripCause::OverTemperature, values.cell.get(), limits::HOTTEST.get())
}

/// The current must neither exceed its set point nor, once it had time to arrive, fall short of it.
fn check_current(values: &Values, load: Load) -> Check {
    let settled = values.at >= load.since.saturating_add(limits::SETTLE);
    let expected = if settled { load.set_point } else { load.set_point.max(load.before) };
    let tenth = MicroAmps::new(expected.get() / 10);
    let highest =
        expected.saturating_add(tenth).saturating_add(limits::CURRENT_MARGIN).min(limits::CURRENT_CEILING);
    at_most(TripCause::OverCurrent, values.current.get(), highest.get())?;
    if !settled {
        return Ok(());
    }
    // A set point smaller than the margin would allow no current at all: half of it must always be there.
    let set_point = load.set_point.get();
    let short_by = (set_point / 10).max(limits::CURRENT_MARGIN.get()).min(set_point / 2);
    at_least(TripCause::ContactLost, values.current.get(), set_point.saturating_sub(short_by))
}
