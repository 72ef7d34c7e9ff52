//! What lies beside the book because it did not take it: taken in before a command writes, told where one only reads.

use crate::error::{Error, Kind};
use crate::io::Io;
use crate::written_to::tell_written;
use celltriage_book::{Book, Kept, aside};
use std::path::Path;
use std::time::Duration;

/// So long taking in waits for another program: the command itself is what the person wants (our choice).
const PATIENCE: Duration = Duration::from_secs(2);

/// Takes in what lies beside a book that is there; what cannot be taken in is told and stays, and holds up nothing else.
///
/// No clock is asked about: each entry keeps the time at which it was made.
pub fn take_in(path: &Path, io: &mut Io<'_>) {
    let files = aside::beside(path);
    if files.is_empty() {
        return;
    }
    if !path.exists() {
        // A book that this command begins is there for the next one.
        return tell(path, io);
    }
    let mut book = match Book::open_within(path, PATIENCE) {
        Ok(book) => book,
        Err(error) => {
            io.note(&format!("warning: {} beside the book not taken in: {error}", counted(files.len())));
            return;
        }
    };
    for file in files {
        let line = match aside::take_in(&mut book, &file) {
            Ok(taken) => format!(
                "note: {} from beside the book taken in; the file is kept as {}",
                entries(taken.entries),
                taken.file.display()
            ),
            Err(error) => format!("warning: {} beside the book not taken in: {error}", file.display()),
        };
        io.note(&line);
    }
}

/// Says in one line that something lies beside a book, which is only read.
pub fn tell(path: &Path, io: &mut Io<'_>) {
    let files = aside::beside(path);
    if let Some(first) = files.first() {
        io.note(&format!(
            "note: {} beside the book with what it did not take ({}); the next command that writes takes it in",
            counted(files.len()),
            first.display()
        ));
    }
}

/// Says as which entry a decision was written; one that is not in the book was told already.
pub fn tell_entry(kept: &Kept, path: &Path, io: &mut Io<'_>) {
    if let Some(entry) = kept.entry() {
        tell_written(entry, path, io);
    }
}

/// Tells that something is not in the book, and where it is.
pub fn tell_not_in_book(what: &str, kept: &Kept, io: &mut Io<'_>) {
    let error = match kept {
        Kept::InBook(_) => return,
        Kept::Beside { why, file } => not_in_book(what, why)
            .hint(format!("it is kept in {}; keep that file with the book", file.display()))
            .hint("the next command that writes to the book takes it in")
            .hints(is_temporary(file).then_some(
                "the folder of the book could not be written, so it lies where the system may clear it away: give such a command soon",
            )),
        Kept::Nowhere { why, beside } => not_in_book(what, why).hint(format!(
            "it could not be put beside the book either ({beside}); what this call prints is all there is"
        )),
    };
    io.note(&error.to_string());
}

fn is_temporary(file: &Path) -> bool {
    file.starts_with(std::env::temp_dir().join(""))
        && file
            .parent()
            .and_then(Path::file_name)
            .is_some_and(|folder| folder.to_string_lossy().starts_with("celltriage-"))
}

fn not_in_book(what: &str, why: &str) -> Error {
    Error::new(Kind::Book, format!("{what} is NOT in the book: {why}"))
}

/// Returns the exit code of a call that did what it was asked, by where that is kept.
pub fn exit_code(kept: &Kept, done: u8) -> u8 {
    match kept {
        Kept::InBook(_) => done,
        Kept::Beside { .. } | Kept::Nowhere { .. } => Kind::Book.exit_code(),
    }
}

fn counted(files: usize) -> String {
    if files == 1 { "a file lies".to_owned() } else { format!("{files} files lie") }
}

fn entries(count: usize) -> String {
    if count == 1 { "1 entry".to_owned() } else { format!("{count} entries") }
}
