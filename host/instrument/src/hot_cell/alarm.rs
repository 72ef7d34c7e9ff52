//! What an alarm of the hot-cell watch is: its level, its cause, the figure that broke a limit; and where the limits lie.
//!
//! Two levels: a cell that *reacts* sends everybody out, a *warm* one is left alone, watched and looked at again. An alarm
//! about the watch itself (nothing is seen) has no level. What tells the levels apart is in [`judge`](super::judge).

use celltriage_protocol::limits;
use serde::{Deserialize, Serialize};

/// How grave an alarm about the cell is, the milder first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Warm, and not getting warmer fast: hands off, watch it from a distance, look again.
    Warm,
    /// Heat that grows: everybody out.
    Reacting,
}

impl Level {
    /// Returns the word for it, as in JSON.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Warm => "warm",
            Self::Reacting => "reacting",
        }
    }
}

/// Where an alarm begins.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AlarmLimits {
    /// Hottest cell surface in degC: reacting.
    pub hottest_c: f64,
    /// Most that a cell may be warmer than the air without cooling, in K: warm.
    pub over_air_k: f64,
    /// Fastest warming of a cell that is above the air, in K/min: reacting.
    pub warming_k_per_min: f64,
    /// Most that the cell may have warmed over the air since it was coolest, however slowly, in K: warm.
    pub growth_k: f64,
    /// Most that the voltage may have fallen since it was highest, in V: warm; with heat that grows, reacting.
    pub fall_v: f64,
    /// Longest time without a complete reading, in s.
    pub blind_s: f64,
    /// How heat that grows is told; watches of earlier programs had no trend.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trend: Option<TrendLimits>,
}

/// How heat that grows is told from a cell that only takes on the temperature of the air.
///
/// A body without a source of heat follows C dT/dt = -(T - T_air)/R: above the air its own temperature falls, whatever the
/// air does, and only below the air it rises. So heat that grows is looked for above the air alone, and in the cell's own
/// temperature as well as in its rise.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrendLimits {
    /// Span over which the trend is judged, in s.
    pub window_s: f64,
    /// Rising away from the air by this much within the span is heat that grows, in K.
    pub away_k: f64,
    /// Of that the cell's own temperature must have risen by so much, in K.
    pub own_k: f64,
    /// Two whole thermometers may differ by this much, in K: a cell is above the air only beyond it.
    pub apart_k: f64,
    /// Slowest time constant with which a cell without a source of heat cools, in s.
    pub slowest_cooling_s: f64,
    /// So long after the beginning of a watch a thermometer may still be taking on the cell's temperature, in s.
    pub settle_s: f64,
}

impl Default for TrendLimits {
    /// Choices of this project (judged), tried against the thermal model in `judge/tests`.
    ///
    /// 0.5 K in 10 min: 4 mW that stay in a cell of 4.5 J/K, 60 mW in one of 70 J/K; a room that cools by 2 K/h (common for a heated room in
    /// the evening) takes a slow cell away from the air by at most 0.33 K in that time. 0.35 K of the cell's own temperature: a little more
    /// than such a room changes by. 0.3 K: the limit of one thermometer with its contact (`hardware-notes/error_budget.toml`,
    /// `temperature_k`). One hour: cells of 5 to 70 g in still air cool with 3 to 44 min (0.9 to 1.0 J/(g K), 5 to 12 W/(m2 K)), on a
    /// jig more slowly; and from 2.3 K over the air on no room that cools by 2 K/h looks like such cooling. One minute: a small thermometer
    /// pressed on takes 5 to 15 s for 63 % of a step (from memory).
    fn default() -> Self {
        Self {
            window_s: 600.0,
            away_k: 0.5,
            own_k: 0.35,
            apart_k: 0.3,
            slowest_cooling_s: 3_600.0,
            settle_s: 60.0,
        }
    }
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
            trend: Some(TrendLimits::default()),
        }
    }
}

/// What an alarm is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The cell is too hot.
    Hot,
    /// The cell is too much warmer than the air, and does not cool.
    OverAir,
    /// The cell warms fast.
    Warming,
    /// The cell has warmed slowly but on and on.
    Growth,
    /// The voltage falls without a load.
    FallingVoltage,
    /// Readings are missing.
    Blind,
    /// The fixture cannot be reached.
    LinkLost,
    /// The cell heats up, away from the air.
    RisingAway,
}

