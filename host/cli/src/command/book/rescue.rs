//! `book rescue`: what can still be read of a damaged book, as a new one.

use super::progress::{Progress, counted, numbers, say_line};
use super::verify::{fault_in_words, faults_json};
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error, Kind};
use crate::io::Io;
use celltriage_workshop::copies::{Rescued, rescue};
use serde_json::json;
use std::path::Path;

/// Runs `book rescue`; where something is lost it ends with the exit code of a book that does not verify.
///
/// # Errors
/// An input error where a file is there, a book error where nothing can be read.
pub(super) fn run(damaged: &Path, to: &Path, as_json: bool, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut progress = Progress::on(io);
    let rescued = rescue(damaged, to, &mut |step| progress.step(step))?;
    drop(progress);
    if as_json {
        say_json(
            &json!({
                "schema": "celltriage.rescue/1", "file": to, "entries": rescued.saved.entries, "last": rescued.last,
                "lost": rescued.lost, "in_part": rescued.in_part, "recordings": rescued.saved.recordings,
                "recordings_in_part": rescued.saved.damaged_recordings, "changed": faults_json(&rescued.changed),
            }),
            io,
        )?;
    } else {
        tell(&rescued, to, io);
    }
    io.note(&format!(
        "whether entries came after entry {} cannot be told from the file: compare with what was noted at a checkpoint \
         (`celltriage book verify --expect`), and with backups",
        rescued.last
    ));
    io.note(&format!(
        "keep {} as it is, and do not write to it any more: both would go on with the same chain",
        damaged.display()
    ));
    Ok(if rescued.is_whole() { EXIT_DONE } else { Kind::Book.exit_code() })
}

fn tell(rescued: &Rescued, to: &Path, io: &mut Io<'_>) {
    let saved = &rescued.saved;
    io.say(&format!(
        "{}: {} and {} saved whole",
        to.display(),
        counted(saved.entries, "entry", "entries"),
        counted(saved.recordings, "recording", "recordings")
    ));
    for (what, which) in [
        ("LOST, nothing is left of them: entries", &rescued.lost),
        ("saved in part: entries", &rescued.in_part),
        ("saved in part, or lost: recordings", &saved.damaged_recordings),
    ] {
        if !which.is_empty() {
            io.say(&format!("{what} {}", numbers(which)));
        }
    }
    if !rescued.changed.is_empty() {
        io.say("read, but not what was written:");
        rescued.changed.iter().for_each(|fault| say_line(&format!("  {}", fault_in_words(fault)), io));
    }
    if rescued.is_whole() {
        io.say("nothing that the file tells of is lost");
    }
}
