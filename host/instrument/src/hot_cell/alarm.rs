//! Readings in, alarm out: too hot, warmer than the air, warming, voltage falling, or nothing to be seen.
//!
//! Pure: time is a parameter. A reading that is missing is not good news: after a while it is an alarm by itself.
//! Temperatures must be beyond their limit in three readings in a row, so that one bad reading wakes nobody.

use crate::live::Live;
use celltriage_protocol::limits;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Readings in a row that make an alarm.
const IN_A_ROW: u32 = 3;
/// Span over which the rate of warming is judged, in s: twice the guard's, for readings that come more seldom.
const RATE_SPAN_S: f64 = 60.0;
/// Voltages averaged before they are compared: noise of one reading is a few tenths of a millivolt.
const VOLTAGES: usize = 10;

/// Where an alarm begins.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AlarmLimits {
    /// Hottest cell surface in degC.
    pub hottest_c: f64,
    /// Most that the cell may be warmer than the air, in K.
    pub over_air_k: f64,
    /// Fastest warming in K/min.
    pub warming_k_per_min: f64,
    /// Most that the cell may have warmed over the air since it was coolest, in K.
    pub growth_k: f64,
    /// Most that the voltage may have fallen since it was highest, in V.
    pub fall_v: f64,
    /// Longest time without a complete reading, in s.
    pub blind_s: f64,
}

impl Default for AlarmLimits {
    /// The guard's limits at rest (`hardware-notes/limits.md`), and three choices of this project (judged): 1 K of
    /// slow warming, since what two whole thermometers differ by stays the same within a few tenths of a kelvin; 20 mV of
    /// fall, more than a cell that was not just charged still relaxes (1 to 4 mV an hour); half a minute without sight.
    fn default() -> Self {
        let kelvins = |millikelvins: i32| f64::from(millikelvins) / 1e3;
        Self {
            hottest_c: kelvins(limits::HOTTEST.get()),
            over_air_k: kelvins(limits::LARGEST_REST_RISE.get()),
            warming_k_per_min: kelvins(limits::FASTEST_REST_WARMING.get()),
            growth_k: 1.0,
            fall_v: 0.020,
            blind_s: 30.0,
        }
    }
}

/// What an alarm is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The cell is too hot.
    Hot,
    /// The cell is too much warmer than the air.
    OverAir,
    /// The cell warms fast.
    Warming,
    /// The cell warms slowly but on and on.
    Growth,
    /// The voltage falls without a load.
    FallingVoltage,
    /// Readings are missing.
    Blind,
    /// The fixture cannot be reached.
    LinkLost,
}

impl Cause {
    /// Says it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hot => "the cell is hot",
            Self::OverAir => "the cell is warmer than the air, without a load",
            Self::Warming => "the cell warms fast, without a load",
            Self::Growth => "the cell goes on warming, without a load",
            Self::FallingVoltage => "the cell's voltage falls, without a load",
            Self::Blind => "readings are missing: nobody sees how the cell is",
            Self::LinkLost => "the fixture cannot be reached: nobody sees how the cell is",
        }
    }

    /// Returns the unit of value and limit.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Hot => "°C",
            Self::OverAir | Self::Growth => "K",
            Self::Warming => "K/min",
            Self::FallingVoltage => "mV",
            Self::Blind | Self::LinkLost => "s",
        }
    }

    /// Returns whether the cell itself is in danger, so that the emergency text must stand first.
    pub const fn is_about_the_cell(self) -> bool {
        !matches!(self, Self::Blind | Self::LinkLost)
    }
}

/// An alarm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Alarm {
    /// What about.
    pub cause: Cause,
    /// What broke the limit.
    pub value: f64,
    /// The limit.
    pub limit: f64,
    /// Seconds since the watch began.
    pub at_s: f64,
}

impl Alarm {
    /// Says cause, value and limit in one line.
    pub fn words(&self) -> String {
        let unit = self.cause.unit();
        format!("{} ({:.2} {unit}, limit {:.2} {unit})", self.cause.words(), self.value, self.limit)
    }
}

