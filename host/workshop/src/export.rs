//! What was kept with an entry, as files for whoever has other tools.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use celltriage_assessment::recorded::Recorded;
use celltriage_measure::bdf;
use std::path::Path;

/// A file that goes out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExportedFile {
    /// Its name, without a folder.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

impl Workshop<'_> {
    /// Returns what was kept with an entry: files, recordings as frames and as an open table, the result.
    ///
    /// # Errors
    /// There is no such entry, or the book cannot be read.
    pub fn export(&self, number: u64) -> Result<Vec<ExportedFile>> {
        let entry = self.entry(number)?;
        let mut files = Vec::new();
        let mut add = |name: String, bytes: Vec<u8>| files.push(ExportedFile { name, bytes });
        let kept = self.kept_with(entry.number)?;
        for attachment in kept.attachments {
            if let Some(bytes) = self.book.attachment(attachment.sha256)? {
                add(last_part(&attachment.name), bytes);
            }
        }
        for recording in kept.recordings {
            let Some(bytes) = self.book.recording(recording.number)? else { continue };
            let name = format!("recording-{}", recording.number);
            let table = table(&bytes, &name)?;
            add(format!("{name}.frames"), bytes);
            if let Some(table) = table {
                add(format!("{name}.csv"), table);
            }
        }
        let result =
            serde_json::to_vec_pretty(&entry.result).map_err(|error| self.book.unreadable(&entry, error))?;
        add("assessment.json".to_owned(), result);
        Ok(files)
    }
}

/// A name was given by a person: only its last part is used, so that nothing is written outside the folder.
fn last_part(name: &str) -> String {
    Path::new(name).file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The trace of a recording as a table, if there is one in it.
fn table(frames: &[u8], name: &str) -> Result<Option<Vec<u8>>> {
    let Some(trace) = Recorded::read(frames, None).trace else { return Ok(None) };
    let mut table = Vec::new();
    let failed = |error: &dyn ToString| Fault::NoTable { name: name.to_owned(), why: error.to_string() };
    bdf::write(&mut table, &trace).map_err(|error| failed(&error))?;
    Ok(Some(table))
}
