//! Rows of another program's file as rows of the open Battery Data Format, each with its line.

use super::MappingError;
use super::columns::Places;
use super::parts::{
    DecimalMark, Mapping, Selection, TemperatureColumn, TemperatureUnit, TimeUnit, VoltageUnit,
};
use crate::bdf::Header;
use crate::trace::Trace;
use csv::ByteRecord;
use std::collections::BTreeSet;

/// The columns that are written; the machine names of the format.
const NAMES: &[u8] =
    b"test_time_second,current_ampere,voltage_volt,temperature_t1_celsius,ambient_temperature_celsius\n";
/// Values that are named where none of those chosen occurs.
const MOST_VALUES: usize = 12;

impl Mapping {
    /// Reads a trace from the bytes of a file; `name` is what messages call it. Lines in messages are the file's own.
    ///
    /// # Errors
    /// See [`MappingError`].
    pub fn read(&self, bytes: &[u8], name: &str) -> Result<Trace, MappingError> {
        let text = self.text.encoding.decode(bytes);
        let text = text.map_err(|what| MappingError::Text { name: name.to_owned(), what })?;
        self.read_lines(&text.lines().collect::<Vec<_>>(), name)
    }

    /// The same from the lines of its text.
    pub(super) fn read_lines(&self, lines: &[&str], name: &str) -> Result<Trace, MappingError> {
        let header = Header::read(NAMES, name)?;
        let places = Places::find(self, lines, name)?;
        let mut rows = Rows {
            mapping: self,
            places: &places,
            clock: Clock::default(),
            seen: BTreeSet::new(),
            chosen: 0,
        };
        let numbered = lines.iter().zip(1u64..).skip(self.text.first_row_in_line.saturating_sub(1));
        let records = numbered.filter_map(|(line, number)| Some((number, rows.record(line)?)));
        let trace = header.read_records(records, name);
        if rows.chosen == 0 && !self.rows.is_all() {
            let values: Vec<_> = rows.seen.iter().take(MOST_VALUES).map(String::as_str).collect();
            let what = format!("the values there are {}", values.join(", "));
            return Err(MappingError::NoRows { name: name.to_owned(), what });
        }
        Ok(trace?)
    }
}

/// A time that may begin again with each step.
#[derive(Clone, Copy, Debug, Default)]
struct Clock {
    passed: f64,
    last: Option<f64>,
}

impl Clock {
    /// Returns the time since the first row. What a step's clock shows in its first row has passed since the step before ended;
    /// its last row is taken for its end, since nothing else is known of it.
    fn next(&mut self, shown: f64, restarts: bool) -> f64 {
        if let Some(last) = self.last.filter(|last| restarts && shown < *last) {
            self.passed += last;
        }
        self.last = Some(shown);
        self.passed + shown
    }
}

/// The rows on their way.
struct Rows<'m> {
    mapping: &'m Mapping,
    places: &'m Places,
    clock: Clock,
    seen: BTreeSet<String>,
    chosen: usize,
}

impl Rows<'_> {
    /// Returns a row; `None` where it is empty or not chosen. What is no number stays as it is: the reader names it.
    fn record(&mut self, line: &str) -> Option<ByteRecord> {
        if line.trim().is_empty() {
            return None;
        }
        let Mapping { text: layout, time, voltage, current, .. } = self.mapping;
        let fields = layout.separator.fields(line);
        let at = |place: usize| fields.get(place).map_or("", String::as_str);
        let cycle = self.mapping.rows.cycle.as_ref().zip(self.places.cycle);
        let step = self.mapping.rows.step.as_ref().zip(self.places.step);
        for (selection, place) in [cycle, step].into_iter().flatten() {
            if !selection.has(at(place)) {
                if self.seen.len() <= MOST_VALUES {
                    self.seen.insert(at(place).to_owned());
                }
                return None;
            }
        }
        self.chosen += 1;
        let mark = layout.decimal;
        let seconds =
            time.unit.read(at(self.places.time), mark).map(|shown| self.clock.next(shown, time.restarts));
        let seconds =
            seconds.map_or_else(|| at(self.places.time).to_owned(), |value| seconds_text(time.unit, value));
        let charging = current.charging(at(self.places.current), self.places.mode.map(at), mark);
        let charging = charging.unwrap_or_else(|what| what);
        let volts = mark.read(at(self.places.voltage)).map(|written| {
            written.shifted(match voltage.unit {
                VoltageUnit::Volts => 0,
                VoltageUnit::Millivolts => 3,
            })
        });
        let volts = volts.unwrap_or_else(|| at(self.places.voltage).to_owned());
        let temperature = |column: Option<&TemperatureColumn>, place: Option<usize>| {
            column.zip(place).map_or_else(String::new, |(column, place)| column.celsius(at(place), mark))
        };
        let cell = temperature(self.mapping.cell_temperature.as_ref(), self.places.cell);
        let air = temperature(self.mapping.air_temperature.as_ref(), self.places.air);
        Some(ByteRecord::from(vec![seconds, charging, volts, cell, air]))
    }
}

/// Writes a time to places that its unit still tells: those of a number of seconds stay, and of clocks and dates a microsecond, which
/// hides what the arithmetic of doubles adds to a sum.
fn seconds_text(unit: TimeUnit, seconds: f64) -> String {
    match unit {
        TimeUnit::Seconds => format!("{:.9}", seconds),
        _ => format!("{seconds:.6}"),
    }
}

impl Selection {
    fn has(&self, value: &str) -> bool {
        let same = |wanted: &str| match (
            wanted.trim().parse::<f64>(),
            value.trim().replace(',', ".").parse::<f64>(),
        ) {
            (Ok(wanted), Ok(value)) => (wanted - value).abs() < 1e-9,
            _ => wanted.trim() == value.trim(),
        };
        self.values.iter().any(|wanted| same(wanted))
    }
}

impl TemperatureColumn {
    /// Returns the temperature in degC as text; text that is no number stays as it is, nothing stays nothing.
    fn celsius(&self, text: &str, mark: DecimalMark) -> String {
        if text.trim().is_empty() {
            return String::new();
        }
        let Some(written) = mark.read(text) else { return text.to_owned() };
        match self.unit {
            TemperatureUnit::Celsius => written.shifted(0),
            TemperatureUnit::Fahrenheit => format!("{:.3}", (written.value - 32.0) / 1.8),
            TemperatureUnit::Kelvin => format!("{:.3}", written.value - 273.15),
        }
    }
}