/// Judges the readings of one watch.
#[derive(Clone, Debug)]
pub struct Judge {
    limits: AlarmLimits,
    temperatures: VecDeque<(f64, f64)>,
    voltages: VecDeque<f64>,
    coolest_over_air: Option<f64>,
    highest_v: Option<f64>,
    complete_at_s: f64,
    hot: u32,
    over_air: u32,
    warming: u32,
    growth: u32,
}

impl Judge {
    /// Begins a watch at second 0.
    pub fn new(limits: AlarmLimits) -> Self {
        Self {
            limits,
            temperatures: VecDeque::new(),
            voltages: VecDeque::new(),
            coolest_over_air: None,
            highest_v: None,
            complete_at_s: 0.0,
            hot: 0,
            over_air: 0,
            warming: 0,
            growth: 0,
        }
    }

    /// Takes the readings of a moment, in seconds since the watch began; returns every alarm that holds now.
    pub fn take(&mut self, at_s: f64, live: &Live) -> Vec<Alarm> {
        let mut found = Vec::new();
        let mut alarm = |cause, value, limit| found.push(Alarm { cause, value, limit, at_s });
        let limits = self.limits;
        let in_a_row = |count: &mut u32, broken: bool| {
            *count = if broken { *count + 1 } else { 0 };
            *count >= IN_A_ROW
        };
        let cell = live.cell_c.read();
        if let Some(cell) = cell {
            if in_a_row(&mut self.hot, cell >= limits.hottest_c) {
                alarm(Cause::Hot, cell, limits.hottest_c);
            }
            while self.temperatures.front().is_some_and(|(then, _)| at_s - then > RATE_SPAN_S) {
                self.temperatures.pop_front();
            }
            self.temperatures.push_back((at_s, cell));
            let coolest = self.temperatures.iter().map(|(_, cell)| *cell).fold(f64::MAX, f64::min);
            let rate = (cell - coolest) * 60.0 / RATE_SPAN_S;
            if in_a_row(&mut self.warming, rate >= limits.warming_k_per_min) {
                alarm(Cause::Warming, rate, limits.warming_k_per_min);
            }
        }
        if let Some(rise) = live.rise_k() {
            if in_a_row(&mut self.over_air, rise >= limits.over_air_k) {
                alarm(Cause::OverAir, rise, limits.over_air_k);
            }
            let coolest = self.coolest_over_air.map_or(rise, |coolest| coolest.min(rise));
            self.coolest_over_air = Some(coolest);
            if in_a_row(&mut self.growth, rise - coolest >= limits.growth_k) {
                alarm(Cause::Growth, rise - coolest, limits.growth_k);
            }
        }
        if let Some(volts) = live.voltage_v.read() {
            self.voltages.push_back(volts);
            if self.voltages.len() > VOLTAGES {
                self.voltages.pop_front();
            }
            if self.voltages.len() == VOLTAGES {
                let mean = self.voltages.iter().sum::<f64>() / VOLTAGES as f64;
                let highest = self.highest_v.map_or(mean, |highest| highest.max(mean));
                self.highest_v = Some(highest);
                if highest - mean >= limits.fall_v {
                    alarm(Cause::FallingVoltage, (highest - mean) * 1e3, limits.fall_v * 1e3);
                }
            }
        }
        if live.rise_k().is_some() && live.voltage_v.read().is_some() {
            self.complete_at_s = at_s;
        } else if at_s - self.complete_at_s >= limits.blind_s {
            alarm(Cause::Blind, at_s - self.complete_at_s, limits.blind_s);
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::Value;
    use proptest::prelude::*;

    fn live(cell: Option<f64>, air: f64, volts: f64) -> Live {
        Live {
            fixture_s: 0.0,
            activity: "idle",
            load_on: false,
            step: None,
            voltage_v: Value::Read(volts),
            current_a: Value::Read(0.0),
            cell_c: cell.map_or(Value::Missing("its chip does not answer"), Value::Read),
            air_c: Value::Read(air),
            trip: None,
        }
    }

    /// Feeds a course of cell temperature and voltage, one reading each 2 s, up to the first alarm.
    fn first(course: impl Fn(f64) -> (Option<f64>, f64), until_s: f64) -> Option<Alarm> {
        let mut judge = Judge::new(AlarmLimits::default());
        let mut at_s = 0.0;
        while at_s <= until_s {
            let (cell, volts) = course(at_s);
            if let Some(alarm) = judge.take(at_s, &live(cell, 25.0, volts)).first() {
                return Some(*alarm);
            }
            at_s += 2.0;
        }
        None
    }

    #[test]
    fn a_quiet_cell_raises_no_alarm_in_a_day() {
        assert_eq!(first(|at| (Some(25.3 + 0.1 * (at / 900.0).sin()), 3.9), 86_400.0), None);
    }

    #[test]
    fn each_cause_raises_its_alarm_within_the_time_it_needs() {
        type Course = fn(f64) -> (Option<f64>, f64);
        let table: [(Cause, Course, f64, f64); 5] = [
            // 2 K over the air from the first reading on: three readings.
            (Cause::OverAir, |_| (Some(27.1), 3.9), 4.0, 4.0),
            // 1.2 K/min from cold: a rate of 1 K/min needs 1 K within the span, reached after 50 s.
            (Cause::Warming, |at| (Some(23.0 + 0.02 * at), 3.9), 50.0, 58.0),
            // 0.01 K/min: 1 K after 100 min, below every faster limit.
            (Cause::Growth, |at| (Some(25.0 + at / 6_000.0), 3.9), 6_000.0, 6_010.0),
            // 36 mV/h: 20 mV after 2,000 s, seen through a mean over 20 s.
            (Cause::FallingVoltage, |at| (Some(25.2), 3.9 - 1e-5 * at), 2_000.0, 2_030.0),
            // The thermometer fails after 100 s: half a minute later.
            (Cause::Blind, |at| ((at < 100.0).then_some(25.2), 3.9), 128.0, 130.0),
        ];
        for (cause, course, earliest, latest) in table {
            let alarm = first(course, 10_000.0).unwrap_or_else(|| panic!("no alarm for {cause:?}"));
            assert_eq!(alarm.cause, cause, "{alarm:?}");
            assert!((earliest..=latest).contains(&alarm.at_s), "{alarm:?}");
        }
    }

    #[test]
    fn a_hot_cell_is_told_as_hot_also_in_a_hot_room() {
        let mut judge = Judge::new(AlarmLimits::default());
        let found: Vec<Cause> = (0..3)
            .flat_map(|tick| judge.take(f64::from(tick), &live(Some(46.0), 45.0, 3.9)))
            .map(|alarm| alarm.cause)
            .collect();
        assert_eq!(found, [Cause::Hot]);
    }

    proptest! {
        /// However a reading jumps about below the limits, and whatever single reading is wild, nobody is woken.
        #[test]
        fn one_wild_reading_is_no_alarm(wild in 30.0..200.0f64, at in 1usize..50) {
            let mut judge = Judge::new(AlarmLimits { growth_k: f64::MAX, ..AlarmLimits::default() });
            for tick in 0..60usize {
                let cell = if tick == at { wild } else { 25.5 };
                prop_assert!(judge.take(tick as f64, &live(Some(cell), 25.0, 3.9)).is_empty());
            }
        }

        /// A cell that stays beyond a limit is told, however it got there.
        #[test]
        fn a_cell_that_stays_warm_is_always_told(rise in 2.0..100.0f64, noise in 0.0..0.5f64) {
            let mut judge = Judge::new(AlarmLimits::default());
            let mut told = false;
            for tick in 0..4u32 {
                let cell = 25.0 + rise + noise * f64::from(tick % 2);
                told |= judge.take(f64::from(tick), &live(Some(cell), 25.0, 3.9)).iter().any(|a| a.cause == Cause::OverAir);
            }
            prop_assert!(told);
        }
    }
}
