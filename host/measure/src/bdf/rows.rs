//! Rows on their way from text to points, and whether enough of them are usable.

use super::columns::{Column, Columns};
use super::error::BdfError;
use crate::si::{Amps, Celsius, Seconds, Volts};
use crate::trace::{NoteKind, Place, Point, TraceNote};
use csv::ByteRecord;

/// Share of rows that may be unusable: a torn last line is normal, a hole in every hundredth row is not.
pub const MOST_BAD_SHARE: f64 = 0.01;
/// A single cell's voltage; anything else is another unit or a broken converter.
const VOLTAGE_RANGE: [f64; 2] = [-10.0, 10.0];
/// A single cell's current.
const CURRENT_RANGE: [f64; 2] = [-1000.0, 1000.0];
/// Temperatures a cell on a bench can have.
const TEMPERATURE_RANGE: [f64; 2] = [-60.0, 200.0];

/// Rows that may be unusable however short the file is.
const ALWAYS_FORGIVEN: usize = 2;
/// Notes of one kind that are written out one by one.
const MOST_NOTES: usize = 5;

/// Rows on their way from text to points.
#[derive(Default)]
pub(super) struct RowBuffer {
    pub(super) points: Vec<Point>,
    pub(super) lines: Vec<u64>,
    /// Most decimals that a current is written with.
    pub(super) current_decimals: i32,
    empty: usize,
    bad: Vec<(u64, String)>,
    odd_temperatures: Vec<(u64, String)>,
}

impl RowBuffer {
    /// Keeps a row, or notes why it cannot be used.
    pub(super) fn take(
        &mut self,
        columns: &Columns,
        record: &ByteRecord,
        line: u64,
        notes: &mut Vec<TraceNote>,
    ) {
        if record.iter().all(|field| field.trim_ascii().is_empty()) {
            self.empty += 1;
            return;
        }
        let point = columns.time.number(record, None).and_then(|time| {
            let current = columns.current.number(record, Some(CURRENT_RANGE))?;
            let voltage = columns.voltage.number(record, Some(VOLTAGE_RANGE))?;
            Ok((time, current, voltage))
        });
        let (time, charging, voltage) = match point {
            Ok(values) => values,
            Err(why) => {
                if self.bad.len() < MOST_NOTES {
                    let text = format!("{why}; the row is left out");
                    notes.push(TraceNote::new(Place::Line(line), NoteKind::MissingValue, text));
                }
                self.bad.push((line, why));
                return;
            }
        };
        let mut temperature = |column: &Option<Column>| {
            let column = column.as_ref().filter(|column| !column.is_blank(record))?;
            match column.number(record, Some(TEMPERATURE_RANGE)) {
                Ok(value) => Some(Celsius(value)),
                Err(why) => {
                    self.odd_temperatures.push((line, why));
                    None
                }
            }
        };
        let (cell, ambient) = (temperature(&columns.cell), temperature(&columns.ambient));
        self.current_decimals = self.current_decimals.max(columns.current.decimals(record));
        // The format's sign ends here: inside, positive discharges. Zero stays a plain zero.
        let current = Amps(0.0 - charging);
        self.points.push(Point { time: Seconds(time), current, voltage: Volts(voltage), cell, ambient });
        self.lines.push(line);
    }

    /// Decides whether enough rows are left, and sums up what was left out.
    pub(super) fn judge(&mut self, name: &str, notes: &mut Vec<TraceNote>) -> Result<(), BdfError> {
        let rows = self.points.len() + self.bad.len();
        let allowed = ALWAYS_FORGIVEN.max((rows as f64 * MOST_BAD_SHARE) as usize);
        if let (true, Some((line, why))) = (self.bad.len() > allowed, self.bad.first()) {
            let first = format!("line {line}: {why}");
            return Err(BdfError::TooManyBadRows { name: name.to_owned(), bad: self.bad.len(), rows, first });
        }
        if self.points.len() < 2 {
            return Err(BdfError::Empty { name: name.to_owned(), rows: self.points.len() });
        }
        let whole = |text: String| TraceNote::new(Place::Whole, NoteKind::MissingValue, text);
        if self.bad.len() > MOST_NOTES {
            notes.push(whole(format!("{} rows were left out in all", self.bad.len())));
        }
        if self.empty > 0 {
            notes.push(whole(format!("{} empty rows", self.empty)));
        }
        if let Some((line, why)) = self.odd_temperatures.first() {
            let count = self.odd_temperatures.len();
            let text = format!("{why}; {count} temperatures are not used");
            notes.push(TraceNote::new(Place::Line(*line), NoteKind::MissingValue, text));
        }
        Ok(())
    }
}
