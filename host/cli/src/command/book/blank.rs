//! `book blank`: the names of people in an entry go for good.

use super::progress::counted;
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::spoken::spoken;
use crate::written_to::tell_written;
use celltriage_measure::observation::Answer;
use celltriage_workshop::Workshop;
use serde_json::json;

/// Runs `book blank`. Where a person sits at the terminal, that person is asked first: it cannot be undone.
///
/// # Errors
/// An input error where there is nothing to blank, or the person says no; a book error.
pub(super) fn run(
    shop: &mut Workshop<'_>,
    number: u64,
    (because, by): (&str, &str),
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let texts = shop.persons_in(number)?.len();
    if let Some(ask) = io.ask.as_mut().filter(|_| texts > 0) {
        let texts = counted(texts as u64, "text about a person", "texts about persons");
        let question =
            format!("{texts} in entry {number} will be gone for good; it cannot be undone. Blank? [y/n] ");
        if ask(&question).and_then(|line| spoken(&line)) != Some(Answer::Yes) {
            return Err(Error::input("nobody has said yes; nothing was changed"));
        }
    }
    let blanked = shop.blank(number, because, by)?;
    let said = blanked.entry.number;
    if as_json {
        say_json(
            &json!({ "schema": "celltriage.blanked/1", "entry": number, "texts": blanked.texts, "said_in": said }),
            io,
        )?;
    } else {
        let texts = counted(blanked.texts as u64, "text about a person is", "texts about persons are");
        io.say(&format!("entry {number}: {texts} blanked; it cannot be undone"));
    }
    io.note("copies and backups of the book still hold what was blanked, and other entries may hold the same names");
    tell_written(said, shop.book().path(), io);
    Ok(EXIT_DONE)
}
