//! The values a decision needs: all there and young enough, or the finding that one is not.
//!
//! Takes readings, gives [`Values`] or the first missing or stale one. How old a reading may be follows from the
//! sample period, see [`limits::OLDEST_ELECTRICAL`] and [`limits::OLDEST_TEMPERATURE`].

use super::finding::{Finding, at_most, missing, signed};
use super::{Inputs, Terms};
use crate::readings::Aged;
use celltriage_protocol::event::{Sensor, TripCause};
use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros, MilliCelsius, NoData};

/// The values that a decision needs, all of them there.
#[derive(Clone, Copy)]
pub(super) struct Values {
    pub voltage: MicroVolts,
    pub current: MicroAmps,
    /// When voltage and current were read.
    pub at: Micros,
    pub cell: MilliCelsius,
    pub rise: MilliCelsius,
}

/// Returns the values where all of them are there and young enough; `strict` bears no failure since.
pub(super) fn values(now: Micros, inputs: &Inputs, terms: Terms, strict: bool) -> Result<Values, Finding> {
    let readings = &inputs.readings;
    let electrical = oldest_electrical(terms.period);
    let slow = oldest_slow(terms.period);
    let (voltage, _) = present(now, &readings.voltage, Sensor::Voltage, electrical, strict)?;
    let (current, at) = present(now, &readings.current, Sensor::Current, electrical, strict)?;
    let (cell, _) = present(now, &readings.cell, Sensor::CellTemperature, slow, strict)?;
    let (ambient, _) = present(now, &readings.ambient, Sensor::AmbientTemperature, slow, strict)?;
    // No limit of the guard needs the charge, but a bound of the plan does.
    present(now, &readings.charge, Sensor::Charge, slow, strict)?;
    Ok(Values { voltage, current, at, cell, rise: cell.saturating_sub(ambient) })
}

fn present<T: Copy>(
    now: Micros,
    reading: &Aged<T>,
    sensor: Sensor,
    oldest: Micros,
    strict: bool,
) -> Result<(T, Micros), Finding> {
    if let (true, Some(failure)) = (strict, reading.failure()) {
        return Err(missing(sensor, failure));
    }
    let (value, at) =
        reading.last().ok_or_else(|| missing(sensor, reading.failure().unwrap_or(NoData::NotYet)))?;
    at_most(TripCause::StaleReading, signed(now.saturating_sub(at)), signed(oldest))?;
    Ok((value, at))
}

/// Oldest voltage or current that counts.
pub(crate) fn oldest_electrical(period: Micros) -> Micros {
    limits::OLDEST_ELECTRICAL.saturating_add(three(period))
}

/// Oldest temperature or charge that counts.
pub(crate) fn oldest_slow(period: Micros) -> Micros {
    limits::OLDEST_TEMPERATURE.saturating_add(three(period))
}

const fn three(period: Micros) -> Micros {
    period.saturating_add(period).saturating_add(period)
}
