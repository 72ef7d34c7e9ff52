//! Readings in, alarms out: hot, heating up, warm without cooling, voltage falling, or nothing to be seen.
//!
//! Pure: time is a parameter. A reading that is missing is not good news: after a while it is an alarm by itself, and where the
//! air is not known the cell counts as above it. What is beyond a limit must be so in three readings in a row, so that one bad
//! reading wakes nobody. A cell that was warmed in the hand and cools, and a cold one that comes to the temperature of the
//! room, raise no alarm; [`TrendLimits`](super::alarm::TrendLimits) says how they are told from one that makes heat.

use super::alarm::{Alarm, AlarmLimits, Cause, Level};
use super::trend::Trend;
use crate::live::Live;
use std::collections::VecDeque;

#[cfg(test)]
mod tests;

/// Readings in a row that make an alarm.
const IN_A_ROW: u32 = 3;
/// Span over which the rate of fast warming is judged, in s: twice the guard's, for readings that come more seldom.
const RATE_SPAN_S: f64 = 60.0;
/// Voltages averaged before they are compared: noise of one reading is a few tenths of a millivolt.
const VOLTAGES: usize = 10;
/// While the voltage falls, this share of a trend is heat that grows: two signs of one short inside (our choice).
const SHARE_WITH_A_FALL: f64 = 0.5;

/// Judges the readings of one watch.
#[derive(Clone, Debug)]
pub struct Judge {
    limits: AlarmLimits,
    settle_s: f64,
    apart_k: f64,
    trend: Trend,
    /// The last three readings of the cell: their middle one is compared, so that a wild low one makes no rate.
    last_three: VecDeque<f64>,
    temperatures: VecDeque<(f64, f64)>,
    rise: Option<(f64, f64)>,
    voltages: VecDeque<f64>,
    highest_v: Option<f64>,
    complete_at_s: f64,
    hot: u32,
    over_air: u32,
    warming: u32,
    growth: u32,
    rising: u32,
}

impl Judge {
    /// Begins a watch at second 0.
    pub fn new(limits: AlarmLimits) -> Self {
        let trend = limits.trend.unwrap_or_default();
        Self {
            limits,
            settle_s: trend.settle_s,
            apart_k: trend.apart_k,
            trend: Trend::new(trend),
            last_three: VecDeque::new(),
            temperatures: VecDeque::new(),
            rise: None,
            voltages: VecDeque::new(),
            highest_v: None,
            complete_at_s: 0.0,
            hot: 0,
            over_air: 0,
            warming: 0,
            growth: 0,
            rising: 0,
        }
    }

    /// Takes the readings of a moment, in seconds since the watch began; returns every alarm that holds now, the gravest first.
    pub fn take(&mut self, at_s: f64, live: &Live) -> Vec<Alarm> {
        let mut found = Vec::new();
        let rise = live.rise_k();
        self.rise = rise.map(|rise| (at_s, rise)).or(self.rise);
        if let Some(cell) = live.cell_c.read() {
            self.trend.take(at_s, cell, rise);
            self.of_cell(at_s, cell, &mut found);
        }
        if let Some(rise) = rise {
            self.of_rise(at_s, rise, &mut found);
        }
        if let Some(volts) = live.voltage_v.read() {
            self.of_voltage(at_s, volts, live.cell_c.read().is_some(), &mut found);
        }
        if rise.is_some() && live.voltage_v.read().is_some() {
            self.complete_at_s = at_s;
        } else if at_s - self.complete_at_s >= self.limits.blind_s {
            let (cause, value, limit) = (Cause::Blind, at_s - self.complete_at_s, self.limits.blind_s);
            found.push(Alarm { cause, level: None, value, limit, at_s });
        }
        found.sort_by_key(|alarm| std::cmp::Reverse(alarm.level));
        found
    }

