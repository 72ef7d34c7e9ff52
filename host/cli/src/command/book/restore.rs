//! `book restore`: the book from a copy, to its place.

use super::progress::{Progress, counted};
use crate::beside;
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_workshop::copies::restore;
use serde_json::json;
use std::path::Path;

/// Runs `book restore`.
///
/// # Errors
/// An input error where a book is there, a book error where the copy does not verify.
pub(super) fn run(copy: &Path, to: &Path, as_json: bool, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut progress = Progress::on(io);
    let restored = restore(copy, to, &mut |step| progress.step(step))?;
    drop(progress);
    let entries = restored.copied.entries;
    if as_json {
        say_json(
            &json!({
                "schema": "celltriage.copy/1", "file": to, "entries": entries,
                "digest_of_last": restored.last.map(|digest| digest.to_string()), "faults": [],
            }),
            io,
        )?;
    } else {
        io.say(&format!(
            "{}: {}, each as it was written",
            to.display(),
            counted(entries, "entry", "entries")
        ));
        if let Some(last) = restored.last {
            io.say(&format!("digest of the last entry: {last}"));
        }
    }
    io.note(
        "what the old book got after this copy was made is not in it; a checkpoint noted later shows what is missing \
         (`celltriage book verify --expect`)",
    );
    io.note(
        "should the old file turn up again, do not write to it any more: both would go on with the same chain, each in its \
         own way, and neither could take in the entries of the other",
    );
    beside::tell(to, io);
    Ok(EXIT_DONE)
}
