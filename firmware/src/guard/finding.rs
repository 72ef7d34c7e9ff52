//! What a check of the guard finds: the limit that is broken, with the value that broke it.

use celltriage_protocol::event::{Sensor, TripCause};
use celltriage_protocol::units::{Micros, NoData};

/// A broken limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Finding {
    /// What was found.
    pub cause: TripCause,
    /// The value that broke the limit, in the unit of the cause.
    pub value: i64,
    /// The limit.
    pub limit: i64,
}

pub(super) type Check = Result<(), Finding>;

pub(super) fn at_most<T: Into<i64>>(cause: TripCause, value: T, limit: T) -> Check {
    let (value, limit) = (value.into(), limit.into());
    if value > limit { Err(Finding { cause, value, limit }) } else { Ok(()) }
}

pub(super) fn at_least<T: Into<i64>>(cause: TripCause, value: T, limit: T) -> Check {
    let (value, limit) = (value.into(), limit.into());
    if value < limit { Err(Finding { cause, value, limit }) } else { Ok(()) }
}

pub(super) const fn missing(sensor: Sensor, cause: NoData) -> Finding {
    Finding { cause: TripCause::MissingReading, value: sensor as i64, limit: cause as i64 }
}

pub(super) fn signed(span: Micros) -> i64 {
    i64::try_from(span.get()).unwrap_or(i64::MAX)
}
