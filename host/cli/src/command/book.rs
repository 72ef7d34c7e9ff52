//! `book`: read it, verify it, copy it, and note how far it has come.

mod arguments;
mod backup;
mod blank;
mod checkpoint;
mod export;
mod key;
mod list;
mod merge;
mod progress;
mod recompute;
mod rescue;
mod restore;
mod show;
mod verify;

pub use arguments::{BookAction, BookArguments};

use crate::clock_check::{note_copy, open_to_read, open_to_write};
use crate::entry_hint::with_entry_hint;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_book::Book;
use celltriage_custody::PackRules;
use celltriage_custody::cell_name::tag::name_on;
use celltriage_custody::cell_name::typed::Typed;
use celltriage_verdict::Fate;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use std::path::Path;

/// Runs `book`.
///
/// # Errors
/// A book error, or an input error where an entry or a file is not there.
pub fn run(arguments: &BookArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let (path, zone) = (&arguments.book.path, io.zone.clone());
    match &arguments.action {
        // There need be no book yet.
        BookAction::Restore { copy, json } => restore::run(copy, path, *json, io),
        BookAction::Rescue { damaged, to, json } => rescue::run(damaged, to, *json, io),
        BookAction::Key { file, json } => key::run(path, file, *json, io),
        BookAction::Merge { file, json } => {
            is_there(path, io)?;
            let book = merge::opened(path, io)?;
            merge::run(&mut Workshop::new(book, &clock, zone), file, *json, io)
        }
        BookAction::Blank { number, because, by, json } => {
            is_there(path, io)?;
            let book = open_to_write(path, false, io)?;
            blank::run(&mut Workshop::new(book, &clock, zone), (*number).into(), (because, by), *json, io)
        }
        reads => read(reads, &Workshop::new(open_to_read(path, io)?, &clock, zone), io),
    }
}

/// Where there is no book the path is mistyped; opening it to write would begin one.
fn is_there(path: &Path, io: &mut Io<'_>) -> Result<(), Error> {
    note_copy(Book::open_to_read(path)?.copied_to(), io);
    Ok(())
}

/// Does what only reads the book.
fn read(action: &BookAction, shop: &Workshop<'_>, io: &mut Io<'_>) -> Result<u8, Error> {
    match action {
        BookAction::List { fate, most, json } => list::list(shop, (fate.map(Fate::key), *most), *json, io)?,
        BookAction::Find { text, json } => {
            // A tag as scanned stands for its cell; any other text is looked for as it is.
            let text = name_on(text).and_then(Result::ok).unwrap_or(text);
            list::rows(shop, &shop.find(text)?, *json, io)?;
        }
        BookAction::Show { what, rules, json } => {
            let rules = PackRules::new(crate::command::rules::read_packs(rules.as_deref())?);
            match what {
                Typed::Entry(number) => show::show_entry(shop, (*number).into(), &rules, *json, io)?,
                Typed::Cell(cell) => {
                    let story = shop.story(cell, &rules);
                    let story = story
                        .map_err(|fault| with_entry_hint(fault.into(), shop.book(), cell, "book show"))?;
                    show::show_story(&story, *json, io)?;
                }
            }
        }
        BookAction::Recompute { number } => return recompute::recompute(shop, (*number).into(), io),
        BookAction::Export { number, folder } => export::export(shop, (*number).into(), folder, io)?,
        BookAction::Verify { expect, signed_by, kept, json } => {
            let expected = (expect.as_deref(), signed_by.as_deref());
            return verify::run(shop, expected, *kept, *json, io);
        }
        BookAction::Backup { file, check, json } => return backup::run(shop, file, *check, *json, io),
        BookAction::Checkpoint { to, sign, json } => {
            return checkpoint::run(shop, (to.as_deref(), sign.as_deref()), *json, io);
        }
        BookAction::Restore { .. }
        | BookAction::Rescue { .. }
        | BookAction::Key { .. }
        | BookAction::Merge { .. }
        | BookAction::Blank { .. } => {}
    }
    Ok(EXIT_DONE)
}
