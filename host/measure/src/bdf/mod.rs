//! Reads and writes traces as CSV in the columns of the open Battery Data Format.
//!
//! Input: text with one header row; output: a [`Trace`] or an error that names file, line, column, what was read and what
//! to do. **The format counts charging as positive; it is turned here, on reading and on writing, and nowhere else.**
//! Column names are those of the format's published package (version 0.1.0), human and machine spelling, in any order.
//!
//! A row without a usable time, current or voltage is left out with a note; more than [`MOST_BAD_SHARE`] of them, or a
//! clock that is wrong at more than [`MOST_CLOCK_FAULTS`] places, is an error: such a file is not a measurement.

mod columns;
mod error;
mod rows;
mod sign;
mod split;
mod write;

use crate::si::Amps;
use crate::trace::{NoteKind, Place, Source, Trace, TraceNote};
use columns::Columns;
use csv::ByteRecord;
use error::not_csv;
use rows::RowBuffer;
use std::io::Read;

pub use error::BdfError;
pub use rows::MOST_BAD_SHARE;
pub use sign::{CurrentSign, implied_sign};
pub use split::{Piece, Pieces};
pub use write::write;

/// Places at which the clock may be wrong; a clock with more faults cannot be believed in between.
pub const MOST_CLOCK_FAULTS: usize = 5;
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
        let mut record = ByteRecord::new();
        self.records(name, || {
            let more = reader.read_byte_record(&mut record).map_err(|error| not_csv(name, &error))?;
            let line = lines_before + record.position().map_or(0, csv::Position::line);
            Ok(more.then(|| (line, record.clone())))
        })
    }

    /// Reads rows that were taken apart elsewhere, each with its line.
    pub(crate) fn read_records(
        &self,
        mut records: impl Iterator<Item = (u64, ByteRecord)>,
        name: &str,
    ) -> Result<Trace, BdfError> {
        self.records(name, || Ok(records.next()))
    }

    fn records(
        &self,
        name: &str,
        mut next: impl FnMut() -> Result<Option<(u64, ByteRecord)>, BdfError>,
    ) -> Result<Trace, BdfError> {
        let mut notes = self.notes.clone();
        let mut rows = RowBuffer::default();
        let mut cell = None;
        while let Some((line, record)) = next()? {
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

fn into_trace(rows: RowBuffer, notes: Vec<TraceNote>, name: &str) -> Result<Trace, BdfError> {
    let (lines, decimals) = (rows.lines, rows.current_decimals);
    let place = |index: usize| lines.get(index).map_or(Place::Whole, |line| Place::Line(*line));
    let (mut trace, faults) = Trace::from_points(rows.points, place, Source::File(name.to_owned()), notes);
    trace.points.current_is_written_to(Amps(10f64.powi(-decimals)));
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
        sign::CurrentSign::Wrong(evidence) => return Err(BdfError::Sign { name: name.to_owned(), evidence }),
        sign::CurrentSign::Mixed(text) => {
            trace.notes.push(TraceNote::new(Place::Whole, NoteKind::Sign, text))
        }
        sign::CurrentSign::Right | sign::CurrentSign::Untold => {}
    }
    Ok(trace)
}

#[cfg(test)]
mod tests;
