//! A watch that the book did not take, put into files beside the book, so that what was seen is not lost.

use super::alarm::Alarm;
use super::record::WatchRecord;
use jiff::Timestamp;
use serde_json::{Value, json};
use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};

/// So many names are tried where files of other watches stand already.
const MOST_NAMES: u32 = 100;

/// What could not be kept, and why.
#[derive(Debug)]
pub struct Unkept {
    /// The book that did not take it.
    pub book: PathBuf,
    /// Why.
    pub why: String,
    /// The cell.
    pub cell: String,
    /// When the watch ended.
    pub at: Timestamp,
    /// The whole watch.
    pub record: WatchRecord,
    /// Alarms that are not in the book, each with its time.
    pub alarms: Vec<(Alarm, Timestamp)>,
    /// The recording in the book that holds the readings up to where it stopped, if one was begun.
    pub recording: Option<i64>,
    /// Readings that are not in the book, as frames.
    pub frames: Vec<u8>,
    /// Readings that are nowhere.
    pub lost_frames: u64,
}

impl Unkept {
    /// Writes it beside the book and returns the file; nothing there is written over.
    ///
    /// # Errors
    /// The words of the system where that cannot be done either.
    pub fn put_beside(&self) -> Result<PathBuf, String> {
        let name = self.book.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let day = self.at.strftime("%Y%m%dT%H%M%SZ");
        for number in 1..=MOST_NAMES {
            let stem = format!("{name}.unkept-{day}-{number}");
            let file = self.book.with_file_name(format!("{stem}.json"));
            let frames = format!("{stem}.frames");
            let text = format!("{:#}\n", self.as_json(&frames));
            match put(&file, text.as_bytes()) {
                Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => continue,
                Err(error) => return Err(format!("{}: {error}", file.display())),
                Ok(()) => {}
            }
            if !self.frames.is_empty() {
                let file = self.book.with_file_name(frames);
                put(&file, &self.frames).map_err(|error| format!("{}: {error}", file.display()))?;
            }
            return Ok(file);
        }
        Err(format!("{MOST_NAMES} files of other watches stand beside the book already"))
    }

    fn as_json(&self, frames: &str) -> Value {
        let alarm = |(alarm, at): &(Alarm, Timestamp)| json!({ "at": at.to_string(), "alarm": alarm });
        json!({
            "schema": "celltriage.unkept-watch/1",
            "cell": self.cell,
            "at": self.at.to_string(),
            "why": self.why,
            "watch": self.record,
            "alarms_not_in_the_book": self.alarms.iter().map(alarm).collect::<Vec<_>>(),
            "recording": self.recording,
            "frames": (!self.frames.is_empty()).then_some(frames),
            "lost_frames": self.lost_frames,
        })
    }
}

/// Writes a file that is not there yet and brings it to the disk.
fn put(file: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut begun = OpenOptions::new().write(true).create_new(true).open(file)?;
    let done = begun.write_all(bytes).and_then(|()| begun.sync_all());
    if done.is_err() {
        // A file that holds a part would read as the whole.
        let _may_not_go_either = std::fs::remove_file(file);
    }
    done
}
