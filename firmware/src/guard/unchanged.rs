//! Readings that stand still: how often voltage and current came out the same in a row under load.
//!
//! Takes each new reading, gives the counts. A converter that has stopped may go on saying that its results are new;
//! then only this tells: noise moves the last digits of a working one all the time. A reading is the same only where
//! its code of twenty bits is, since no calibration maps two codes to one value ([`crate::convert`] tests it). How many
//! are too many, and how rarely a working converter gets there: [`limits::MOST_SAME_CURRENTS`] and
//! [`limits::MOST_SAME_VOLTAGES`].

use super::finding::{Check, Finding, signed};
use celltriage_protocol::event::TripCause;
use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros};

/// One reading and how often it came in a row.
#[derive(Clone, Copy, Debug)]
struct Run<T> {
    value: Option<T>,
    count: u32,
}

impl<T> Default for Run<T> {
    fn default() -> Self {
        Self { value: None, count: 0 }
    }
}

impl<T: Copy + PartialEq> Run<T> {
    fn take(&mut self, value: T) {
        self.count = if self.value == Some(value) { self.count.saturating_add(1) } else { 1 };
        self.value = Some(value);
    }

    /// Counts no further; another value ends the run.
    fn compare(&mut self, value: T) {
        if self.value != Some(value) {
            *self = Self::default();
        }
    }

    /// Tells a run that is too long, as the time for which nothing new was read.
    fn check(&self, most: u32, period: Micros) -> Check {
        if self.count <= most {
            return Ok(());
        }
        let span = |count: u32| signed(Micros::new(period.get().saturating_mul(u64::from(count))));
        Err(Finding { cause: TripCause::StaleReading, value: span(self.count), limit: span(most) })
    }
}

/// The runs of both electrical readings.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Unchanged {
    voltage: Run<MicroVolts>,
    current: Run<MicroAmps>,
}

impl Unchanged {
    /// Takes a new reading under load.
    pub fn take(&mut self, voltage: MicroVolts, current: MicroAmps) {
        self.voltage.take(voltage);
        self.current.take(current);
    }

    /// Looks at a new reading after a trip: a run that was too long stays so until another value comes.
    pub fn compare(&mut self, voltage: MicroVolts, current: MicroAmps) {
        self.voltage.compare(voltage);
        self.current.compare(current);
    }

    /// Finds a reading that stands still; `period` is the time between two readings.
    pub fn check(&self, period: Micros) -> Check {
        self.current.check(limits::MOST_SAME_CURRENTS, period)?;
        self.voltage.check(limits::MOST_SAME_VOLTAGES, period)
    }
}
