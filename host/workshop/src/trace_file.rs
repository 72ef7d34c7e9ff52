//! A trace as a file gives it: a recording of frames, or CSV of another program or instrument.

use crate::fault::{Fault, NoTrace, Result};
use crate::foreign_file::Foreign;
use celltriage_assessment::FROM_FILE;
use celltriage_assessment::case::{Origin, attachment};
use celltriage_assessment::record::{MAPPING, TRACE_CSV, TRACE_FRAMES, TRACE_TEXT};
use celltriage_assessment::recorded::Recorded;
use celltriage_book::NewAttachment;
use celltriage_instrument::simulated::is_board;
use celltriage_measure::bdf::{self, BdfError};
use celltriage_measure::mapping::Mapping;
use celltriage_measure::trace::Trace;
use std::path::Path;

/// A trace, where it came from, and the file as it was given.
#[derive(Clone, Debug)]
pub struct GivenTrace {
    /// The trace; `None` if a recording holds no sample.
    pub trace: Option<Trace>,
    /// Where it came from.
    pub origin: Origin,
    /// The file for the book, and the mapping that it was read by.
    pub evidence: Vec<NewAttachment>,
}

impl GivenTrace {
    /// Reads the bytes of a file; a recording is known by its name's ending or by its zero bytes, which no text has.
    ///
    /// # Errors
    /// [`Fault::ForeignFile`], [`Fault::NoFrames`], [`Fault::Trace`].
    pub fn read(path: &Path, bytes: Vec<u8>) -> Result<Self> {
        let source = format!("{FROM_FILE}{}", path.file_name().unwrap_or_default().to_string_lossy());
        let is_recording = path.extension().is_some_and(|ending| ending == "frames");
        if let Some(Foreign { kind, remedy, .. }) = Foreign::of(&bytes).filter(|_| !is_recording) {
            return Err(Fault::ForeignFile { file: path.to_owned(), kind, remedy });
        }
        // The byte order marks of UTF-16 (Unicode 3.10): such text is full of zero bytes.
        if !is_recording && (bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF")) {
            let what =
                format!("{}: this is text in UTF-16; the open Battery Data Format is UTF-8", path.display());
            return Err(Fault::Trace { file: path.to_owned(), what, why: NoTrace::OtherColumns });
        }
        if is_recording || bytes.contains(&0) {
            let recorded = Recorded::read(&bytes, None);
            let origin = Origin::of(source, &recorded, &[]);
            if recorded.trace.is_none() && recorded.identity.is_none() {
                let pieces = recorded.damage.len();
                return Err(Fault::NoFrames { file: path.to_owned(), pieces });
            }
            let evidence = vec![attachment(TRACE_FRAMES, "application/octet-stream", bytes)];
            return Ok(Self { trace: recorded.trace, origin, evidence });
        }
        let trace = bdf::read(bytes.as_slice(), &path.display().to_string()).map_err(|error| {
            let why = match error {
                BdfError::SeveralCells { .. } => NoTrace::ManyCells,
                BdfError::Header { .. } | BdfError::NotCsv { .. } => NoTrace::OtherColumns,
                _ => NoTrace::Rows,
            };
            Fault::Trace { file: path.to_owned(), what: error.to_string(), why }
        })?;
        let evidence = vec![attachment(TRACE_CSV, "text/csv", bytes)];
        Ok(Self { trace: Some(trace), origin: Origin::elsewhere(source), evidence })
    }

    /// Reads text of another program by a mapping that somebody has confirmed.
    ///
    /// # Errors
    /// [`Fault::NotConfirmed`], [`Fault::Mapped`].
    pub fn read_mapped(path: &Path, bytes: Vec<u8>, mapping: &Mapping) -> Result<Self> {
        if mapping.confirmed_by.as_ref().is_none_or(|name| name.trim().is_empty()) {
            return Err(Fault::NotConfirmed { file: path.to_owned() });
        }
        let trace = mapping.read(&bytes, &path.display().to_string());
        let trace =
            trace.map_err(|error| Fault::Mapped { file: path.to_owned(), what: error.to_string() })?;
        let how = mapping.to_toml().map_err(|what| Fault::Mapped { file: path.to_owned(), what })?;
        let source = format!("{FROM_FILE}{}", path.file_name().unwrap_or_default().to_string_lossy());
        let evidence = vec![
            attachment(TRACE_TEXT, "text/plain", bytes),
            attachment(MAPPING, "application/toml", how.into_bytes()),
        ];
        Ok(Self { trace: Some(trace), origin: Origin::elsewhere(source), evidence })
    }

    /// Returns whether the simulated board recorded it.
    pub fn is_simulated(&self) -> bool {
        self.origin.fixture.as_deref().is_some_and(is_board)
    }
}