impl Cause {
    /// All causes.
    pub const ALL: [Self; 8] = [
        Self::Hot,
        Self::OverAir,
        Self::Warming,
        Self::Growth,
        Self::FallingVoltage,
        Self::Blind,
        Self::LinkLost,
        Self::RisingAway,
    ];

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
            Self::RisingAway => "the cell heats up, away from the air, without a load",
        }
    }

    /// Returns the unit of value and limit.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Hot => "°C",
            Self::OverAir | Self::Growth | Self::RisingAway => "K",
            Self::Warming => "K/min",
            Self::FallingVoltage => "mV",
            Self::Blind | Self::LinkLost => "s",
        }
    }

    /// Returns whether it is about the cell itself, and not about the watch.
    pub const fn is_about_the_cell(self) -> bool {
        !matches!(self, Self::Blind | Self::LinkLost)
    }
}

/// An alarm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Alarm {
    /// What about.
    pub cause: Cause,
    /// How grave it is, where it is about the cell; alarms of earlier programs lack it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
    /// What broke the limit.
    pub value: f64,
    /// The limit.
    pub limit: f64,
    /// Seconds since the watch began.
    pub at_s: f64,
}

impl Alarm {
    /// Returns how grave it is for the cell; `None` if it is about the watch. One that does not say counts as the gravest, as
    /// it did when it was written.
    pub fn level_of_cell(&self) -> Option<Level> {
        self.cause.is_about_the_cell().then(|| self.level.unwrap_or(Level::Reacting))
    }

    /// Returns whether everybody is to go out, so that the emergency text must stand first.
    pub fn is_reacting(&self) -> bool {
        self.level_of_cell() == Some(Level::Reacting)
    }

    /// Returns level and cause in a few words.
    pub fn title(&self) -> String {
        match self.level {
            Some(level) if self.cause.is_about_the_cell() => {
                format!("{}: {}", level.key(), self.cause.words())
            }
            _ => self.cause.words().to_owned(),
        }
    }

    /// Returns the same behind a few words that say whose alarm it is.
    pub fn title_after(&self, whose: &str) -> String {
        let told = if self.level.is_some() { "," } else { ":" };
        format!("{whose}{told} {}", self.title())
    }

    /// Says level, cause, value and limit in one line.
    pub fn words(&self) -> String {
        self.title() + &self.figures()
    }

    /// Returns the same behind a few words that say whose alarm it is.
    pub fn words_after(&self, whose: &str) -> String {
        self.title_after(whose) + &self.figures()
    }

    fn figures(&self) -> String {
        let unit = self.cause.unit();
        format!(" ({:.2} {unit}, limit {:.2} {unit})", self.value, self.limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn an_alarm_of_an_earlier_program_is_read_and_counts_as_the_gravest() {
        for cause in Cause::ALL {
            let old = json!({ "cause": cause, "value": 2.5, "limit": 2.0, "at_s": 6.0 });
            let alarm: Alarm = serde_json::from_value(old.clone()).unwrap();
            assert_eq!(
                alarm.level_of_cell(),
                cause.is_about_the_cell().then_some(Level::Reacting),
                "{cause:?}"
            );
            assert_eq!(serde_json::to_value(alarm).unwrap(), old, "it is written as it was");
        }
    }

    #[test]
    fn limits_of_an_earlier_program_are_read_and_written_as_they_were() {
        let old = json!({ "hottest_c": 45.0, "over_air_k": 2.0, "warming_k_per_min": 1.0, "growth_k": 1.0, "fall_v": 0.02, "blind_s": 30.0 });
        let limits: AlarmLimits = serde_json::from_value(old.clone()).unwrap();
        assert_eq!(limits.trend, None);
        assert_eq!(serde_json::to_value(limits).unwrap(), old);
    }

    #[test]
    fn the_level_stands_in_the_words_and_in_json() {
        let warm =
            Alarm { cause: Cause::OverAir, level: Some(Level::Warm), value: 4.7, limit: 2.0, at_s: 180.0 };
        assert!(warm.words().starts_with("warm: the cell is warmer than the air") && !warm.is_reacting());
        assert_eq!(serde_json::to_value(warm).unwrap()["level"], "warm");
        let reacting = Alarm { level: Some(Level::Reacting), ..warm };
        assert!(reacting.words().starts_with("reacting: ") && reacting.is_reacting());
        assert!(Level::Reacting > Level::Warm && Some(Level::Warm) > None);
    }
}
