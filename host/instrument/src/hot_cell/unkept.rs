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

/// Returns the files of watches that lie beside a book.
pub fn beside(book: &Path) -> Vec<PathBuf> {
    let name = book.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let folder = book.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| {
            let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            file.starts_with(&format!("{name}.unkept-")) && file.ends_with(".json")
        })
        .collect();
    found.sort();
    found
}

/// Returns the alarm about a cell that such a file holds; a file that cannot be read may hold one about any cell.
pub fn alarm_about(file: &Path, cell: &str) -> Option<String> {
    let unreadable = || Some("a file that cannot be read".to_owned());
    let Ok(text) = std::fs::read_to_string(file) else { return unreadable() };
    let Ok(told) = serde_json::from_str::<Value>(&text) else { return unreadable() };
    if told.get("cell").and_then(Value::as_str) != Some(cell) {
        return None;
    }
    let alarms = told.get("alarms_not_in_the_book").and_then(Value::as_array).cloned().unwrap_or_default();
    alarms.into_iter().find_map(|one| {
        // An alarm that cannot be read is one.
        match serde_json::from_value::<Alarm>(one.get("alarm").cloned().unwrap_or_default()) {
            Ok(alarm) => alarm.cause.is_about_the_cell().then(|| alarm.cause.words().to_owned()),
            Err(_) => unreadable(),
        }
    })
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
