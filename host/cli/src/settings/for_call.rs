//! The settings of one call: resolved, told where somebody would miss something, and the book's folder made.
//!
//! A settings file with a fault ends a call, because what it says of the book and the bench would be passed over. Three kinds of
//! calls go on with what can be known, and say so: a watch over a cell, which nothing holds up, a call that reports a
//! reacting cell and names the book itself, and one that asks for no book.

use super::Settings;
use super::file::{self, SettingsFile};
use super::key::{BOOK, KEYS, KeyRow};
use super::options::Given;
use super::surroundings::Surroundings;
use crate::error::Error;
use crate::io::Io;
use std::path::Path;

/// The book's name in the current folder, where it lay by default before there were settings.
const FORMER_BOOK: &str = "celltriage-book.sqlite";
/// Where a watch is kept in the current folder while it is not known where the book lies.
const WATCH_BOOK: &str = "celltriage-watch.sqlite";

/// What holds a call up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Urgency {
    /// Every fault of the settings.
    Waits,
    /// Only that it is not known where the book lies: a cell is reacting.
    Reacting,
    /// Nothing: a cell is watched.
    Watch,
}

/// Resolves the settings of a call.
///
/// # Errors
/// What is wrong with settings file, variables or folders.
pub fn resolved(
    given: &Given,
    urgency: Urgency,
    around: &Surroundings,
    io: &mut Io<'_>,
) -> Result<Settings, Error> {
    let read = read_file(given, urgency, around, io)?;
    match Settings::resolve(KEYS, given, around, read) {
        Err(error) if urgency == Urgency::Watch => {
            let beside = around.here().join(WATCH_BOOK);
            io.note(&format!(
                "warning: {}. The watch goes on and is kept in {}",
                error.message,
                beside.display()
            ));
            let mut given = given.clone();
            given.options.insert(BOOK, beside.into());
            // Without variables: what they say is the fault.
            Settings::resolve(KEYS, &given, &Surroundings::nowhere(around.here()), None)
        }
        resolved => resolved,
    }
}

/// Reads the settings file; none where it does not matter or nothing may hold the call up.
fn read_file(
    given: &Given,
    urgency: Urgency,
    around: &Surroundings,
    io: &mut Io<'_>,
) -> Result<Option<SettingsFile>, Error> {
    let book = |row: &&KeyRow| row.name == BOOK;
    let variable = KEYS.iter().find(book).and_then(|row| around.variable(row.variable?));
    // Where no book is asked for, it needs no place.
    let book_is_named = given.options.contains_key(BOOK) || variable.is_some() || given.leaves_out(BOOK);
    if let (true, Err(why)) = (book_is_named, file::has_a_place(given, around)) {
        io.note(&format!("warning: {why}; no settings file is read"));
        return Ok(None);
    }
    // What only takes a place from it, as the cautions before a hand goes out, is held up by no fault of it.
    let can_do_without = given.leaves_out(BOOK) && given.settings_file.is_none();
    match SettingsFile::read(KEYS, given, around) {
        Ok(file) => Ok(Some(file)),
        Err(error)
            if urgency == Urgency::Watch
                || urgency == Urgency::Reacting && book_is_named
                || can_do_without =>
        {
            io.note(&format!(
                "warning: {}\nwarning: this call goes on without the settings file",
                error.message
            ));
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

/// Says where a book lies that is passed over, and makes the folder of the one that is used by default.
pub fn begun(settings: &Settings, makes_folder: bool, around: &Surroundings, io: &mut Io<'_>) {
    let Some(book) = settings.default_book() else { return };
    let former = around.here().join(FORMER_BOOK);
    if former.exists() {
        let file = settings.file.as_ref().map(|file| file.path.display().to_string()).unwrap_or_default();
        io.note(&format!(
            "note: {FORMER_BOOK} in this folder is not used; the book is {}. To use it: --book {FORMER_BOOK}, or write \
             book = '{}' into the settings file {file}",
            book.display(),
            former.display()
        ));
    }
    if let Some(folder) = book.parent().filter(|folder| makes_folder && !folder.exists())
        && let Err(error) = made_for_its_owner(folder)
    {
        // What needs the book says what it lacks.
        io.note(&format!("warning: cannot make the folder {}: {error}", folder.display()));
    }
}

/// Makes a folder that nobody else reads: names of people stand in the book.
fn made_for_its_owner(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}
