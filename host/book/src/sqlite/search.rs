//! The search for a text in the words of entries, as a function that SQLite calls for each of them.

use memchr::memmem::Finder;
use rusqlite::Connection;
use rusqlite::functions::{Context, FunctionFlags};

use super::super::Problem;

/// Adds `holds(words, text)`: letters a to z match their capitals, others only themselves. What follows a NUL character in the words
/// is not searched, and a text that holds one is found nowhere.
pub(super) fn add_to(connection: &Connection) -> Result<(), Problem> {
    let flags =
        FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC | FunctionFlags::SQLITE_DIRECTONLY;
    Ok(connection.create_scalar_function("holds", 2, flags, holds)?)
}

fn holds(call: &mut Context<'_>) -> rusqlite::Result<bool> {
    // Made once for all words.
    let wanted = call.get_or_create_aux(1, |text| {
        let mut text = text.as_str()?.as_bytes().to_vec();
        text.make_ascii_lowercase();
        Ok::<_, rusqlite::Error>(Finder::new(&text).into_owned())
    })?;
    let mut words = call.get_raw(0).as_str()?.as_bytes().to_vec();
    if let Some(end) = memchr::memchr(0, &words) {
        words.truncate(end);
    }
    words.make_ascii_lowercase();
    Ok(wanted.find(&words).is_some())
}
