//! What the book did not take, put beside it: a small book by itself, so that its entries and recordings carry their own seal.
//!
//! `book.sqlite.aside-20261125T120000Z-1.sqlite` lies in the folder of the book; where that cannot be written, in a folder of
//! this book's own below the system's temporary one. It is made under another name and gets its own when it is whole.

use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::channel;
use std::time::Duration;

use crate::files::{folder_of, name_of, named_after, remove, sync};
use crate::{Book, BookError, NewEntry, Subject};

use super::folder::{is_ours, made_for_us, second_folder};
use super::kept::Kept;
pub use super::note::NOTE;
use super::note::Note;
use super::rest::Rest;
pub use super::take_in::{TakenIn, take_in};

/// So many names are tried where files of the same second are there already (our choice).
const MOST_NAMES: u32 = 100;
/// So many bytes are written at once.
const AT_ONCE: usize = 1 << 20;

/// Puts it beside the book and says where it is.
pub fn keep(rest: Rest, patience: Duration) -> Kept {
    let why = rest.why.clone();
    match put(rest, patience) {
        Ok(file) => Kept::Beside { why, file },
        Err(beside) => Kept::Nowhere { why, beside },
    }
}

/// Returns the files that lie beside a book and are to be taken in, oldest first.
pub fn beside(book: &Path) -> Vec<PathBuf> {
    let mut found = listed(folder_of(book), book);
    let elsewhere = second_folder(book);
    if is_ours(&elsewhere, book) {
        found.extend(listed(&elsewhere, book));
    }
    found
}

fn listed(folder: &Path, book: &Path) -> Vec<PathBuf> {
    named_after(book, folder, "aside-", ".sqlite")
}

/// Puts it beside the book, or into the second folder, and returns the file; each is given so long, since the disk may hang.
fn put(rest: Rest, patience: Duration) -> Result<PathBuf, String> {
    let (first, second) = (folder_of(&rest.book).to_owned(), second_folder(&rest.book));
    let rest = Arc::new(rest);
    within(patience, &rest, first).or_else(|why| {
        within(patience, &rest, second.clone()).map_err(|also| {
            // Only an empty one goes.
            let _others_may_lie_there = std::fs::remove_dir(second);
            format!("{why}; {also}")
        })
    })
}

fn within(patience: Duration, rest: &Arc<Rest>, folder: PathBuf) -> Result<PathBuf, String> {
    let (tell, told) = channel();
    let (rest, shown) = (Arc::clone(rest), folder.display().to_string());
    let thread = std::thread::Builder::new().name("beside the book".to_owned());
    let spawned = thread.spawn(move || {
        let _nobody_may_wait_any_longer = tell.send(written(&rest, &folder));
    });
    spawned.map_err(|error| format!("{shown}: {error}"))?;
    told.recv_timeout(patience).unwrap_or_else(|_| Err(format!("{shown}: the disk has not answered in time")))
}

fn written(rest: &Rest, folder: &Path) -> Result<PathBuf, String> {
    let words = |path: &Path, error: &std::io::Error| format!("{}: {error}", path.display());
    if folder == second_folder(&rest.book) {
        made_for_us(folder).map_err(|error| words(folder, &error))?;
    }
    let stem = format!("{}.aside-{}", name_of(&rest.book), rest.at().strftime("%Y%m%dT%H%M%SZ"));
    for number in 1..=MOST_NAMES {
        let file = folder.join(format!("{stem}-{number}.sqlite"));
        let making = folder.join(format!("{stem}-{number}.sqlite.part"));
        // Whoever made this file alone may give the name: nothing there is written over.
        match OpenOptions::new().write(true).create_new(true).open(&making) {
            Err(error) if error.kind() == ErrorKind::AlreadyExists => continue,
            Err(error) => return Err(words(&making, &error)),
            Ok(_) => {}
        }
        if file.exists() {
            remove(&making);
            continue;
        }
        let named = fill(rest, &making)
            .map_err(|error| error.to_string())
            .and_then(|()| std::fs::rename(&making, &file).map_err(|error| words(&file, &error)));
        if let Err(why) = named {
            remove(&making);
            return Err(why);
        }
        let _not_every_system_can = sync(folder);
        return Ok(file);
    }
    Err(format!("{}: {MOST_NAMES} files of this second lie there already", folder.display()))
}

fn fill(rest: &Rest, file: &Path) -> Result<(), BookError> {
    let mut book = Book::open(file)?;
    let note = NewEntry::of(NOTE, Subject::cell(&rest.cell), rest.at());
    book.append_record(NewEntry { summary: Note::WORDS.to_owned(), ..note }, &Note::of(rest))?;
    let mut recording = Vec::new();
    if !rest.bytes.is_empty() || rest.entries.iter().any(|one| one.finishes) {
        let number = book.begin_recording(&rest.cell, rest.began)?;
        rest.bytes.chunks(AT_ONCE).try_for_each(|bytes| book.append_recording(number, bytes))?;
        recording.push(number);
    }
    for one in &rest.entries {
        let mut entry = one.entry.clone();
        entry.recordings = if one.finishes { std::mem::take(&mut recording) } else { Vec::new() };
        book.append(entry)?;
    }
    Ok(())
}
