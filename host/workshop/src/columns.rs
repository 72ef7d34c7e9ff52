//! How the columns of another program's file are read: guessed, or as a mapping says.

use crate::fault::{Fault, Result};
use crate::foreign_file::Foreign;
use celltriage_measure::mapping::{Guess, Mapping, guess};
use std::path::Path;

/// Looks at a file: with a mapping, at what that gives; without, at what would be guessed.
///
/// # Errors
/// [`Fault::ForeignFile`]; [`Fault::NoColumns`] where nothing can be guessed. What a mapping does not read stands in the answer.
pub fn columns_of(path: &Path, bytes: &[u8], given: Option<Mapping>) -> Result<Guess> {
    if let Some(Foreign { kind, remedy, .. }) = Foreign::of(bytes) {
        return Err(Fault::ForeignFile { file: path.to_owned(), kind, remedy });
    }
    let name = path.display().to_string();
    match given {
        Some(mapping) => {
            let trace = mapping.read(bytes, &name).map_err(|error| error.to_string());
            Ok(Guess { mapping, doubts: Vec::new(), not_used: Vec::new(), trace })
        }
        None => guess(bytes, &name).map_err(|error| Fault::NoColumns { what: error.to_string() }),
    }
}
