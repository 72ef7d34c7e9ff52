//! The newest reading of each sensor, with its age.
//!
//! Takes each reading as it comes, gives the newest one as long as it is young enough. A failed reading does not
//! erase the last good one, but is remembered until the next good one: whoever needs a value *now* asks
//! [`Aged::within`], which knows no difference between failed, old and never there: all are no data.

use crate::second_look::Look;
use celltriage_protocol::units::{
    MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius, NoData, Reading,
};

/// The newest good reading of one sensor, when it was taken, and what has failed since.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Aged<T> {
    last: Option<(T, Micros)>,
    failure: Option<NoData>,
}

impl<T> Default for Aged<T> {
    fn default() -> Self {
        Self { last: None, failure: None }
    }
}

impl<T: Copy> Aged<T> {
    /// Takes a reading. [`NoData::NotYet`] is no failure but no news: it leaves everything as it is, only older.
    pub const fn take(&mut self, now: Micros, reading: Reading<T>) {
        match reading {
            Ok(value) => {
                self.last = Some((value, now));
                self.failure = None;
            }
            Err(NoData::NotYet) => {}
            Err(failure) => self.failure = Some(failure),
        }
    }

    /// Returns the last good value however old, and when it was taken.
    pub const fn last(&self) -> Option<(T, Micros)> {
        self.last
    }

    /// Returns why the newest attempt failed, if it did.
    pub const fn failure(&self) -> Option<NoData> {
        self.failure
    }

    /// Returns how old the last good value is; `None` if there never was one.
    pub fn age(&self, now: Micros) -> Option<Micros> {
        self.last.map(|(_, at)| now.saturating_sub(at))
    }

    /// Returns the value if nothing failed since and it is not older than `oldest`.
    ///
    /// # Errors
    /// The failure, or [`NoData::NotYet`] before the first reading, or [`NoData::Stale`].
    pub fn within(&self, now: Micros, oldest: Micros) -> Reading<T> {
        if let Some(failure) = self.failure {
            return Err(failure);
        }
        let (value, at) = self.last.ok_or(NoData::NotYet)?;
        if now.saturating_sub(at) > oldest { Err(NoData::Stale) } else { Ok(value) }
    }
}

/// The newest readings of all sensors.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Readings {
    /// Voltage at the sense leads.
    pub voltage: Aged<MicroVolts>,
    /// Current through the shunt, positive discharging.
    pub current: Aged<MicroAmps>,
    /// Temperature of the cell.
    pub cell: Aged<MilliCelsius>,
    /// Temperature of the air.
    pub ambient: Aged<MilliCelsius>,
    /// Charge counted since the plan started.
    pub charge: Aged<MicroCoulombs>,
    /// What the controller's own converter sees, apart from all of these.
    pub look: Aged<Look>,
}

impl Readings {
    /// Returns the last good rise of the cell over the air, however old.
    pub fn rise(&self) -> Option<MilliCelsius> {
        let (cell, _) = self.cell.last()?;
        let (ambient, _) = self.ambient.last()?;
        Some(cell.saturating_sub(ambient))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLDEST: Micros = Micros::from_millis(50);

    #[test]
    fn a_reading_is_good_until_it_is_too_old() {
        let mut aged = Aged::default();
        assert_eq!(aged.within(Micros::ZERO, OLDEST), Err(NoData::NotYet));
        aged.take(Micros::from_millis(10), Ok(MicroVolts::new(7)));
        assert_eq!(aged.within(Micros::from_millis(60), OLDEST), Ok(MicroVolts::new(7)));
        assert_eq!(aged.within(Micros::from_millis(61), OLDEST), Err(NoData::Stale));
        assert_eq!(aged.age(Micros::from_millis(61)), Some(Micros::from_millis(51)));
    }

    #[test]
    fn a_failure_counts_at_once_and_ends_with_the_next_good_reading() {
        let mut aged = Aged::default();
        aged.take(Micros::ZERO, Ok(MicroVolts::new(7)));
        aged.take(Micros::new(1), Err(NoData::NoAnswer));
        assert_eq!(aged.within(Micros::new(1), OLDEST), Err(NoData::NoAnswer));
        assert_eq!(aged.last(), Some((MicroVolts::new(7), Micros::ZERO)));
        aged.take(Micros::new(2), Ok(MicroVolts::new(8)));
        assert_eq!(aged.within(Micros::new(2), OLDEST), Ok(MicroVolts::new(8)));
    }

    #[test]
    fn no_new_conversion_neither_fails_nor_refreshes() {
        let mut aged = Aged::default();
        aged.take(Micros::ZERO, Ok(MicroVolts::new(7)));
        aged.take(Micros::from_millis(51), Err(NoData::NotYet));
        assert_eq!(aged.failure(), None);
        assert_eq!(aged.within(Micros::from_millis(51), OLDEST), Err(NoData::Stale));
    }
}
