//! `book merge`: the entries of another bench.

use super::progress::{Progress, counted, numbers};
use crate::beside;
use crate::clock_check::warn_beside;
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::written_to::tell_written;
use celltriage_book::Book;
use celltriage_workshop::Workshop;
use serde_json::json;
use std::path::Path;

/// Opens the book to take entries in. Nobody is asked about the clock: each entry keeps the time at which it was made.
///
/// # Errors
/// A book error.
pub(super) fn opened(path: &Path, io: &mut Io<'_>) -> Result<Book, Error> {
    beside::take_in(path, io);
    let book = Book::open(path)?;
    warn_beside(&book, io);
    Ok(book)
}

/// Runs `book merge`.
///
/// # Errors
/// A book error: above all that the two have one chain that goes on differently.
pub(super) fn run(shop: &mut Workshop<'_>, file: &Path, as_json: bool, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut progress = Progress::on(io);
    let taken = shop.merge(file, &mut |step| progress.step(step))?;
    drop(progress);
    let new = &taken.merged.entries;
    if as_json {
        say_json(
            &json!({
                "schema": "celltriage.merge/1", "from": file, "entries": new, "benches": taken.benches,
                "known": taken.merged.known, "recordings": taken.merged.recordings,
            }),
            io,
        )?;
    } else {
        let benches: Vec<String> =
            taken.benches.iter().map(|(bench, count)| format!("{count} of {bench}")).collect();
        let came = counted(new.len() as u64, "new entry", "new entries");
        let of = if benches.is_empty() { String::new() } else { format!(" ({})", benches.join(", ")) };
        io.say(&format!(
            "{came}{of}; {} known already",
            counted(taken.merged.known, "entry was", "entries were")
        ));
        if taken.merged.recordings > 0 {
            let came = counted(taken.merged.recordings, "recording", "recordings");
            io.say(&format!("{came} without an entry came along"));
        }
    }
    if !new.is_empty() {
        tell_written(numbers(new), shop.book().path(), io);
    }
    Ok(EXIT_DONE)
}