    /// What the cell's own thermometer tells.
    fn of_cell(&mut self, at_s: f64, cell: f64, found: &mut Vec<Alarm>) {
        let limits = self.limits;
        let mut reacting = |cause, value, limit| {
            found.push(Alarm { cause, level: Some(Level::Reacting), value, limit, at_s })
        };
        if in_a_row(&mut self.hot, cell >= limits.hottest_c) {
            reacting(Cause::Hot, cell, limits.hottest_c);
        }
        let rate =
            self.rate(at_s, cell).filter(|rate| *rate >= limits.warming_k_per_min && self.above_air(at_s));
        if in_a_row(&mut self.warming, rate.is_some()) {
            reacting(Cause::Warming, rate.unwrap_or_default(), limits.warming_k_per_min);
        }
        let grown = self.trend.grown(1.0);
        if in_a_row(&mut self.rising, grown.is_some()) {
            let limit = limits.trend.unwrap_or_default().away_k;
            reacting(Cause::RisingAway, grown.unwrap_or_default(), limit);
        }
    }

    /// Returns how fast the cell warms, in K/min, once its thermometer has taken on its temperature.
    fn rate(&mut self, at_s: f64, cell: f64) -> Option<f64> {
        if at_s < self.settle_s {
            return None;
        }
        self.last_three.push_back(cell);
        if self.last_three.len() > 3 {
            self.last_three.pop_front();
        }
        let [one, two, three] = [0, 1, 2].map(|index| self.last_three.get(index).copied());
        let (one, two, three) = (one?, two?, three?);
        let middle = one.max(two).min(one.min(two).max(three));
        while self.temperatures.front().is_some_and(|(then, _)| at_s - then > RATE_SPAN_S) {
            self.temperatures.pop_front();
        }
        self.temperatures.push_back((at_s, middle));
        let coolest = self.temperatures.iter().map(|(_, cell)| *cell).fold(f64::MAX, f64::min);
        Some((middle - coolest) * 60.0 / RATE_SPAN_S)
    }

    /// A cold cell warms towards the air, and that is no danger; where the air was not seen lately, it may be away from it.
    fn above_air(&self, at_s: f64) -> bool {
        let seen = self.rise.filter(|(then, _)| at_s - then < self.limits.blind_s);
        seen.is_none_or(|(_, rise)| rise > self.apart_k)
    }

    /// What the rise over the air tells: warm, unless the cell is seen to cool.
    fn of_rise(&mut self, at_s: f64, rise: f64, found: &mut Vec<Alarm>) {
        let limits = self.limits;
        let mut warm =
            |cause, value, limit| found.push(Alarm { cause, level: Some(Level::Warm), value, limit, at_s });
        let stays = self.trend.cools() == Some(false);
        if in_a_row(&mut self.over_air, rise >= limits.over_air_k && stays) {
            warm(Cause::OverAir, rise, limits.over_air_k);
        }
        let grown = self.trend.since_coolest().filter(|grown| *grown >= limits.growth_k && stays);
        if in_a_row(&mut self.growth, grown.is_some()) {
            warm(Cause::Growth, grown.unwrap_or_default(), limits.growth_k);
        }
    }

    /// What the voltage tells: a fall is no heat yet. With heat that grows, or where nobody sees the heat, it is.
    fn of_voltage(&mut self, at_s: f64, volts: f64, heat_is_seen: bool, found: &mut Vec<Alarm>) {
        self.voltages.push_back(volts);
        if self.voltages.len() > VOLTAGES {
            self.voltages.pop_front();
        }
        if self.voltages.len() < VOLTAGES {
            return;
        }
        let mean = self.voltages.iter().sum::<f64>() / VOLTAGES as f64;
        let highest = self.highest_v.map_or(mean, |highest| highest.max(mean));
        self.highest_v = Some(highest);
        if highest - mean < self.limits.fall_v {
            return;
        }
        let unseen = !heat_is_seen && at_s - self.complete_at_s >= self.limits.blind_s;
        let heats = unseen || self.trend.grown(SHARE_WITH_A_FALL).is_some();
        let level = Some(if heats { Level::Reacting } else { Level::Warm });
        let (value, limit) = ((highest - mean) * 1e3, self.limits.fall_v * 1e3);
        found.push(Alarm { cause: Cause::FallingVoltage, level, value, limit, at_s });
    }
}

fn in_a_row(count: &mut u32, broken: bool) -> bool {
    *count = if broken { count.saturating_add(1) } else { 0 };
    *count >= IN_A_ROW
}
