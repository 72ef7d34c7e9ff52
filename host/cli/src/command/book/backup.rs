//! `book backup`: a copy of the book, made while others write.

use super::progress::{Progress, counted, say_line};
use super::verify::{fault_in_words, faults_json};
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_workshop::Workshop;
use celltriage_workshop::checkpoints::lies_beside;
use serde_json::json;
use std::path::Path;

/// Runs `book backup`.
///
/// # Errors
/// A book error, also where the copy is to be verified and does not; an input error where a file is there.
pub(super) fn run(
    shop: &Workshop<'_>,
    file: &Path,
    check: bool,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let mut progress = Progress::on(io);
    let copy = shop.back_up(file, check, &mut |step| progress.step(step))?;
    drop(progress);
    let (path, entries) = (copy.copied.path.display(), copy.copied.entries);
    let faults = copy.found.as_ref().map(|found| &found.faults);
    if as_json {
        let told = faults.map(|faults| faults_json(faults));
        say_json(
            &json!({
                "schema": "celltriage.copy/1", "file": copy.copied.path, "entries": entries,
                "digest_of_last": copy.last.map(|digest| digest.to_string()), "faults": told,
            }),
            io,
        )?;
    } else {
        io.say(&format!("{path}: {}", counted(entries, "entry", "entries")));
        if let Some(last) = copy.last {
            io.say(&format!("digest of the last entry: {last}"));
        }
        match faults {
            None => io.note("the copy was not verified: give `--check`, or `celltriage book verify` of it"),
            Some(faults) if faults.is_empty() => io.say("verified: each entry as it was written"),
            Some(faults) => faults.iter().for_each(|fault| say_line(&fault_in_words(fault), io)),
        }
    }
    if lies_beside(shop.book().path(), file) {
        io.note("note: it lies beside the book: what damages that folder or its disk takes both");
    }
    match faults.map_or(0, Vec::len) {
        0 => Ok(EXIT_DONE),
        count => {
            Err(Error::book(format!("{path} does not verify: {}", counted(count as u64, "fault", "faults")))
                .hint("the copy stays as it is; verify the book itself, and keep the older copies"))
        }
    }
}
