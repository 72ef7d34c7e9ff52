//! Reads and writes traces as CSV in the columns of the open Battery Data Format.
//!
//! Takes text with one header row; gives a [`Trace`] or an error that names file, line, column, what was read and what
//! to do. **The format counts charging as positive; it is turned here, on reading and on writing, and nowhere else.**
//! Column names are those of the format's published package (version 0.1.0), human and machine spelling, in any order.
//!
//! A row without a usable time, current or voltage is left out with a note; more than [`MOST_BAD_SHARE`] of them, or a
//! clock that is wrong at more than [`MOST_CLOCK_FAULTS`] places, is an error: such a file is not a measurement.

mod columns;
mod sign;
mod split;
mod write;

use crate::si::{Amps, Celsius, Seconds, Volts};
use crate::trace::{NoteKind, Place, Point, Source, Trace, TraceNote};
use columns::Columns;
use csv::ByteRecord;
use std::io::Read;

pub use sign::implied_sign;
pub use split::{Piece, Pieces};
pub use write::write;

/// Share of rows that may be unusable: a torn last line is normal, a hole in every hundredth row is not.
pub const MOST_BAD_SHARE: f64 = 0.01;
/// Rows that may be unusable however short the file is.
const ALWAYS_FORGIVEN: usize = 2;
/// Places at which the clock may be wrong; a clock with more faults cannot be believed in between.
pub const MOST_CLOCK_FAULTS: usize = 5;
/// Notes of one kind that are written out one by one.
const MOST_NOTES: usize = 5;
/// A single cell's voltage; anything else is another unit or a broken converter.
const VOLTAGE_RANGE: [f64; 2] = [-10.0, 10.0];
/// A single cell's current.
const CURRENT_RANGE: [f64; 2] = [-1000.0, 1000.0];
/// Temperatures a cell on a bench can have.
const TEMPERATURE_RANGE: [f64; 2] = [-60.0, 200.0];

/// Why a file could not be read as a trace.
#[derive(Debug, thiserror::Error)]
pub enum BdfError {
    /// The text is not CSV.
    #[error("{name}: line {line}: not readable as CSV: {what}; save it as comma-separated UTF-8 text")]
    NotCsv {
        /// The file.
        name: String,
        /// Line, from 1.
        line: u64,
        /// What the reader said.
        what: String,
    },
    /// The header row lacks something or has it twice.
    #[error("{name}: line 1: {what}")]
    Header {
        /// The file.
        name: String,
        /// What is wrong and what to do.
        what: String,
    },
    /// Too few rows.
    #[error("{name}: {rows} usable rows; a trace needs at least 2: check that the recording is complete")]
    Empty {
        /// The file.
        name: String,
        /// How many.
        rows: usize,
    },
    /// Too many rows that cannot be used.
    #[error(
        "{name}: {bad} of {rows} rows cannot be used, the first one: {first}; repair the file or record it again"
    )]
    TooManyBadRows {
        /// The file.
        name: String,
        /// Rows that cannot be used.
        bad: usize,
        /// All rows.
        rows: usize,
        /// Where and why, of the first.
        first: String,
    },
    /// The clock is wrong too often.
    #[error(
        "{name}: time is wrong at {faults} places, the first one: {first}; \
         a trace with such a clock is not estimated, export it again in order of time"
    )]
    Clock {
        /// The file.
        name: String,
        /// How many places.
        faults: usize,
        /// Where and what, of the first.
        first: String,
    },
    /// Rows of another cell in one trace.
    #[error(
        "{name}: line {line}: a row of cell `{other}` among those of cell `{cell}`; one trace is one cell"
    )]
    SeveralCells {
        /// The file.
        name: String,
        /// The row.
        line: u64,
        /// The cell of the first row.
        cell: String,
        /// The cell of this row.
        other: String,
    },
    /// The current has the other sign.
    #[error(
        "{name}: {evidence}: column `Current / A` seems to count discharging as positive, \
         but the format counts charging as positive; turn the sign of that column and try again"
    )]
    Sign {
        /// The file.
        name: String,
        /// What contradicts.
        evidence: String,
    },
}

/// Reads a trace; `name` is what messages call the input.
///
/// # Errors
/// See [`BdfError`].
pub fn read(input: impl Read, name: &str) -> Result<Trace, BdfError> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).has_headers(true).from_reader(input);
    let header = reader.byte_headers().map_err(|error| not_csv(name, &error))?.clone();
    Header::new(&header, name)?.rows(&mut reader, 0, name)
}

/// A header row that was understood; it may stand above the rows of many cells.
#[derive(Clone, Debug)]
pub struct Header {
    columns: Columns,
    notes: Vec<TraceNote>,
}

