//! Why a file could not be read as a trace.

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

/// Makes the error of a text that is not CSV.
pub(super) fn not_csv(name: &str, error: &csv::Error) -> BdfError {
    let line = error.position().map_or(1, csv::Position::line);
    BdfError::NotCsv { name: name.to_owned(), line, what: error.to_string() }
}
