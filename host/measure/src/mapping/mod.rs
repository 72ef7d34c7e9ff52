//! Reads traces as other programs and instruments write them, by a mapping that a person has confirmed.
//!
//! ```text
//! bytes --guess--> Guess (mapping + what is in doubt) --a person looks--> Mapping --read--> Trace
//! ```
//! A [`Mapping`] says how the text is written, which column is what in which unit, which sign discharges and which rows count. It
//! is a file that people may write; it knows no program by name. [`Mapping::read`] turns each line into the columns of the open
//! Battery Data Format, at the same line number, and hands that to [`bdf`](crate::bdf): all its checks and messages then hold for
//! every file.

mod cells;
mod clock;
mod columns;
mod convert;
mod current;
mod encoding;
mod file;
mod guess;
mod number;
mod parts;
#[cfg(test)]
mod tests;

use crate::bdf::BdfError;

pub use guess::{Guess, guess};
pub use parts::{
    ColumnName, CurrentColumn, CurrentUnit, DecimalMark, Encoding, Layout, Mapping, Mode, Positive,
    RowChoice, Selection, Separator, TemperatureColumn, TemperatureUnit, TimeColumn, TimeUnit, VoltageColumn,
    VoltageUnit,
};

/// Why a file could not be read by a mapping.
#[derive(Debug, thiserror::Error)]
pub enum MappingError {
    /// The text is not written as the mapping says.
    #[error("{name}: {what}")]
    Text {
        /// The file.
        name: String,
        /// What is wrong and what to do.
        what: String,
    },
    /// A column that the mapping names is not there.
    #[error("{name}: line {line}: {what}")]
    Column {
        /// The file.
        name: String,
        /// The line that names the columns; 1 where none does.
        line: usize,
        /// What is wrong and what to do.
        what: String,
    },
    /// No row was chosen.
    #[error("{name}: no row is chosen: {what}")]
    NoRows {
        /// The file.
        name: String,
        /// Which values the column of the choice has.
        what: String,
    },
    /// What was read is no trace that can be estimated.
    #[error(transparent)]
    Trace(#[from] BdfError),
    /// No column could be recognised.
    #[error("{name}: {what}")]
    NotRecognised {
        /// The file.
        name: String,
        /// What was looked for and what to do.
        what: String,
    },
}
