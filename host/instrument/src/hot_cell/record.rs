//! What the book is told of a watch: an entry at the first alarm of each kind, and one at the end with the recording.

use super::alarm::{Alarm, AlarmLimits};
use crate::simulated::{is_simulated_fixture, marked};
use celltriage_book::{NewEntry, Subject, record_entry};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Kind of the entry of an alarm.
pub const ALARM: &str = "hot-cell-alarm";
/// Kind of the entry of a whole watch.
pub const WATCH: &str = "hot-cell-watch";
/// Number of the stored form.
pub const SCHEMA: u32 = 1;

/// An alarm as it is written the moment it is raised.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AlarmRecord {
    /// Number of the stored form.
    pub schema: u32,
    /// Which fixture.
    pub fixture: String,
    /// The alarm.
    pub alarm: Alarm,
    /// Number of the recording of the book that grows meanwhile; 0 where none was begun yet.
    pub recording: i64,
}

/// Lowest and highest of what was seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Extremes {
    /// Hottest cell surface in degC.
    pub hottest_c: Option<f64>,
    /// Most that the cell was warmer than the air, in K.
    pub over_air_k: Option<f64>,
    /// First voltage in V.
    pub first_v: Option<f64>,
    /// Last voltage in V.
    pub last_v: Option<f64>,
}

/// A watch as it is written at its end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WatchRecord {
    /// Number of the stored form.
    pub schema: u32,
    /// Which fixture.
    pub fixture: String,
    /// How long it was meant to last, in s; `None` if only a person ends it.
    pub planned_s: Option<f64>,
    /// How long it lasted, in s.
    pub lasted_s: f64,
    /// How it ended.
    pub ended: Ended,
    /// Seconds between readings.
    pub every_s: f64,
    /// Where alarms begin.
    pub limits: AlarmLimits,
    /// How many readings there are.
    pub readings: u32,
    /// What was seen.
    pub seen: Extremes,
    /// The first alarm of each cause, and each that was graver than those before.
    pub alarms: Vec<Alarm>,
    /// What was odd about the link.
    pub remarks: Vec<String>,
}

/// How a watch ended.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ended {
    /// The time asked for was over.
    Time,
    /// A person stopped it.
    Stopped,
    /// The first alarm ended it, as asked for.
    Alarm,
    /// The fixture was lost for good.
    #[default]
    LinkLost,
}

impl WatchRecord {
    /// Says it in one line.
    pub fn summary(&self, cell: &str) -> String {
        let alarms = match self.alarms.as_slice() {
            [] => "no alarm".to_owned(),
            [first, others @ ..] => {
                let others = others.iter().map(|alarm| format!("; {}", alarm.title())).collect::<String>();
                first.title_after("ALARM") + &others
            }
        };
        let seen = &self.seen;
        let hottest = seen.hottest_c.map_or("unknown".to_owned(), |value| format!("{value:.1} °C"));
        let rise = seen.over_air_k.map_or("unknown".to_owned(), |value| format!("{value:+.1} K"));
        let volts = match (seen.first_v, seen.last_v) {
            (Some(first), Some(last)) => format!("{first:.3} V to {last:.3} V"),
            _ => "voltage unknown".to_owned(),
        };
        let minutes = self.lasted_s / 60.0;
        let line = format!(
            "{cell:<12} watched {minutes:.0} min, at most {hottest} and {rise} over the air, {volts}: {alarms}"
        );
        marked(&line, is_simulated_fixture(&self.fixture))
    }
}

/// Returns an alarm as an entry.
///
/// # Errors
/// It cannot be written as JSON.
pub fn alarm_entry(cell: &str, record: &AlarmRecord, at: Timestamp) -> Result<NewEntry, serde_json::Error> {
    let summary = format!("{cell:<12} {}", record.alarm.words_after("ALARM of the hot-cell watch"));
    let summary = marked(&summary, is_simulated_fixture(&record.fixture));
    let new = NewEntry {
        summary: summary.trim().to_owned(),
        simulated: Some(is_simulated_fixture(&record.fixture)),
        ..NewEntry::of(ALARM, Subject::cell(cell), at)
    };
    record_entry(new, record)
}

/// Returns the whole watch as an entry, to which its recording belongs.
///
/// # Errors
/// It cannot be written as JSON.
pub fn watch_entry(cell: &str, record: &WatchRecord, at: Timestamp) -> Result<NewEntry, serde_json::Error> {
    let new = NewEntry {
        summary: record.summary(cell).trim().to_owned(),
        simulated: Some(is_simulated_fixture(&record.fixture)),
        ..NewEntry::of(WATCH, Subject::cell(cell), at)
    };
    record_entry(new, record)
}