impl Header {
    /// Reads a header row from its line.
    ///
    /// # Errors
    /// See [`BdfError`].
    pub fn read(line: &[u8], name: &str) -> Result<Self, BdfError> {
        let mut reader = csv::ReaderBuilder::new().has_headers(true).from_reader(line);
        Self::new(reader.byte_headers().map_err(|error| not_csv(name, &error))?, name)
    }

    fn new(header: &ByteRecord, name: &str) -> Result<Self, BdfError> {
        let mut notes = Vec::new();
        let columns = Columns::find(header, &mut notes)
            .map_err(|what| BdfError::Header { name: name.to_owned(), what })?;
        Ok(Self { columns, notes })
    }

    /// Returns the place of the column that names the cell, if there is one.
    pub fn cell_id(&self) -> Option<usize> {
        self.columns.cell_id.as_ref().map(columns::Column::index)
    }

    /// Reads the rows of one cell that stand below this header, after so many lines of the file.
    ///
    /// # Errors
    /// See [`BdfError`].
    pub fn read_rows(&self, text: &[u8], lines_before: u64, name: &str) -> Result<Trace, BdfError> {
        let mut reader = csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(text);
        self.rows(&mut reader, lines_before, name)
    }

    fn rows(
        &self,
        reader: &mut csv::Reader<impl Read>,
        lines_before: u64,
        name: &str,
    ) -> Result<Trace, BdfError> {
        let mut notes = self.notes.clone();
        let mut rows = Rows::default();
        let mut record = ByteRecord::new();
        let mut cell = None;
        while reader.read_byte_record(&mut record).map_err(|error| not_csv(name, &error))? {
            let line = lines_before + record.position().map_or(0, csv::Position::line);
            if let Some(id) = self.columns.cell_id(&record) {
                let first = cell.get_or_insert_with(|| id.to_vec());
                if first.as_slice() != id {
                    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
                    let (cell, other) = (text(first), text(id));
                    return Err(BdfError::SeveralCells { name: name.to_owned(), line, cell, other });
                }
            }
            rows.take(&self.columns, &record, line, &mut notes);
        }
        rows.judge(name, &mut notes)?;
        into_trace(rows, notes, name)
    }
}

fn into_trace(rows: Rows, notes: Vec<TraceNote>, name: &str) -> Result<Trace, BdfError> {
    let lines = rows.lines;
    let place = |index: usize| lines.get(index).map_or(Place::Whole, |line| Place::Line(*line));
    let (mut trace, faults) = Trace::from_points(rows.points, place, Source::File(name.to_owned()), notes);
    if faults > MOST_CLOCK_FAULTS {
        let about_time =
            |note: &&TraceNote| matches!(note.kind, NoteKind::TimeBackwards | NoteKind::TimeRepeats);
        let first = trace.notes.iter().find(about_time).map_or_else(String::new, ToString::to_string);
        return Err(BdfError::Clock { name: name.to_owned(), faults, first });
    }
    if let (Some(first), Some(last)) = (trace.points.first(), trace.points.last())
        && first.time == last.time
    {
        let first = format!("{}: all rows carry {} s", place(0), first.time.0);
        return Err(BdfError::Clock { name: name.to_owned(), faults: 1, first });
    }
    match implied_sign(&trace) {
        sign::Sign::Wrong(evidence) => return Err(BdfError::Sign { name: name.to_owned(), evidence }),
        sign::Sign::Mixed(text) => trace.notes.push(TraceNote::new(Place::Whole, NoteKind::Sign, text)),
        sign::Sign::Right | sign::Sign::Untold => {}
    }
    Ok(trace)
}

fn not_csv(name: &str, error: &csv::Error) -> BdfError {
    let line = error.position().map_or(1, csv::Position::line);
    BdfError::NotCsv { name: name.to_owned(), line, what: error.to_string() }
}

/// Rows on their way from text to points.
#[derive(Default)]
struct Rows {
    points: Vec<Point>,
    lines: Vec<u64>,
    empty: usize,
    bad: Vec<(u64, String)>,
    odd_temperatures: Vec<(u64, String)>,
}

impl Rows {
    fn take(&mut self, columns: &Columns, record: &ByteRecord, line: u64, notes: &mut Vec<TraceNote>) {
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
        let mut temperature = |column: &Option<columns::Column>| {
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
        // The format's sign ends here: inside, positive discharges. Zero stays a plain zero.
        let current = Amps(0.0 - charging);
        self.points.push(Point { time: Seconds(time), current, voltage: Volts(voltage), cell, ambient });
        self.lines.push(line);
    }

    /// Decides whether enough rows are left, and sums up what was left out.
    fn judge(&mut self, name: &str, notes: &mut Vec<TraceNote>) -> Result<(), BdfError> {
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

#[cfg(test)]
mod tests;
