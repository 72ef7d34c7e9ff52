//! What is wanted of a hot-cell watch, and the terms it becomes: how long, how often, and where alarms begin.

use crate::clock::Clock;
use crate::fault::Result;
use crate::fixture::FixtureFault;
use crate::hot_cell_figure::{AlarmLimit, WatchSpan};
use celltriage_instrument::hot_cell::alarm::AlarmLimits;
use celltriage_instrument::hot_cell::watch::Terms;
use celltriage_protocol::limits;
use celltriage_protocol::units::MilliCelsius;
use std::time::Duration;

/// Largest fall of the voltage in mV that a watch may wait for (our choice: a cell that has lost half a volt at rest is past
/// warning of anything).
const WIDEST_FALL_MV: f64 = 500.0;
/// Longest watch in s (our choice: a month), and shortest.
const LENGTH_S: (f64, f64) = (1.0, 31.0 * 86_400.0);
/// Shortest and longest time between readings in s (our choice: what the fixture answers easily, and a third of the half
/// minute after which missing readings are an alarm).
const EVERY_S: (f64, f64) = (0.5, 10.0);

/// Limits other than the usual ones.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LimitsWanted {
    /// Temperature of the cell in °C.
    pub hottest_c: Option<f64>,
    /// Cell over the air in K.
    pub over_air_k: Option<f64>,
    /// Warming in K/min.
    pub warming_k_per_min: Option<f64>,
    /// Warming over the air since the cell was coolest, in K.
    pub growth_k: Option<f64>,
    /// Fall of the voltage in mV.
    pub fall_mv: Option<f64>,
}

/// What is wanted of a watch.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// The cell.
    pub cell: String,
    /// How long; without it until a person ends the watch.
    pub hours: Option<f64>,
    /// Seconds between readings.
    pub every_s: f64,
    /// Where alarms begin.
    pub limits: LimitsWanted,
    /// Whether the first alarm ends it.
    pub end_on_alarm: bool,
}

impl Wanted {
    /// Makes the terms of a watch that begins now.
    ///
    /// # Errors
    /// [`FixtureFault::AlarmLimit`], [`FixtureFault::Span`].
    pub fn terms(&self, clock: &dyn Clock) -> Result<Terms> {
        let limits = self.limits.checked()?;
        let length = |hours: f64| span(WatchSpan::Length, hours * 3_600.0, LENGTH_S);
        Ok(Terms {
            cell: self.cell.clone(),
            span: self.hours.map(length).transpose()?,
            every: span(WatchSpan::Every, self.every_s, EVERY_S)?,
            limits,
            began: clock.now(),
            end_on_alarm: self.end_on_alarm,
        })
    }
}

impl LimitsWanted {
    fn checked(&self) -> Result<AlarmLimits> {
        let usual = AlarmLimits::default();
        let kelvins = |limit: MilliCelsius| f64::from(limit.get()) / 1e3;
        let (rise, warming) = (kelvins(limits::LARGEST_RISE), kelvins(limits::FASTEST_LOADED_WARMING));
        // Nobody may move an alarm above what the fixture's own guard bears.
        let hottest = usual.hottest_c;
        Ok(AlarmLimits {
            hottest_c: limit(AlarmLimit::Hottest, self.hottest_c, hottest, hottest)?,
            over_air_k: limit(AlarmLimit::OverAir, self.over_air_k, usual.over_air_k, rise)?,
            warming_k_per_min: limit(
                AlarmLimit::Warming,
                self.warming_k_per_min,
                usual.warming_k_per_min,
                warming,
            )?,
            growth_k: limit(AlarmLimit::Growth, self.growth_k, usual.growth_k, rise)?,
            fall_v: limit(AlarmLimit::Fall, self.fall_mv, usual.fall_v * 1e3, WIDEST_FALL_MV)? / 1e3,
            blind_s: usual.blind_s,
            // What tells heat that grows from a cell that takes on the temperature of the room is nobody's taste.
            trend: usual.trend,
        })
    }
}

fn limit(of: AlarmLimit, given: Option<f64>, usual: f64, most: f64) -> Result<f64> {
    match given {
        None => Ok(usual),
        Some(value) if value > 0.0 && value <= most => Ok(value),
        Some(given) => Err(FixtureFault::AlarmLimit { of, given, usual, most }.into()),
    }
}

fn span(of: WatchSpan, given_s: f64, (least_s, most_s): (f64, f64)) -> Result<Duration> {
    match Duration::try_from_secs_f64(given_s) {
        Ok(span) if given_s >= least_s && given_s <= most_s => Ok(span),
        _ => Err(FixtureFault::Span { of, given_s, least_s, most_s }.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::HeldClock;
    use crate::fault::Fault;
    use jiff::Timestamp;

    fn terms(change: impl FnOnce(&mut Wanted)) -> Result<Terms> {
        let mut wanted = Wanted {
            cell: "PE-0405".to_owned(),
            hours: None,
            every_s: 2.0,
            limits: LimitsWanted::default(),
            end_on_alarm: false,
        };
        change(&mut wanted);
        wanted.terms(&HeldClock::at(Timestamp::UNIX_EPOCH))
    }

    fn terms_fault(terms: Result<Terms>) -> Option<AlarmLimit> {
        match terms {
            Err(Fault::Fixture(FixtureFault::AlarmLimit { of, .. })) => Some(of),
            _ => None,
        }
    }

    #[test]
    fn nobody_moves_an_alarm_above_what_the_guard_bears() {
        assert_eq!(terms(|_| {}).unwrap().limits, AlarmLimits::default());
        let hottest = AlarmLimits::default().hottest_c;
        for given in [hottest + 0.1, 0.0, -5.0, f64::NAN, f64::INFINITY] {
            let refused = terms(|wanted| wanted.limits.hottest_c = Some(given));
            let fault = terms_fault(refused);
            assert!(matches!(fault, Some(AlarmLimit::Hottest)), "{given}: {fault:?}");
        }
        assert_eq!(terms(|wanted| wanted.limits.fall_mv = Some(500.0)).unwrap().limits.fall_v, 0.5);
        assert!(terms(|wanted| wanted.limits.fall_mv = Some(500.1)).is_err());
    }

    #[test]
    fn a_watch_lasts_at_most_a_month_and_reads_often_enough_to_see_something() {
        assert_eq!(terms(|wanted| wanted.hours = Some(2.0)).unwrap().span, Some(Duration::from_secs(7_200)));
        for hours in [0.0, 745.0, f64::NAN] {
            assert!(terms(|wanted| wanted.hours = Some(hours)).is_err(), "{hours} h");
        }
        for every_s in [0.4, 10.1, -1.0, f64::NAN] {
            assert!(terms(|wanted| wanted.every_s = every_s).is_err(), "{every_s} s");
        }
    }
}
