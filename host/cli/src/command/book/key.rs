//! `book key`: a key that signs checkpoints.

use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_workshop::key_file::new_key;
use serde_json::json;
use std::path::Path;

/// Runs `book key`: the secret half goes into the file, the public one to standard output.
///
/// # Errors
/// An input error where the file is there, lies beside the book, or cannot be written.
pub(super) fn run(book: &Path, file: &Path, as_json: bool, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut random = [0_u8; 32];
    getrandom::fill(&mut random)
        .map_err(|error| Error::input(format!("this system gives no random numbers: {error}")))?;
    let public = new_key(book, file, random)?;
    if as_json {
        say_json(
            &json!({ "schema": "celltriage.key/1", "file": file, "public_key": public.to_string() }),
            io,
        )?;
    } else {
        io.say(&public.to_string());
    }
    io.note(&format!(
        "the secret key is in {}: whoever has that file can sign. Keep it where nobody who can write the book can read it; \
         there is no second one",
        file.display()
    ));
    io.note(&format!(
        "note the public key elsewhere too; it checks the signatures: `celltriage book verify --expect FILE --signed-by {public}`"
    ));
    Ok(EXIT_DONE)
}
