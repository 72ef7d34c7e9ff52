//! The figures of a hot-cell watch that a person may set.

/// A limit at which a watch raises an alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AlarmLimit {
    /// Temperature of the cell in °C.
    Hottest,
    /// Cell over the air in K.
    OverAir,
    /// Warming in K/min.
    Warming,
    /// Warming over the air since the cell was coolest, in K.
    Growth,
    /// Fall of the voltage in mV.
    Fall,
}

impl AlarmLimit {
    /// Says what it limits, and in which unit.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hottest => "the cell's temperature in °C",
            Self::OverAir => "the cell over the air in K",
            Self::Warming => "the warming in K/min",
            Self::Growth => "the warming over the air in K",
            Self::Fall => "the fall of the voltage in mV",
        }
    }
}

/// A span of time of a watch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WatchSpan {
    /// Its length.
    Length,
    /// From one reading to the next.
    Every,
}

impl WatchSpan {
    /// Says what it is the span of.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Length => "the watch",
            Self::Every => "the time between readings",
        }
    }
}
